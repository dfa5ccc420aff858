"""A line, label or station that is wrong as a whole is told as one, and nothing right beside it."""

import dataclasses

import numpy as np
import pytest
from hull_measures import errors
from known_hulls import (
    changed,
    double_ender,
    full_round,
    noisy,
    offset,
    punt,
    reverse_sheer,
    single_chine,
    table_of,
    tumblehome,
    v_bow,
    wineglass,
)

from nesting.units import Unit
from parts.lines import hull_of, read_hull
from parts.lines.faired_edges import edges_of
from parts.lines.faired_figures import corrections, faired_figures
from parts.lines.from_aft import from_aft_notes
from parts.lines.hull_points import cloud_of
from parts.lines.judging import judged
from parts.lines.moved_together import moved_together
from parts.lines.promising import _is_taken
from parts.lines.reading import Reading
from parts.lines.suppositions import (
    halved,
    line_at,
    row_shifted,
    rows_exchanged,
    should_be,
    station_at,
    stations_exchanged,
)
from parts.lines.table import LineKind, Measure


def numbers_of(table, kind):
    return [n for n, line in enumerate(table.lines) if line.kind is kind]


def with_line(table, number, line):
    lines = list(table.lines)
    lines[number] = line
    return dataclasses.replace(table, lines=tuple(lines))


def labelled(table, number, mm):
    """Return a table with a waterline or buttock under another label."""
    line = line_at(table.lines[number], mm)
    return with_line(table, number, dataclasses.replace(line, name=f"{line.kind} {mm:g}"))


def doubled(table, number):
    """Return a table with a line given as full breadths."""
    line = table.lines[number]
    offsets = tuple(
        one and offset(2 * one.mm, table.unit, (one.line, one.column)) for one in line.offsets
    )
    return with_line(table, number, dataclasses.replace(line, offsets=offsets))


def told(table, known=None):
    """Return what is said of a wrong table as a whole; no single figure is named beside it."""
    hull = hull_of(table)
    assert not hull.odd
    [finding] = hull.whole
    if known is not None:
        assert errors(hull, known).worst < 4.0
    return finding.message


@pytest.mark.parametrize("make", [double_ender, full_round, v_bow])
def test_a_waterline_under_another_label_is_told_its_own(make):
    known = make()
    table = table_of(known)
    number = numbers_of(table, LineKind.WATERLINE)[3]
    true = table.lines[number].origin[1]
    said = told(labelled(table, number, true + 100.0), known)
    assert said.startswith(f"waterline {true + 100:g}: its figures are those of a waterline at")
    assert said.endswith(f"the label probably should read {true:g}")


@pytest.mark.parametrize("make", [double_ender, wineglass])
def test_a_label_off_by_little_is_told_though_no_figure_looks_odd(make):
    known = make()
    table = table_of(known, diagonals=0)
    number = numbers_of(table, LineKind.WATERLINE)[3]
    true = table.lines[number].origin[1]
    said = told(labelled(table, number, true + 50.0), known)
    assert said.endswith(f"the label probably should read {true:g}")


def test_a_label_off_by_a_hand_that_few_lines_cross_is_told():
    table = table_of(double_ender(), diagonals=0)
    number = next(n for n, line in enumerate(table.lines) if line.name == "waterline 700")
    assert told(labelled(table, number, 950.0)).endswith("the label probably should read 700")


@pytest.mark.parametrize("kind", [LineKind.SHEER, LineKind.RABBET])
def test_an_edge_given_as_full_breadths_is_told(kind):
    known = v_bow()
    table = table_of(known)
    number = numbers_of(table, kind)[1]
    said = told(doubled(table, number), known)
    assert said.startswith(f"{kind} half-breadth: its figures are full breadths")


@pytest.mark.parametrize("make", [double_ender, wineglass, single_chine])
def test_what_an_exact_table_gains_by_moving_figures_is_no_verdict(make):
    hull = hull_of(table_of(make()))
    assert hull.whole == ()


def test_moving_a_line_gains_what_its_table_does_with_the_label_moved():
    """Against the same function through the figures as they would stand."""
    table = table_of(double_ender())
    number = numbers_of(table, LineKind.WATERLINE)[3]
    true = table.lines[number].origin[1]
    found = judged(labelled(table, number, true + 5.0))
    [moved] = [one for one in moved_together(found) if one.line == number]
    assert moved.by_mm == pytest.approx(-5.0, abs=1.0)
    [fit] = found.by_diagonals
    turned = cloud_of(Reading(labelled(table, number, true)), fit.cloud.panel)
    laid = fit.way.lay(*turned.points[fit.used].T)
    function = dataclasses.replace(fit.function, places=laid.places, figures=laid.figures)
    assert moved.gain == pytest.approx(fit.function.misfit() - function.misfit(), rel=0.2)


def test_a_table_from_aft_is_asked_about():
    table = table_of(reverse_sheer(), stations=11)
    closed = with_sharp_end(from_aft(table))
    [note] = [str(note) for note in hull_of(closed).notes if "from aft" in str(note)]
    assert "station 10 is broad and station 0 sharp" in note
    assert not any("from aft" in str(note) for note in hull_of(table).notes)


def from_aft(table):
    """Return a table measured from aft, without what tells which end is which."""
    last = float(table.x[-1])
    stations = [dataclasses.replace(one, x_mm=last - one.x_mm) for one in reversed(table.stations)]
    lines = [dataclasses.replace(line, offsets=line.offsets[::-1]) for line in table.lines]
    return dataclasses.replace(table, stations=tuple(stations), lines=tuple(lines), stem=())


@pytest.mark.parametrize("make", [reverse_sheer, v_bow, wineglass])
def test_a_table_from_aft_whose_stations_end_short_of_the_stem_is_asked_about(make):
    table = table_of(make())
    turned, bare = from_aft(table), dataclasses.replace(table, stem=())
    [note] = from_aft_notes(turned, edges_of(turned))
    assert "station 10 is broad and station 0 sharp" in note.message
    assert list(from_aft_notes(bare, edges_of(bare))) == []


@pytest.mark.parametrize("make", [punt, double_ender])
def test_ends_that_are_alike_are_not_asked_about(make):
    table = dataclasses.replace(table_of(make()), stem=(), stern=())
    for one in (table, from_aft(table)):
        assert list(from_aft_notes(one, edges_of(one))) == []


@pytest.mark.parametrize("mm", [-60.0, 60.0])
def test_edges_say_too_where_a_station_stands(mm):
    table = table_of(v_bow(), stations=13, waterlines=3, buttocks=1, diagonals=0)
    stations = list(table.stations)
    stations[5] = dataclasses.replace(stations[5], x_mm=stations[5].x_mm + mm)
    found = judged(dataclasses.replace(table, stations=tuple(stations)))
    [whole] = [one for one in moved_together(found) if one.station == 5]
    flat = dataclasses.replace(found, edges=dataclasses.replace(found.edges, **flattened(found)))
    [by_surface] = [one for one in moved_together(flat) if one.station == 5]
    assert whole.by_mm == pytest.approx(-mm, abs=20.0)
    assert whole.gain > by_surface.gain + 2.0


def test_no_station_is_put_where_another_stands_or_a_point_of_the_stem():
    table = table_of(double_ender())
    for mm in (table.x[3] + 1.0, table.stem[2][0] - 1.0, table.stern[1][0]):
        assert _is_taken(table, 4, float(mm))
    assert not _is_taken(table, 4, float(table.x[4]))


def flattened(found):
    """Return sheer and rabbet of a table, level: their own lines say nothing of a station."""

    def level(row):
        return dataclasses.replace(row, values=0 * row.values)

    edges = {"sheer": found.edges.sheer, "rabbet": found.edges.rabbet}
    return {
        name: dataclasses.replace(edge, half=level(edge.half), height=level(edge.height))
        for name, edge in edges.items()
    }


def with_sharp_end(table):
    """Return a table whose last station's breadths are the rabbet's."""
    end = len(table.stations) - 1
    lines = []
    for line in table.lines:
        offsets = list(line.offsets)
        if offsets[end] is not None and line.measure is Measure.HALF_BREADTH:
            offsets[end] = offset(25.0, table.unit)
        elif line.kind in (LineKind.BUTTOCK, LineKind.DIAGONAL):
            offsets[end] = None
        lines.append(dataclasses.replace(line, offsets=tuple(offsets)))
    return dataclasses.replace(table, lines=tuple(lines))


def test_a_buttock_under_another_label_is_told_its_own():
    known = wineglass()
    table = table_of(known)
    number = numbers_of(table, LineKind.BUTTOCK)[0]
    true = table.lines[number].origin[0]
    said = told(labelled(table, number, true + 60.0), known)
    assert said.endswith(f"the label probably should read {true:g}")


def test_a_waterline_labelled_above_the_sheer_is_told_its_own():
    known = double_ender()
    table = table_of(known)
    number = numbers_of(table, LineKind.WATERLINE)[2]
    said = told(labelled(table, number, 1700.0), known)
    assert said.endswith("the label probably should read 700")


def test_full_breadths_are_told():
    known = tumblehome()
    table = table_of(known)
    number = numbers_of(table, LineKind.WATERLINE)[4]
    said = told(doubled(table, number), known)
    first = table.lines[number].offsets[0]
    assert "its figures are full breadths" in said
    assert f"half, {first.written} for {offset(2 * first.mm, table.unit).written} at st" in said


def test_rows_exchanged_are_told_and_a_row_a_station_aft():
    known = v_bow()
    table = table_of(known)
    one, other = numbers_of(table, LineKind.WATERLINE)[3:5]
    said = told(rows_exchanged(table, one, other).table, known)
    names = table.lines[one].name, table.lines[other].name
    assert said.startswith(f"{names[0]} and {names[1]}: the figures of each are those of the other")
    said = told(row_shifted(table, one, -1).table, known)
    assert said.startswith(f"{names[0]}: its figures stand a station too far aft")


@pytest.mark.parametrize("pair", [(3, 7), (4, 5)])
def test_stations_exchanged_are_told(pair):
    known = v_bow()
    said = told(stations_exchanged(table_of(known), *pair).table, known)
    assert said.startswith(
        f"stations {pair[0]} and {pair[1]}: the figures of each are those of the"
    )


def test_a_station_far_from_its_place_is_told_where_it_stands():
    known = v_bow()
    table = table_of(known)
    stations = list(table.stations)
    true = round(stations[3].x_mm)
    stations[3] = dataclasses.replace(stations[3], x_mm=true + 300.0, written=f"{true + 300}")
    said = told(dataclasses.replace(table, stations=tuple(stations)))
    assert said.startswith("station 3: it stands about")
    assert "aft of where its figures belong" in said
    assert float(said.split()[-1]) == pytest.approx(true, abs=10.0)


def test_a_line_that_nothing_explains_is_told_and_left_out():
    known = double_ender()
    table = table_of(known)
    number = numbers_of(table, LineKind.WATERLINE)[3]
    rng = np.random.default_rng(3)
    given = [n for n, one in enumerate(table.lines[number].offsets) if one is not None]
    wrong = changed(table, {(number, n): float(rng.uniform(60, 250)) for n in given})
    said = told(wrong, known)
    assert said.startswith(f"{table.lines[number].name}: the line as a whole lies off the hull")


def test_figures_of_what_is_wrong_as_a_whole_are_no_corrections():
    table = table_of(double_ender())
    number = numbers_of(table, LineKind.WATERLINE)[3]
    hull = hull_of(doubled(table, number))
    figures = faired_figures(hull)
    assert {one.row for one in figures if one.is_odd} == {number}
    assert max(one.largest.corrected_mm for one in corrections(figures)) < 3.2
    assert hull.table.lines[number] is not hull.fairing.read.lines[number]


def test_what_is_wrong_as_a_whole_has_its_place_in_the_file(tmp_path):
    table = labelled(table_of(double_ender()), 7, 950.0)
    path = tmp_path / "lines.csv"
    path.write_text(as_csv(table))
    [finding] = read_hull(path).whole
    line = next(n for n, text in enumerate(path.read_text().splitlines(), 1) if "950" in text)
    assert (finding.file, finding.line, finding.column) == (str(path), line, 1)


def as_csv(table):
    """Return a table in millimetres as its file has it."""
    rows = [["unit", "mm"], ["station", *(station.name for station in table.stations)]]
    rows.append(["from forward", *(f"{station.x_mm:g}" for station in table.stations)])
    for key in ("stem", "stern"):
        rows.append([key, *(f"{x:g} {z:g}" for x, z in getattr(table, key))])
    for heading, measure in (("heights", "height"), ("half-breadths", "half-breadth")):
        rows.append([heading])
        for line in table.lines:
            if line.measure == measure:
                rows.append([line.name, *(one.written if one else "-" for one in line.offsets)])
    return "\n".join(", ".join(row) for row in rows)


@pytest.mark.parametrize("make", [double_ender, wineglass, single_chine])
def test_a_noisy_table_is_not_wrong_as_a_whole(make):
    for seed in range(2):
        hull = hull_of(noisy(table_of(make()), np.random.default_rng(seed), 3.0))
        assert hull.whole == ()


def test_three_single_errors_of_one_line_are_named_singly():
    table = table_of(full_round())
    number = numbers_of(table, LineKind.WATERLINE)[3]
    hull = hull_of(
        changed(table, {(number, n): mm for n, mm in ((2, 60.0), (5, -80.0), (8, 70.0))})
    )
    assert hull.whole == ()
    assert [odd.station for odd in hull.odd] == ["2", "5", "8"]


def test_what_is_kept_as_it_stands_is_told_all_the_same():
    table = table_of(double_ender())
    number = numbers_of(table, LineKind.WATERLINE)[3]
    hull = hull_of(dataclasses.replace(doubled(table, number), keeps_odd=True))
    assert "its figures are full breadths" in hull.whole[0].message
    assert hull.fairing.read.lines[number].offsets[5].mm == 2 * table.lines[number].offsets[5].mm


@pytest.mark.parametrize(
    ("written", "mm", "unit", "text"),
    [
        ("4-3-3", 1000.5, Unit.FOOT, "3-3-3"),
        ("650", 600.3, Unit.MM, "600"),
        ("540", 450.8, Unit.MM, "450"),
        ("600", 549.1, Unit.MM, "550"),
        ("600", 546.0, Unit.MM, "546"),
        ("2-0-0", 458.0, Unit.FOOT, "1-6-0"),
    ],
)
def test_a_label_reads_as_written_but_for_a_digit_or_round(written, mm, unit, text):
    assert should_be(written, mm, unit)[0] == text


def test_halves_are_of_the_figures_as_they_stand():
    table = table_of(double_ender())
    made = halved(table, 6)
    for one, half in zip(table.lines[6].offsets, made.table.lines[6].offsets, strict=True):
        assert (half.mm if half else None) == (one.mm / 2 if one else None)


def test_a_station_is_not_supposed_to_stand_where_its_neighbour_does():
    """A slip of the pen made it so, and no line can be drawn through both: it ended in a fault."""
    table = table_of(double_ender())
    beside = table.stations[5].x_mm
    assert station_at(table, 6, beside + 100.0).runs_aft
    assert not station_at(table, 6, beside).runs_aft
