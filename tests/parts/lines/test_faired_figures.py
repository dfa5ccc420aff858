"""The table after fairing: what was corrected, and a table that reads back with nothing odd."""

import pytest
from known_hulls import dory, double_ender, table_of
from lines_tables import WITHY

from nesting.units import MM_PER_INCH, Unit, parse_length
from parts.lines import hull_of, read_hull, read_table
from parts.lines.faired_figures import corrections, faired_figures, faired_table

WRONG = WITHY.read_text().replace("3-3-3,   3-5-3,  3-5-3+,", "3-5-3,   3-5-3,  3-5-3+,", 1)


@pytest.fixture(scope="module")
def wrong(tmp_path_factory):
    """Return Withy with the waterline at 3 ft 2 inches too wide at station 6."""
    path = tmp_path_factory.mktemp("loft") / "wrong.csv"
    path.write_text(WRONG)
    assert WITHY.read_text() != WRONG
    return read_hull(path)


def test_odd_figure_is_named_and_is_no_correction(wrong):
    (odd,) = wrong.odd
    assert (odd.station, odd.line, odd.written) == ("6", "waterline 3-0-0", "3-5-3")
    rows = {one.station.name: one for one in corrections(faired_figures(wrong))}
    assert [name for name, one in rows.items() if one.odd] == ["6"]
    for one in rows.values():
        assert one.middling_mm <= one.largest.corrected_mm < MM_PER_INCH / 8
    assert sum(one.count for one in rows.values()) == len(faired_figures(wrong))


def test_faired_table_reads_back_in_its_own_words_with_nothing_odd(wrong, tmp_path):
    path = tmp_path / "faired.csv"
    path.write_text(faired_table(wrong, faired_figures(wrong)))
    again = read_hull(path)
    assert again.odd == ()
    assert [line.title for line in again.table.lines] == [line.title for line in wrong.table.lines]
    for one, other in zip(wrong.table.lines, again.table.lines, strict=True):
        for before, after in zip(one.offsets, other.offsets, strict=True):
            assert (before is None) == (after is None)
            # In sixteenths, as the table is.
            assert after is None or after.mm / MM_PER_INCH * 16 % 1 == pytest.approx(0, abs=1e-9)
    line = next(line for line in again.table.lines if line.name == "waterline 3-0-0")
    assert line.offsets[6].mm == pytest.approx(parse_length("3-3-3"), abs=MM_PER_INCH / 8)
    assert again.table.stem == wrong.table.stem
    assert again.table.transom == wrong.table.transom


def as_yaml(table):
    """Return a table of waterlines and edges as YAML, bare millimetres."""
    lines = ["name: Example", "unit: mm", "station: " + str([s.name for s in table.stations])]
    lines.append("from forward: " + str([s.x_mm for s in table.stations]))
    for key in ("stem", "stern"):
        points = getattr(table, key)
        if points:
            lines.append(f"{key}: {[[x, z] for x, z in points]}")
    for heading, measure in (("heights", "height"), ("half-breadths", "half-breadth")):
        rows = [line for line in table.lines if line.measure.value == measure]
        lines.append(f"{heading}:")
        for line in rows:
            texts = ["'-'" if one is None else f"{one.mm:.0f}" for one in line.offsets]
            lines.append(f"  {line.name}: [{', '.join(texts)}]")
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize("kind", [double_ender, dory], ids=["double-ender", "dory"])
def test_yaml_table_comes_out_as_csv_and_reads_back(kind, tmp_path):
    path = tmp_path / "table.yaml"
    path.write_text(as_yaml(table_of(kind(), unit=Unit.MM)))
    hull = read_hull(path)
    out = tmp_path / "faired.csv"
    out.write_text(faired_table(hull, faired_figures(hull)))
    again = read_table(out)
    assert again.unit is Unit.MM
    assert again.stem == hull.table.stem
    assert hull_of(again).odd == ()
    moved = [
        abs(a.mm - b.mm)
        for one, other in zip(hull.table.lines, again.lines, strict=True)
        for a, b in zip(one.offsets, other.offsets, strict=True)
        if a is not None
    ]
    assert max(moved) < 8.0
