"""Left-over wood that a saw can free and a shop would keep: clear rectangles along the board.

An offcut is a rectangle of at least the project's least useful size, the saw's kerf away from
parts and from the next offcut, and clear of metal as every cut is. The ragged wood around it is
not kept. Rectangles lie along the board's length, since that is how an offcut is used again.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from nesting.flat_geometry.clear_rectangles import Least, clear_rectangles
from nesting.flat_geometry.free_stretches import Rectangle
from nesting.flat_geometry.overlay import united
from nesting.flat_geometry.thinned import thinned, thinned_outward
from nesting.rules import TOUCH_MM, Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import PLUGGABLE, KeepOut, KeepOutKind

LISTED = PLUGGABLE | {KeepOutKind.STAIN, KeepOutKind.KNOT}
"""Kinds that an offcut may hold: it is kept with them, and they are named with it. Metal, rot,
splits, grooves and worn edges are cut away (common practice, no source)."""

SIDES = 32
"""Sides of the polygon around a circle; it is nowhere half a per cent of the radius off."""

MITRE_LIMIT = 1.2
"""Corners grow to a mitre no longer than this: never less than the distance, little more."""

MITRE_EXCESS = 1 + 1e-6
"""What grows about an area grows so much more: where edges turn by less than a thousandth, GEOS
joins what it sets off at one end of it, up to half a millionth of the distance too near
(measured)."""

ARC_SIDES, ARC_EXCESS = 16, 1.003
"""Sides a quarter of what grows about a line, and how much it grows more so that the middles of
its chords are far enough off too."""


@dataclass(frozen=True)
class Offcut:
    """One piece to keep: where its lower left corner lies on the board, and its size; mm.

    ``defects`` are the keep-outs that lie in it or reach into it.
    """

    x_mm: float
    y_mm: float
    length_mm: float
    width_mm: float
    defects: tuple[KeepOut, ...] = ()

    @cached_property
    def shape(self) -> Polygon:
        """Its outline on the board."""
        high = self.x_mm + self.length_mm, self.y_mm + self.width_mm
        return box(self.x_mm, self.y_mm, *high)

    @property
    def area_mm2(self) -> float:
        """Length times width."""
        return self.length_mm * self.width_mm

    @property
    def defect_counts(self) -> dict[KeepOutKind, int]:
        """How many defects of each kind, in the order of kinds."""
        counts = Counter(defect.kind for defect in self.defects)
        return {kind: counts[kind] for kind in KeepOutKind if kind in counts}


def offcuts_beside(parts: Sequence[Polygon], board: Board, rules: Rules) -> tuple[Offcut, ...]:
    """Return what a board leaves to keep beside the parts sawn out of it, largest first."""
    spoilt = _spoilt_about([k for k in board.keep_outs if _spoils(k, rules)], rules)
    size = rules.least_offcut
    least = Least(size.length_mm, size.width_mm, rules.kerf_mm)
    taken = [_widened(thinned_outward(p), rules.kerf_mm + rules.trim_mm) for p in parts]
    found = clear_rectangles(board.shape, [*taken, *spoilt], least)
    listed = _listed(board, rules)
    return tuple(_offcut(rectangle, listed) for rectangle in found)


def offcut_at(rectangle: Rectangle, board: Board, rules: Rules) -> Offcut:
    """Return the offcut that a rectangle of a board is: low x, low y, high x, high y."""
    return _offcut(rectangle, _listed(board, rules))


def sawn_about(parts: Sequence[Polygon], offcuts: Sequence[Offcut], rules: Rules) -> BaseGeometry:
    """Return parts and offcuts with the kerf about them, and about parts the trim."""
    about = [thinned(part).buffer(rules.kerf_mm + rules.trim_mm) for part in parts]
    return united([*about, *(offcut.shape.buffer(rules.kerf_mm) for offcut in offcuts)])


def _spoils(keep_out: KeepOut, rules: Rules) -> bool:
    return keep_out.kind not in LISTED and not rules.is_planed_away(keep_out)


def clear_of_mm(kind: KeepOutKind, rules: Rules) -> float:
    """Return the least distance between an offcut and a keep-out that it may not hold.

    The saw runs outside an offcut, so metal stays clear of the kerf's far side too.
    """
    if kind is KeepOutKind.METAL:
        return rules.blade_clearance_mm + rules.kerf_mm
    return rules.clearance_mm(kind)


def _spoilt_about(keep_outs: Sequence[KeepOut], rules: Rules) -> list[Polygon]:
    """Return the wood about keep-outs that no offcut may hold; never less than that."""
    round_ones = [k for k in keep_outs if k.is_circle]
    others = [k for k in keep_outs if not k.is_circle]
    return [*_rounds(round_ones, rules), *(_spoilt(k, rules) for k in others)]


def _rounds(keep_outs: Sequence[KeepOut], rules: Rules) -> list[Polygon]:
    """Return polygons around round keep-outs, each side touching the circle."""
    turns = (np.arange(SIDES) + 0.5) * (2 * math.pi / SIDES)
    about = np.column_stack([np.cos(turns), np.sin(turns)]) / math.cos(math.pi / SIDES)
    reaches = [k.reach_mm + clear_of_mm(k.kind, rules) for k in keep_outs]
    middles = shapely.get_coordinates([k.core for k in keep_outs])
    if not keep_outs:
        return []
    corners = middles[:, None, :] + np.asarray(reaches)[:, None, None] * about
    return list(np.ravel(np.asarray(shapely.polygons(corners))))


def _spoilt(keep_out: KeepOut, rules: Rules) -> Polygon:
    reach = keep_out.reach_mm + clear_of_mm(keep_out.kind, rules)
    if isinstance(keep_out.core, Polygon):
        return _widened(keep_out.core, reach)
    return keep_out.core.buffer(reach * ARC_EXCESS, quad_segs=ARC_SIDES)


def _widened(shape: Polygon, by_mm: float) -> Polygon:
    """Return a shape and all within a distance of it; at corners a little more."""
    if by_mm == 0:
        return shape
    # A mitre between edges that run back on each other is infinite until its limit cuts it.
    with np.errstate(divide="ignore", invalid="ignore"):
        return shape.buffer(by_mm * MITRE_EXCESS, join_style="mitre", mitre_limit=MITRE_LIMIT)


@dataclass(frozen=True, eq=False)
class _Listed:
    """Keep-outs that offcuts may hold (k), their cores, and how far they reach beyond these."""

    keep_outs: tuple[KeepOut, ...]
    cores: NDArray[np.object_]
    reaches: NDArray[np.float64]


def _listed(board: Board, rules: Rules) -> _Listed:
    found = [k for k in board.keep_outs if k.kind in LISTED and not rules.is_planed_away(k)]
    cores = np.array([k.core for k in found], np.object_)
    return _Listed(tuple(found), cores, np.array([k.reach_mm for k in found], np.float64))


def _offcut(rectangle: Rectangle, listed: _Listed) -> Offcut:
    low_x, low_y, high_x, high_y = rectangle
    shape, reaches = box(*rectangle), listed.reaches
    near = np.flatnonzero(shapely.distance(shape, listed.cores) < reaches - TOUCH_MM)
    bare = np.flatnonzero(reaches == 0)
    over = bare[shapely.area(shapely.intersection(shape, listed.cores[bare])) > 0]
    inside = tuple(listed.keep_outs[number] for number in (*near, *over))
    return Offcut(low_x, low_y, high_x - low_x, high_y - low_y, inside)
