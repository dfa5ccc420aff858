import dataclasses

import numpy as np
import pytest
from lines_tables import (
    BREADTH,
    WITHY,
    box_table,
    double_ender_table,
    series_60,
    waterline_table,
    wedge_table,
    wigley,
    wigley_table,
)
from threadpoolctl import threadpool_info

from nesting.errors import ShapeError
from parts.lines import fairing, hull_of, read_hull, read_table
from parts.lines.table import LineKind, Measure, measured

EIGHTH_MM = 25.4 / 8


def with_errors(table, errors_mm):
    """Return a table with figures changed; keys are (station name, line title)."""
    names = [station.name for station in table.stations]
    lines = []
    for line in table.lines:
        offsets = list(line.offsets)
        for (station, title), error in errors_mm.items():
            if title == line.title:
                old = offsets[names.index(station)]
                offsets[names.index(station)] = dataclasses.replace(old, mm=old.mm + error)
        lines.append(dataclasses.replace(line, offsets=tuple(offsets)))
    return dataclasses.replace(table, lines=tuple(lines))


def named(hull):
    return {(odd.station, odd.line) for odd in hull.odd}


@pytest.fixture(scope="module")
def withy_table():
    return read_table(WITHY)


@pytest.mark.parametrize(
    "table",
    [wigley_table(), box_table(), wedge_table(), double_ender_table(), series_60()],
    ids=["wigley", "box", "wedge", "double-ender", "series-60"],
)
def test_a_fair_hull_raises_no_alarm(table):
    assert hull_of(table).odd == ()


def test_the_demo_table_raises_no_alarm():
    hull = read_hull(WITHY)
    assert hull.odd == ()
    assert hull.fairing.tolerance_mm < 0.5


def test_fairing_gives_back_the_threads_that_it_did_without(monkeypatch):
    def threads():
        return [pool["num_threads"] for pool in threadpool_info() if pool["user_api"] == "blas"]

    during, compared = [], fairing._compared
    monkeypatch.setattr(
        fairing, "_compared", lambda *given: during.extend(threads()) or compared(*given)
    )
    before = threads()
    hull_of(wedge_table())
    assert threads() == before
    assert set(during) == {1}


def test_the_same_file_is_faired_once():
    assert read_hull(WITHY) is read_hull(WITHY)


def test_three_typing_errors_are_named_and_nothing_else(tmp_path):
    """As they are made: a digit too many, one doubled from beside, two turned about."""
    text = WITHY.read_text(encoding="utf-8")
    for old, new in (
        ("2-0-1,  2-3-7+,  2-5-6+", "2-0-1,  2-3-7+,  2-7-6+"),  # waterline 2-0-0, station 7
        ("1-9-1,   1-8-0,  1-8-4+", "1-9-1,   1-8-0,  1-4-4+"),  # buttock 2-0-0, station 8
        ("2-2-6+,   2-6-4", "2-2-6+,   2-4-6"),  # diagonal A, station 5
    ):
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / "withy.csv"
    path.write_text(text, encoding="utf-8")
    found = read_hull(path).odd
    assert [(odd.station, odd.line, odd.written) for odd in found] == [
        ("5", "diagonal A", "2-4-6"),
        ("7", "waterline 2-0-0", "2-7-6+"),
        ("8", "buttock 2-0-0", "1-4-4+"),
    ]
    right = [30.5, 29.8125, 20.5625]
    assert [odd.fair_mm / 25.4 for odd in found] == pytest.approx(right, abs=1 / 16)
    assert str(found[1]).startswith(f"{path}:28:9: station 7, waterline 2-0-0: 2-7-6+ is 0-2-0 mor")
    # 2-5-6+ less or more the sixteenth that is asked for above
    assert str(found[1]).endswith((" read 2-5-6", " read 2-5-6+", " read 2-5-7"))


@pytest.mark.parametrize("seed", range(2))
def test_three_errors_of_an_inch_anywhere_amidships_are_all_found(withy_table, seed):
    rng = np.random.default_rng(seed)
    cells = [
        (station.name, line.title)
        for line in withy_table.lines
        for n, station in enumerate(withy_table.stations)
        if line.offsets[n] is not None and 2 <= n <= 11 and line.kind is not LineKind.RABBET
    ]
    picked = [cells[k] for k in rng.choice(len(cells), 3, replace=False)]
    errors = {cell: 25.4 * float(rng.choice([-1, 1])) for cell in picked}
    assert named(hull_of(with_errors(withy_table, errors))) == set(picked)


@pytest.mark.parametrize(
    "cell",
    [
        ("7", "sheer half-breadth"),
        ("5", "sheer height"),
        ("8", "rabbet height"),
        ("1/2", "waterline 4-0-0"),
        ("13", "waterline 3-6-0"),
    ],
    ids=lambda cell: " ".join(cell),
)
def test_an_error_at_an_edge_or_an_end_is_found(withy_table, cell):
    assert named(hull_of(with_errors(withy_table, {cell: 30.0}))) == {cell}


def test_half_an_inch_is_found_in_the_wigley_form_and_put_right():
    table = with_errors(wigley_table(), {("6", "waterline 300"): 12.7})
    [odd] = hull_of(table).odd
    assert (odd.station, odd.line) == ("6", "waterline 300")
    assert odd.fair_mm == pytest.approx(wigley(1800.0, 300.0), abs=0.5)


def test_the_fair_hull_passes_every_sound_figure_within_an_eighth(withy_table):
    hull = hull_of(with_errors(withy_table, {("6", "waterline 2-6-0"): 50.0}))
    for n, station in enumerate(withy_table.stations):
        section = hull.section(station.x_mm, withy_table.face)
        for line in withy_table.of_kind(LineKind.WATERLINE):
            if line.offsets[n] is not None:
                assert measured(section, line) == pytest.approx(line.offsets[n].mm, abs=EIGHTH_MM)


def test_an_error_does_not_pull_the_hull_along(withy_table):
    sound = read_hull(WITHY)
    wrong = hull_of(with_errors(withy_table, {("6", "waterline 2-6-0"): 150.0}))
    x = withy_table.stations[6].x_mm
    for z in (500.0, 762.0, 1000.0):
        assert wrong.half_breadth(x, z) == pytest.approx(sound.half_breadth(x, z), abs=1.0)


def test_missing_figures_are_filled_in():
    table = wigley_table()
    lines = [
        dataclasses.replace(
            line, offsets=tuple(None if (n + k) % 4 == 0 else o for n, o in enumerate(line.offsets))
        )
        if 0 < k < len(table.lines) - 1
        else line
        for k, line in enumerate(table.lines)
    ]
    hull = hull_of(dataclasses.replace(table, lines=tuple(lines)))
    assert hull.odd == ()
    assert hull.half_breadth(2000.0, 250.0) == pytest.approx(wigley(2000.0, 250.0), abs=1.5)


def test_heights_on_buttocks_alone_make_the_same_hull():
    from lines_tables import cells

    from parts.lines.table import Line, buttock

    table = wigley_table()
    x = table.x
    sheer = Line(LineKind.SHEER, "sheer", Measure.HEIGHT, cells(np.full(len(x), 600.0)))
    half = Line(
        LineKind.SHEER, "sheer", Measure.HALF_BREADTH, cells(wigley(x, np.full(len(x), 600.0)))
    )
    rabbet = Line(LineKind.RABBET, "rabbet", Measure.HEIGHT, cells(np.zeros(len(x))))
    rows = []
    for y in np.linspace(75, 675, 9):
        top = BREADTH / 2 * (1 - (2 * x / 6000 - 1) ** 2)
        with np.errstate(divide="ignore", invalid="ignore"):
            z = 600 - 600 * np.sqrt(1 - y / top)
        offsets = [None if not np.isfinite(v) else cells([v])[0] for v in z]
        rows.append(buttock(f"buttock {y:g}", float(y), tuple(offsets)))
    hull = hull_of(dataclasses.replace(table, lines=(sheer, half, rabbet, *rows)))
    assert hull.odd == ()
    assert hull.half_breadth(2400.0, 300.0) == pytest.approx(wigley(2400.0, 300.0), abs=1.5)


def test_a_table_too_small_says_what_it_lacks():
    with pytest.raises(ShapeError, match="figures make no surface"):
        hull_of(waterline_table([0.0, 500.0], [0.0, 300.0], np.array([[10.0, 50.0], [10.0, 90.0]])))


def test_a_table_without_edges_says_so():
    table = wigley_table()
    with pytest.raises(ShapeError, match="there is no sheer, and no two waterlines"):
        hull_of(dataclasses.replace(table, lines=table.lines[:1]))


def test_a_stem_that_turns_back_is_refused(withy_table):
    points = list(withy_table.stem)
    points[2] = (points[2][0] + 100.0, points[2][1])
    with pytest.raises(ShapeError, match="turns back on itself"):
        hull_of(dataclasses.replace(withy_table, stem=tuple(points)))
