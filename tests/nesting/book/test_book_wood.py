"""Outlines of wood: made one by one or many at once, they are the same; odd ones are refused."""

from __future__ import annotations

import math

import pytest
from book_shop import plank
from shapely.geometry import Polygon, box

from nesting.book import outlines
from nesting.book.outlines import make_known, wood_of
from nesting.book.wood import board_data, board_of
from nesting.errors import BookError

CORNERS = [[0.0, 0.0], [900.0, 0.0], [900.0, 120.0], [0.0, 120.0]]
ODD = {
    "closed": [[*CORNERS, CORNERS[0]]],
    "three, closed": [[CORNERS[0], CORNERS[1], CORNERS[0]]],
    "no number": [[[0.0, math.nan], *CORNERS[1:]]],
    "no end": [[[0.0, math.inf], *CORNERS[1:]]],
    "crossing": [[CORNERS[0], CORNERS[2], CORNERS[1], CORNERS[3]]],
    "nothing": [],
    "two points": [CORNERS[:2]],
    "a line": [[[0.0, 0.0], [1.0, 0.0], [2.0, 0.0]]],
    "texts": [[["0", "0"], *CORNERS[1:]]],
    "yes": [[[True, 0.0], *CORNERS[1:]]],
    "deep": [[[[0.0], 0.0], *CORNERS[1:]]],
    "three figures": [[[0.0, 0.0, 0.0], *CORNERS[1:]]],
    "a figure": [7.0],
    "a text": "board",
}
SOUND = ("closed",)


@pytest.fixture(autouse=True)
def nothing_known(monkeypatch):
    monkeypatch.setattr(outlines, "_known", {})


def test_outlines_made_together_are_those_made_alone():
    many = [{"outline": [[[x + k, y * k] for x, y in CORNERS]]} for k in (1.0, 2.5, 7.0)] + [
        {"outline": [[list(map(int, point)) for point in CORNERS]]}
    ]
    alone = [wood_of(each) for each in many]
    outlines._known.clear()
    make_known(many)
    assert len(outlines._known) == 3
    assert [wood_of(each).equals_exact(one, 0.0) for each, one in zip(many, alone, strict=True)]
    assert all(wood_of(each).wkb == one.wkb for each, one in zip(many, alone, strict=True))


@pytest.mark.parametrize("name", ODD)
def test_odd_outline_keeps_no_other_from_being_made_and_is_told_where_it_is_asked_for(name):
    odd, sound = {"outline": ODD[name]}, {"outline": [CORNERS]}
    make_known([odd, sound, {}])
    assert wood_of(sound).equals(box(0, 0, 900, 120))
    data = {**board_data(plank()), "outline": ODD[name]}
    if name in SOUND:
        assert board_of("A", data).length_mm == 900
        return
    with pytest.raises(BookError, match="board A: what the book holds of it is no board"):
        board_of("A", data)


def test_wood_with_an_opening_is_a_board_with_a_groove():
    shape = Polygon(box(0, 0, 900, 120).exterior.coords, [box(50, 50, 90, 80).exterior.coords])
    data = board_data(plank(length=900.0, width=120.0), shape)
    make_known([data])
    assert wood_of(data).area == shape.area
    assert [str(keep_out.kind) for keep_out in board_of("A", data).keep_outs] == ["groove"]
