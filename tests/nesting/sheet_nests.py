"""Nests that are hard to draw: slender, waney, wide, crowded. Shared by the sheet tests."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
from shapely.geometry import Polygon

from nesting.accounts.account import BoardAccount, account_board
from nesting.grain import GrainPath
from nesting.need import Holes, Need
from nesting.nest import Nest, Placement
from nesting.outline import Mark, MarkKind, Outline
from nesting.rules import Rules
from nesting.sheets import Drawing, cut_sheet
from nesting.stock.board import Board
from nesting.stock.board_outline import board_outline
from nesting.stock.keep_out import KeepOutKind, circle, region, slot
from nesting.units import Unit

RULES = Rules()
PROJECT = "Lake skiff"
K = KeepOutKind


def rectangle(length: float, width: float) -> Polygon:
    return Polygon([(0, 0), (length, 0), (length, width), (0, width)])


def arched(length: float, width: float, rise: float) -> Polygon:
    x = np.linspace(0, length, 41)
    y = rise * (1 - (2 * x / length - 1) ** 2)
    return Polygon([*zip(x, y, strict=True), *zip(x[::-1], (y + width)[::-1], strict=True)])


def knee_shape(long: float, short: float, throat: float) -> Polygon:
    radius = short / 2
    turns = np.linspace(0, math.pi / 2, 17)
    arc = [
        (throat + radius * (1 - math.sin(t)), throat + radius * (1 - math.cos(t))) for t in turns
    ]
    return Polygon([(0, 0), (long, 0), (long, throat), *arc, (throat, short), (0, short)])


def two_parts() -> Nest:
    """A deck board with a line of screw holes, one carlin beside them, one beam over them."""
    holes = tuple(circle(K.HOLE, 50 + 300 * i, 62, 6.5) for i in range(6))
    board = Board(
        "deck-07",
        board_outline([(0, 0), (1700, 0), (1700, 125), (0, 125)]),
        32,
        "teak",
        keep_outs=holes,
        member="decking",
        came_from="port side, third strake",
    )
    carlin = Need("carlin", "ceiling", Outline(rectangle(1500, 45), 28), ("teak",))
    beam = Need(
        "hatch beam",
        "beam",
        Outline(
            rectangle(180, 110).difference(Polygon([(70, 40), (110, 40), (110, 70), (70, 70)])),
            27,
            marks=(Mark(MarkKind.CENTRELINE, ((90, 0), (90, 110)), "CL"),),
        ),
        ("teak",),
        holes=Holes.PLUGGED,
    )
    return Nest(board, (Placement(carlin, 5, 5), Placement(beam, 1515, 118, is_turned_over=True)))


def slender() -> Nest:
    """3.4 m by 125 mm, twelve screw holes, three parts; one with a long name."""
    holes = tuple(circle(K.HOLE, 50 + 300 * i, 62, 6.5) for i in range(12))
    board = Board(
        "deck-08",
        board_outline([(0, 0), (3400, 0), (3400, 125), (0, 125)]),
        32,
        "teak",
        keep_outs=holes,
    )
    carlin = Need("carlin", "ceiling", Outline(rectangle(1500, 45), 28), ("teak",), quantity=2)
    beam = Need(
        "deck beam",
        "beam",
        Outline(arched(1200, 60, 40), 28, marks=(Mark(MarkKind.BOLT, ((60, 40),), "", 10),)),
        ("teak",),
        holes=Holes.PLUGGED,
    )
    long_name = Need(
        "covering board piece number 3, port side forward",
        "ceiling",
        Outline(rectangle(560, 110), 27),
        ("teak",),
        holes=Holes.PLUGGED,
    )
    return Nest(
        board,
        (
            Placement(carlin, 5, 5, copy=1),
            Placement(carlin, 5, 75, copy=2),
            Placement(beam, 1530, 10),
            Placement(long_name, 2800, 118, is_turned_over=True),
        ),
    )


def waney() -> Nest:
    """A hull plank with waney edges, grown grain and every kind of keep-out."""
    x = np.linspace(0, 4200, 29)
    low = 18 * np.sin(x / 600) + 10 * np.sin(x / 140)
    high = 245 + 25 * np.sin(x / 900 + 1) + 8 * np.sin(x / 170)
    edge = [*zip(x, low, strict=True), *zip(x[::-1], high[::-1], strict=True)]
    rivets = [
        circle(K.METAL if i % 5 == 0 else K.HOLE, 150 + 300 * i, y + 5 * math.sin(i), 8)
        for i in range(14)
        for y in (60, 190)
    ]
    others = [
        region(K.ROT, [(3900, 30), (4150, 40), (4120, 180), (3950, 150)]),
        slot(K.SPLIT, (0, 130), (320, 140), 6),
        circle(K.KNOT, 1730, 130, 34),
        region(K.STAIN, [(2400, 40), (2700, 30), (2750, 110), (2500, 140)]),
        slot(K.WORN_EDGE, (600, 8), (1500, 18), 20),
        slot(K.GROOVE, (3000, 210), (3500, 215), 10),
        circle(K.RECESS, 1900, 200, 14),
    ]
    board = Board(
        "S-3",
        board_outline(edge),
        38,
        "larch",
        grain=GrainPath(((0, 120), (1500, 140), (4200, 90))),
        keep_outs=(*rivets, *others),
        member="hull planking",
        came_from="starboard, sheer strake, aft of frame 12",
    )
    floor = Need(
        "floor timber 4",
        "floor",
        Outline(
            Polygon([(0, 0), (560, 0), (640, 90), (-80, 90)]),
            34,
            marks=(
                Mark(MarkKind.CENTRELINE, ((280, 0), (280, 90)), "CL"),
                Mark(MarkKind.FRAME, ((100, 0), (100, 90)), "frame 4"),
            ),
        ),
        ("larch",),
    )
    ceiling = Need("ceiling", "ceiling", Outline(rectangle(640, 52), 30), ("larch",), quantity=2)
    return Nest(
        board,
        (
            Placement(floor, 470, 80),
            Placement(ceiling, 1060, 85, angle_deg=1.2, copy=1),
            Placement(ceiling, 2800, 150, angle_deg=-1.0, is_turned_over=True, copy=2),
        ),
    )


def locker() -> Nest:
    """Short and wide, five knees turned this way and that."""
    board = Board(
        "locker bottom",
        board_outline([(0, 0), (620, 0), (640, 310), (10, 330)]),
        22,
        "mahogany",
        keep_outs=(circle(K.RECESS, 40, 300, 12), circle(K.METAL, 300, 160, 5)),
        came_from="galley, port",
    )
    knee = Need(
        "lodging knee",
        "knee",
        Outline(
            knee_shape(170, 130, 45),
            18,
            grain=GrainPath(((0, 130), (170, 0))),
            marks=(Mark(MarkKind.BOLT, ((120, 22),), "", 8),),
        ),
        ("mahogany",),
        quantity=5,
    )
    spots = [(15, 15, 0.0), (255, 225, 180.0), (280, 15, 8.0), (600, 300, 180.0), (450, 20, 0.0)]
    return Nest(
        board,
        tuple(Placement(knee, x, y, angle, copy=i + 1) for i, (x, y, angle) in enumerate(spots)),
    )


def crowded() -> Nest:
    """Sixty small parts on one thick board."""
    rng = np.random.default_rng(3)
    holes = tuple(circle(K.HOLE, 60 + 150 * i, 40 + 130 * (i % 3), 7) for i in range(24))
    board = Board(
        "keel-side",
        board_outline([(0, 0), (3800, 0), (3800, 380), (0, 380)]),
        45,
        "oak",
        keep_outs=holes,
    )
    ends, placements = [8.0] * 4, []
    for number in range(60):
        row = int(np.argmin(ends))
        length, width = float(rng.uniform(90, 320)), float(rng.uniform(25, 82))
        outline = Outline(rectangle(length, width), 40)
        need = Need(f"blocking {number + 1}", "block", outline, ("oak",), holes=Holes.PLUGGED)
        placements.append(Placement(need, ends[row], 8 + 93 * row))
        ends[row] += length + 6
    return Nest(board, tuple(placements))


def tiny() -> Nest:
    """A scrap of board with one part."""
    board = Board("chip", board_outline([(0, 0), (90, 0), (90, 40), (0, 40)]), 12, "elm")
    need = Need("cleat", "block", Outline(rectangle(60, 20), 8), ("elm",))
    return Nest(board, (Placement(need, 10, 10),))


NESTS = {
    "two parts": two_parts,
    "slender": slender,
    "waney": waney,
    "locker": locker,
    "crowded": crowded,
    "tiny": tiny,
}


@cache
def nest_of(name: str) -> Nest:
    return NESTS[name]()


@cache
def account_of(name: str) -> BoardAccount:
    return account_board(nest_of(name), RULES)


@cache
def sheet_of(name: str, unit: Unit = Unit.MM) -> Drawing:
    return cut_sheet(nest_of(name), account_of(name), RULES, project_name=PROJECT, unit=unit)
