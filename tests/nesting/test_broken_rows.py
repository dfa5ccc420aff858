"""A row of fastenings with one odd place is told; a row that only wanders, or is patchy, is not."""

import numpy as np
import pytest
import shapely

from nesting.project import read_project
from nesting.remarks import remarks
from nesting.remarks.broken_rows import broken_in, broken_rows
from nesting.stock.board import Board
from nesting.stock.keep_out import circle, slot
from nesting.units import Unit


def board(places, others=()):
    holes = [circle("hole", float(x), float(y), 6) for x, y in places]
    return Board("A", shapely.box(0, 0, 2400, 120), 30, "teak", keep_outs=(*holes, *others))


def even(count=8, step=280.0, y=25.0, wander=0.0, seed=1):
    chance = np.random.default_rng(seed)
    return [
        (100 + step * i + chance.normal(0, wander), y + chance.normal(0, wander / 2))
        for i in range(count)
    ]


def told(places, others=()):
    return broken_in(board(places, others), Unit.MM)


def test_a_whole_row_says_nothing():
    assert not told(even(wander=6))
    assert not told([*even(wander=5), *even(y=95, wander=5, seed=2)])


@pytest.mark.parametrize("gone", [1, 3, 6])
def test_one_missing_is_told_with_its_place(gone):
    row = even(wander=4)
    place = row.pop(gone)
    (text,) = told([*row, *even(y=95, wander=4, seed=3)])
    assert "none is recorded" in text
    shown = float(text.split("recorded ")[1].split(" mm")[0])
    assert shown == pytest.approx(place[0], abs=15)


def test_one_out_of_its_place_along_the_row():
    row = even(wander=3)
    row[4] = (row[4][0] + 100, row[4][1])
    (text,) = told(row)
    assert "was to be expected" in text


def test_one_aside_of_the_row():
    row = even(wander=3)
    row[4] = (row[4][0], row[4][1] + 30)
    (text,) = told(row)
    assert "aside" in text


def test_one_too_many():
    (text,) = told([*even(wander=3), (100 + 280 * 2.5, 25)])
    assert "one more stands" in text


def test_two_missing_are_no_pattern_broken_by_one():
    row = even(10, 220)
    assert not told([place for i, place in enumerate(row) if i not in (2, 6)])


def test_a_hole_never_looked_for_under_what_is_recorded():
    row = even()
    place = row.pop(3)
    split = slot("split", (place[0] - 40, place[1]), (place[0] + 40, place[1]), 10)
    assert not told(row, [split])


def without(row, gone):
    return [place for number, place in enumerate(row) if number != gone]


@pytest.mark.parametrize(("count", "is_told"), [(5, False), (6, True), (7, True)])
def test_of_five_places_that_keep_to_a_spacing_a_missing_one_is_told_of_four_none(count, is_told):
    assert len(told(without(even(count), 2))) == is_told


@pytest.mark.parametrize(
    ("step", "is_told"), [(38, False), (42, True), (330, True), (890, True), (910, False)]
)
def test_rows_closer_or_wider_than_fastenings_come_are_no_rows(step, is_told):
    places = without(even(7, step), 3)
    long = shapely.box(0, 0, 7 * 910 + 200, 120)
    holes = tuple(circle("hole", x, y, 6) for x, y in places)
    found = broken_in(Board("A", long, 30, "teak", keep_outs=holes), Unit.MM)
    assert len(found) == is_told


@pytest.mark.parametrize(
    ("along", "is_told"), [(0, False), (40, False), (60, True), (-60, True), (200, True)]
)
def test_a_place_is_odd_that_is_off_by_more_than_a_careless_hand(along, is_told):
    """Of a spacing of 280 mm a tenth is let pass in a row, and 50 of the one that is odd."""
    row = even()
    row[4] = (row[4][0] + along, row[4][1])
    assert len(told(row)) == is_told


@pytest.mark.parametrize(
    ("aside", "said"), [(6, None), (13, None), (16, "stands 16 mm aside"), (60, "stands 60 mm")]
)
def test_a_place_is_aside_that_is_off_the_line_by_more_than_a_careless_hand(aside, said):
    row = even()
    row[4] = (row[4][0], row[4][1] + aside)
    found = told(row)
    assert (not found) if said is None else (said in found[0])


def test_a_place_far_aside_is_another_fastening_and_one_is_missing():
    row = even()
    row[4] = (row[4][0], row[4][1] + 90)
    (text,) = told(row)
    assert "none is recorded 1220 mm from the left end" in text


def test_two_rows_with_one_missing_each_are_told_each_and_in_one_way_from_either_end():
    low, high = without(even(), 2), without(even(y=95), 5)
    found = told([*low, *high])
    assert sorted(text.split("recorded ")[1].split(" from")[0] for text in found) == [
        "1500 mm",
        "660 mm",
    ]
    assert sorted(told([*reversed(high), *reversed(low)])) == sorted(found)


def test_none_is_missing_where_there_is_no_wood_or_hardly_any():
    """A row along a hollow edge: where the next would stand the board is cut away."""
    places = without(even(), 3)
    holes = tuple(circle("hole", x, y, 6) for x, y in places)
    x, _ = even()[3]
    for deep, is_told in ((60, False), (22, False), (10, True)):
        hollow = shapely.box(0, 0, 2400, 120) - shapely.box(x - 20, -1, x + 20, deep)
        found = broken_in(Board("A", hollow, 30, "teak", keep_outs=holes), Unit.MM)
        assert len(found) == is_told


@pytest.mark.parametrize("seed", range(12))
def test_holes_without_order_say_nothing(seed):
    chance = np.random.default_rng(seed)
    assert not told(
        list(zip(chance.uniform(50, 2350, 24), chance.uniform(15, 105, 24), strict=True))
    )


PROJECT = """version: 1
name: try
unit: in
stock:
  - board: A
    species: teak
    length: 96
    width: 5
    thickness: 1
    keep_outs:
      - {kind: hole, diameter: 1/4,
         places: [[4, 1], [16, 1], [28, 1], [52, 1], [64, 1], [76, 1], [88, 1]]}  # noqa: E501
  - board: B
    species: teak
    length: 96
    width: 5
    thickness: 1
    holes: '1/4 every 12 from 4, 1 from each edge, not the 4th'
parts: [{part: seat, family: plank, species: teak, shape: {length: 10, width: 3, thickness: 3/4}}]
"""


def test_remark_has_its_place_and_rows_given_by_spacing_are_left_alone(tmp_path):
    path = tmp_path / "project.yaml"
    path.write_text(PROJECT)
    project = read_project(path)
    (finding,) = broken_rows(project)
    assert finding.line == 11
    assert "7 fastenings in a row stand" in finding.message and "40 in" in finding.message
    assert finding in remarks(project)


LISTED = "[4, 16, 28, 52, 64, 76, 88]"


@pytest.mark.parametrize(
    ("given", "line"),
    [
        ("holes: '1/4 at 4, 16, 28, 52, 64, 76 and 88, 1 up'", 10),
        ("rot: 90 to 95, across\n    metal: '1/4 at 4, 16, 28, 52, 64, 76, 88, 1 up'", 11),
        (
            f"keep_outs: [{{kind: hole, diameter: 1/4, crossings: {{at: {LISTED}, insets: [1]}}}}]",
            10,
        ),
    ],
)
def test_places_in_one_list_are_written_down_one_by_one(tmp_path, given, line):
    path = tmp_path / "project.yaml"
    head, _ = PROJECT.split("    keep_outs:")
    path.write_text(f"{head}    {given}\n{PROJECT.splitlines()[-1]}\n")
    found = list(broken_rows(read_project(path)))
    assert found and "40 in from the left end: was one passed over?" in found[0].message
    assert found[0].line == line
