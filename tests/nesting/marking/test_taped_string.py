"""Boards taped from a string: marked out from that string, and called by their widths along it."""

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Polygon, box

from nesting.grain import straight_grain
from nesting.marking.base_line import BaseKind, base_line
from nesting.marking.tape import Tape
from nesting.project.hollow_edges import string_outline
from nesting.sheets.figures import board_size
from nesting.sheets.marking_tables import base_words
from nesting.stock.along_widths import widths_of_curve
from nesting.stock.board import Board
from nesting.stock.board_widths import widths_outline
from nesting.units import Unit

IN = 25.4
CROOKED = ((0, 30, 60), (-2, 0, -1.5), (4, 6, 4.5))
ARCHED = ((0, 48, 96), (0, 4, 0), (6, 10, 6))


def taped(stations, name="S") -> Board:
    at, lower, upper = ([IN * figure for figure in figures] for figures in stations)
    return Board(name, Polygon(string_outline(at, lower, upper)), 45, "teak")


@pytest.mark.parametrize(
    ("stations", "words"),
    [
        (
            CROOKED,
            "a string, its left end 2 in along the edge from the corner below it, its right end "
            "1 1/2 in along the edge from the corner below it; along from its left end, across "
            "square up.",
        ),
        (
            ARCHED,
            "a string, its left end at the corner of the board there, its right end at the corner "
            "of the board there; along from its left end, across square up.",
        ),
    ],
    ids=["through the wood", "below it"],
)
@pytest.mark.parametrize("reach", [(0.0, 1.0), (0.1, 0.45), (0.6, 0.9)])
def test_board_taped_from_a_string_is_marked_out_from_that_string(stations, words, reach):
    board = taped(stations)
    reach_mm = tuple(share * board.length_mm for share in reach)
    base = base_line(board.shape, reach_mm, Tape.of(Unit.INCH))
    assert base.kind is BaseKind.STRING
    assert base.origin == pytest.approx((0.0, 0.0), abs=1e-6)
    assert base.angle_deg == pytest.approx(0.0, abs=1e-6)
    assert base_words(base, reach_mm[1], Unit.INCH) == words


def test_straight_lower_edge_is_the_base_line_still():
    for shape in (
        box(0, 0, 900, 90),
        widths_outline([0, 400, 900], [90, 120, 80]),
        box(0, 12, 900, 90),
    ):
        assert base_line(shape, (50, 800), Tape.of(Unit.MM)).kind is BaseKind.EDGE


@pytest.mark.parametrize(
    ("stations", "size"),
    [
        (CROOKED, "60 x 6 in, curved"),
        (ARCHED, "96 x 6 in, curved"),
        (((0, 48, 96), (0, 4, 0), (5, 10, 5.5)), "96 x 5 to 6 in, curved"),
        (((0, 48, 96), (0, 0, 0), (5, 6, 5.5)), "96 x 6 in"),
    ],
    ids=["crooked", "arched", "tapered", "straight"],
)
def test_curved_board_is_called_by_its_widths_along_the_string(stations, size):
    assert board_size(taped(stations), Unit.INCH) == size


def test_what_is_no_curved_plank_is_called_by_its_extents():
    shapes = {
        "rectangle": box(0, 0, 900, 90),
        "crook": widths_outline([0, 300, 600], [100, 100, 100], [0, 90, 0]),
        "angle": box(0, 0, 600, 90).union(box(0, 0, 90, 400)),
    }
    grains = {"crook": straight_grain(60.0)}
    for name, shape in shapes.items():
        board = Board(name, shape, 45, "teak", grain=grains.get(name, straight_grain()))
        assert widths_of_curve(board) is None
        assert board_size(board, Unit.MM) == f"{board.length_mm:.0f} x {board.width_mm:.0f} mm"


def test_size_in_feet_keeps_its_marks():
    assert board_size(taped(ARCHED), Unit.FOOT) == "8' x 6\", curved"


def _many_cornered(count: int) -> Board:
    """Return a curved plank with so many corners on either edge, as a drawing may have them."""
    x = np.linspace(0.0, 3000.0, count)
    lower = 40.0 * np.sin(x / 900.0) + 3.0 * np.sin(x / 31.0)
    upper = lower + 120.0 + 20.0 * np.cos(x / 700.0)
    edge, other = (np.column_stack([x, y]) for y in (lower, upper))
    return Board("B", Polygon(np.vstack([edge, other[::-1]])), 45, "teak")


def _cut_by_lines(board: Board) -> tuple[float, float]:
    """Return the least and greatest width by lines cut with the whole board: the slow twin."""
    x = shapely.get_coordinates(board.shape.exterior)[:, 0]
    lines = [LineString([(at, -500.0), (at, 500.0)]) for at in x]
    widths = shapely.length(shapely.intersection(lines, board.shape))
    return float(widths[widths > widths.max() / 2].min()), float(widths.max())


@pytest.mark.parametrize("count", [3, 4, 17, 400])
def test_widths_are_those_of_lines_cut_with_the_board(count):
    board = _many_cornered(count)
    assert widths_of_curve(board) == pytest.approx(_cut_by_lines(board), abs=1e-6)


def test_widths_of_many_corners_take_no_cut_with_the_whole_board(monkeypatch):
    monkeypatch.setattr(shapely, "intersection", None)
    least, greatest = widths_of_curve(_many_cornered(10_000))
    assert 99.9 < least < 100.1 and 139.9 < greatest < 140.1


@pytest.mark.parametrize("apart", ["fork", "bay"])
def test_board_that_is_in_two_across_a_station_is_no_curved_plank(apart):
    whole = _many_cornered(31).shape
    away = box(2800, 40, 3100, 60)
    if apart == "bay":  # An arm that comes back over the board: an L of wood in its edge.
        away = box(1000, 60, 1600, 90).union(box(1000, 60, 1040, 300))
    assert widths_of_curve(Board("B", whole.difference(away), 45, "teak")) is None
