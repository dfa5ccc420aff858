"""Break-down cuts as data: how each runs, what lies beside it, what all of them leave.

How they are found is told in :mod:`nesting.break_down.cutting_order`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from nesting.flat_geometry.overlay import polygons_of, shared, without
from nesting.rules import TOUCH_MM

Point = tuple[float, float]

BELOW_MM = 3.0
"""A circular saw's blade is set to reach so far below the wood (common practice, no source)."""

DEEPEST = 0.36
"""Greatest depth of a hand-held circular saw over its blade's diameter: arbor, flange and base take
the rest; 66 of 184 mm (from memory)."""


class CutKind(StrEnum):
    """How a break-down cut runs."""

    CROSS = "cross-cut"
    RIP = "rip"
    OBLIQUE = "oblique cut"


@dataclass(frozen=True)
class BreakDownCut:
    """One straight cut: the middle of its kerf, from where it enters its piece to where it leaves.

    ``room_mm`` is what the free strip that it runs in is wider than the kerf; ``stops`` says of
    start and end whether the saw stops there, in the wood: sawn through to there, or if ``by_hand``
    on top alone, and what the round blade leaves below is for a handsaw.
    """

    kind: CutKind
    start: Point
    end: Point
    room_mm: float = 0.0
    stops: tuple[bool, bool] = (False, False)
    by_hand: bool = False

    @property
    def is_stopped(self) -> bool:
        """Whether it ends in the wood anywhere."""
        return any(self.stops)

    @property
    def length_mm(self) -> float:
        """From edge to edge."""
        return math.dist(self.start, self.end)


@dataclass(frozen=True)
class Held:
    """What lies on one side of a cut: parts by label, offcuts by number, from 1."""

    parts: tuple[str, ...]
    offcuts: tuple[int, ...]


@dataclass(frozen=True)
class LeftPiece:
    """A piece that cutting ends with and that holds something: parts by label, offcuts by number.

    Its length and width are those of the least rectangle around it; ``mass_kg`` is None where
    the wood's density is not known.
    """

    parts: tuple[str, ...]
    offcuts: tuple[int, ...]
    length_mm: float
    width_mm: float
    mass_kg: float | None
    is_handy: bool

    @property
    def is_freed(self) -> bool:
        """Whether it holds one thing and nothing else."""
        return len(self.parts) + len(self.offcuts) == 1


@dataclass(frozen=True)
class BreakDown:
    """The cuts of one board in order, and what they leave.

    ``sides`` says of each cut what lies on either side of it in the piece that it is made in: left
    and right of a cross-cut, below and above others.
    """

    cuts: tuple[BreakDownCut, ...]
    sides: tuple[tuple[Held, Held], ...]
    pieces: tuple[LeftPiece, ...]

    @property
    def parts_freed(self) -> int:
        """How many parts lie in a piece of their own."""
        return sum(len(piece.parts) for piece in self.pieces if piece.is_freed)

    @property
    def has_stops(self) -> bool:
        """Whether the saw is stopped in the wood at any cut."""
        return any(cut.is_stopped for cut in self.cuts)

    @property
    def not_freed(self) -> tuple[LeftPiece, ...]:
        """Pieces in which something else is to be parted from a part: for bandsaw or saber saw."""
        return tuple(piece for piece in self.pieces if piece.parts and not piece.is_freed)


def cut_deep_mm(thickness_mm: float, blade_mm: float) -> float | None:
    """Return how much further a stopped cut runs on the face sawn from than on the other.

    A round blade that reaches ``depth`` below the face cuts a chord of it there, half of which is
    ``sqrt(depth * (blade - depth))``; where it leaves the wood below, the chord is that of
    ``depth - thickness``. None if the blade does not reach through.

    >>> round(cut_deep_mm(35.0, 184.0), 1)
    51.2
    """
    deep = thickness_mm + BELOW_MM
    if deep > DEEPEST * blade_mm:
        return None
    above, below = (math.sqrt(depth * (blade_mm - depth)) for depth in (deep, BELOW_MM))
    return above - below


def runs_across(shape: Polygon, normal: Point, at: float) -> list[tuple[Point, Point]]:
    """Return where the line across a piece enters and leaves it, each time that it does.

    A piece with a corner or a bay sawn out of it may be met more than once.
    """
    nx, ny = normal
    reach = 2.0 * (abs(at) + float(np.abs(shape.bounds).max()) + 1.0)
    foot = (nx * at, ny * at)
    along = (-ny, nx)
    line = LineString(
        [(foot[0] + sign * reach * along[0], foot[1] + sign * reach * along[1]) for sign in (-1, 1)]
    )
    met = shapely.get_parts(shapely.line_merge(shapely.intersection(line, shape)))
    runs = [
        _ends(one, normal, at) for one in met if isinstance(one, LineString) and one.length > 0.0
    ]
    return sorted(runs)


def _ends(run: LineString, normal: Point, at: float) -> tuple[Point, Point]:
    """Return the ends of a run in order; square cuts are square to the last digit."""
    (x, y), (u, v) = run.coords[0], run.coords[-1]
    if normal[1] == 0:
        x = u = at
    if normal[0] == 0:
        y = v = at
    first, last = (float(x), float(y)), (float(u), float(v))
    return (first, last) if first <= last else (last, first)


def normal_of(cut: BreakDownCut) -> Point:
    """Return the direction across a cut: to the right of a cross-cut, upward of others."""
    if cut.kind is CutKind.CROSS:
        return (1.0, 0.0)
    if cut.kind is CutKind.RIP:
        return (0.0, 1.0)
    (x, y), (u, v) = cut.start, cut.end
    size = max(cut.length_mm, TOUCH_MM)
    return (y - v) / size, (u - x) / size


def sawn_apart(shape: Polygon, cut: BreakDownCut, kerf_mm: float) -> list[Polygon]:
    """Return what a cut leaves of a piece, splinters too.

    Its kerf goes on beyond ends that are no stops as far as the wood there does, since an edge
    may lean; wood that the line meets again after a gap is left alone.
    """
    taken = shared(shape, _kerf(shape, cut, kerf_mm))
    line = LineString([cut.start, cut.end])
    own = [one for one in shapely.get_parts(taken) if one.distance(line) <= TOUCH_MM]
    return polygons_of(without(shape, shapely.union_all(own)))


def _kerf(shape: Polygon, cut: BreakDownCut, kerf_mm: float) -> Polygon:
    """Return the strip that a saw takes, and more beyond the piece's edges; none beyond a stop."""
    (x, y), (u, v) = cut.start, cut.end
    size, kerf_mm = max(math.dist(cut.start, cut.end), TOUCH_MM), max(kerf_mm, TOUCH_MM)
    reach = float(np.ptp(np.reshape(shape.bounds, (2, 2)), axis=0).sum()) + kerf_mm
    dx, dy = (u - x) / size, (v - y) / size
    nx, ny = -dy * kerf_mm / 2, dx * kerf_mm / 2
    before, after = (0.0 if is_stop else reach for is_stop in cut.stops)
    a, b = (x - dx * before, y - dy * before), (u + dx * after, v + dy * after)
    return Polygon(
        [
            (a[0] + nx, a[1] + ny),
            (b[0] + nx, b[1] + ny),
            (b[0] - nx, b[1] - ny),
            (a[0] - nx, a[1] - ny),
        ]
    )
