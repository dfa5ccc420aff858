"""A station whose figures stand a row too far down or up is told as one."""

from dataclasses import replace

import pytest
from known_hulls import full_round, single_chine, table_of

from parts.lines import hull_of
from parts.lines.suppositions import column_shifted
from parts.lines.table import LineKind


def shifted(table, station, step):
    """Return a table with a station's figures of its waterlines so many rows lower."""
    rows = [n for n, line in enumerate(table.lines) if line.kind is LineKind.WATERLINE]
    given = [table.lines[n].offsets[station] for n in rows]
    moved = [None, *given[:-1]] if step > 0 else [*given[1:], None]
    lines = list(table.lines)
    for number, offset in zip(rows, moved, strict=True):
        offsets = list(lines[number].offsets)
        offsets[station] = offset
        lines[number] = replace(lines[number], offsets=tuple(offsets))
    return replace(table, lines=tuple(lines))


@pytest.mark.parametrize(
    ("make", "station", "step", "told"),
    [
        (full_round, 4, 1, "a row too far down: each probably belongs to the waterline in the row"),
        (single_chine, 7, -1, "a row too far up: each probably belongs to the waterline in the ro"),
    ],
    ids=["down", "up"],
)
def test_figures_of_a_station_a_row_off_are_told_as_one(make, station, step, told):
    hull = hull_of(shifted(table_of(make()), station, step))
    whole = hull.fairing.whole
    assert whole is not None and told in whole.text
    assert whole.text.startswith(f"station {station}:")
    assert not hull.odd


def test_put_back_a_row_the_column_is_as_it_was():
    right = table_of(full_round())
    back = column_shifted(shifted(right, 5, 1), 5, LineKind.WATERLINE, 1)
    rows = [n for n, line in enumerate(right.lines) if line.kind is LineKind.WATERLINE]
    read = [back.table.lines[n].offsets[5] for n in rows]
    # The lowest row's figure of the right table went off its end.
    assert read[:-1] == [right.lines[n].offsets[5] for n in rows[:-1]]
    assert back.holds((rows[0], 5)) and not back.holds((rows[0], 4))
