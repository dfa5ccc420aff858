"""What old holes and cross grain leave of the bending strength of placed pieces.

Shares of what the same piece would have in clear, straight-grained wood: nothing is said of
loads, of the wood's grade, or of whether the piece is strong enough.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from nesting.flat_geometry.thinned import thinned
from nesting.grain import GrainPath
from nesting.nest import CuttingPlan, Placement, bungs_in
from nesting.rules import Rules
from nesting.run_out import LENGTH, ON_EDGE_DEG, cut_up, off_grain, run_of
from nesting.sheet_goods import is_sheet_goods
from nesting.sources import NO_SOURCE
from nesting.stock.board import Board
from nesting.units import slope_angle
from parts.wood import cross_grain, net_section
from parts.wood.cross_grain import strength_left
from parts.wood.net_section import (
    ONE_SECTION_DIAMETERS,
    Gap,
    Section,
    deeper_by_mm,
    thicker_by_mm,
)

SOURCES = (
    f"Slope of grain: {cross_grain.SOURCE}.",
    f"Holes: {net_section.SOURCE}; a timber counts on edge, a plank on edge or on the flat, "
    f"whichever leaves less ({NO_SOURCE}).",
    f"For comparison: {net_section.TESTS}.",
)

CAUTION = (
    "These figures do not replace a designer or a survey. They compare a piece with the same "
    "piece in clear wood; they know no loads, no grade, no decay and no grain out of the face. "
    "Defer to local rules and licensed practice."
)

SECTION_TURNS_DEG = np.arange(-50.0, 51.0, 5.0)
"""The shortest cut through a hole is looked for so far from square to the grain: the arms of a
knee stand at 45 degrees to grain that runs along its diagonal."""

STATIONS = 41
"""Sections at which a beam without its holes is reckoned."""

NEARLY_WHOLE = 0.95
"""A piece that keeps more than this is not worth a line."""

MUCH_WEAKENED = 0.8
"""A piece that keeps less than this is told beside it on its sheet. Grain that slopes 1 in 10
leaves 0.81 of the bending strength (:mod:`parts.wood.cross_grain`)."""


@dataclass(frozen=True)
class WeakSection:
    """The section through one hole; ``x_mm`` and ``y_mm`` are the hole's, on its board."""

    x_mm: float
    y_mm: float
    section: Section
    is_plank: bool

    @property
    def left(self) -> float:
        """Share left the way it is bent: a timber on edge, a plank the way that leaves less.

        A thwart or a bottom board is stood on, a strake of ceiling is bent both ways.
        """
        on_edge = self.section.left_on_edge
        return min(on_edge, self.section.left_on_flat) if self.is_plank else on_edge

    @property
    def made_up_by_mm(self) -> float:
        """How much deeper a timber, or thicker a plank, makes up for the holes."""
        return (thicker_by_mm if self.is_plank else deeper_by_mm)(self.section)


@dataclass(frozen=True)
class PieceStrength:
    """What is left of one placed piece.

    Attributes
    ----------
    run, run_x_mm
        Steepest grain, 1 in this many, and where, along the board: along its edges, or along
        the sweep of a grown piece.
    past_limit_mm
        Length of edge, or of the sweep, along which the grain is steeper than the part allows.
    holes
        Old holes in it, bunged or not.
    weakest
        The section that loses most the way the piece is bent; None without holes.
    as_beam
        Share left of a timber borne at both ends under an even load, where holes far from the
        middle count less; None if it is not borne so.
    is_sheet
        Of sheet goods: its plies cross, so its grain is not reckoned, and only holes count.
    """

    piece: str
    part: str
    board: str
    run: float
    run_x_mm: float
    past_limit_mm: float
    holes: int
    weakest: WeakSection | None
    as_beam: float | None
    is_sheet: bool = False

    @cached_property
    def left_by_grain(self) -> float:
        """Share of the bending strength left by the steepest grain."""
        return strength_left(self.run).bending

    @cached_property
    def left_by_holes(self) -> float:
        """Share left by the holes: as a beam where it is one, else of its weakest section."""
        if self.as_beam is not None:
            return self.as_beam
        return 1.0 if self.weakest is None else self.weakest.left

    @property
    def left(self) -> float:
        """Share left by both, as if they met in one place."""
        return self.left_by_grain * self.left_by_holes


def strength_of(plan: CuttingPlan, rules: Rules) -> tuple[PieceStrength, ...]:
    """Return what is left of every placed piece, the weakest first."""
    found = [
        piece_strength(placement, nest.board, rules)
        for nest in plan.nests
        for placement in nest.placements
    ]
    return tuple(sorted(found, key=lambda piece: (piece.left, piece.piece)))


def weakened(pieces: Sequence[PieceStrength]) -> tuple[PieceStrength, ...]:
    """Return the pieces whose holes leave too little to pass over, the weakest first."""
    found = [piece for piece in pieces if piece.left_by_holes < NEARLY_WHOLE]
    return tuple(sorted(found, key=lambda piece: (piece.left, piece.piece)))


def piece_strength(placement: Placement, board: Board, rules: Rules) -> PieceStrength:
    """Return what is left of one placed piece."""
    is_sheet = is_sheet_goods(board.species)
    run, run_x, past = (math.inf, 0.0, 0.0) if is_sheet else _steepest(placement, board)
    holes = _holes(placement, board, rules)
    sections = _weak_sections(placement, holes)
    return PieceStrength(
        piece=placement.label,
        part=placement.need.part,
        board=board.name,
        run=run,
        run_x_mm=run_x,
        past_limit_mm=past,
        holes=len(holes),
        weakest=min(sections, key=lambda weak: weak.left, default=None),
        as_beam=_as_beam(placement, sections),
        is_sheet=is_sheet,
    )


# ---- slope of grain ---------------------------------------------------------------------------


def _steepest(placement: Placement, board: Board) -> tuple[float, float, float]:
    """Return the steepest slope, 1 in how many, where along the board, and the length past it."""
    outline = placement.need.outline
    pieces = placement.laid(outline.weighed)
    if not (board.grain.is_straight and outline.grain.is_straight):
        pieces = cut_up(pieces)
    angles = off_grain(pieces, board.grain)
    worst = int(angles.argmax())
    limit = slope_angle(outline.run_out_limit or outline.slope_of_grain) + ON_EDGE_DEG
    past = float(pieces[angles > limit, LENGTH].sum())
    return run_of(float(angles[worst])), float(pieces[worst, 0]), past


def _pairs(points: NDArray[np.float64]) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in points)


# ---- holes ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Hole:
    x_mm: float
    y_mm: float
    diameter_mm: float
    into_mm: float


def _holes(placement: Placement, board: Board, rules: Rules) -> tuple[_Hole, ...]:
    """Return the old holes in a piece: reamed to its bung, or as it was under a larger one."""
    polygon = placement.polygon
    bungs = {(b.x_mm, b.y_mm): b.diameter_mm for b in bungs_in(placement, board, rules)}
    found = []
    for keep_out in board.keep_outs_near(polygon.bounds):
        x, y, radius = keep_out.bounding_circle
        if not placement.need.may_plug(keep_out, rules) or not polygon.contains(Point(x, y)):
            continue
        bung = rules.plug_for(keep_out)
        assert bung is not None
        size = bung if bungs.get((x, y)) == bung else 2 * radius
        into = math.inf if keep_out.depth_mm is None else keep_out.depth_mm - rules.cleaning_loss_mm
        if into > 0:
            found.append(_Hole(x, y, size, into))
    return tuple(found)


def _weak_sections(placement: Placement, holes: Sequence[_Hole]) -> list[WeakSection]:
    """Return the section through each hole: the shortest cut, near enough across the grain."""
    # A cut through a shape of thousands of corners goes by each of them.
    outline = placement.need.outline
    polygon = placement.placed(thinned(outline.shape))
    own = GrainPath(_pairs(placement.to_board(np.asarray(outline.grain.points))))
    found = []
    for hole in holes:
        square = own.angle_at(hole.x_mm, hole.y_mm) + 90.0
        shortest = _shortest_cut(polygon, hole, square + SECTION_TURNS_DEG)
        gaps = _gaps(shortest, holes)
        section = Section(shortest.length, outline.siding_mm, gaps)
        found.append(WeakSection(hole.x_mm, hole.y_mm, section, outline.is_plank))
    return found


def _shortest_cut(polygon: Polygon, hole: _Hole, ways_deg: NDArray[np.float64]) -> LineString:
    """Return the shortest cut through a hole's centre in (n,) directions, from edge to edge."""
    turns, centre = np.radians(ways_deg), np.array([hole.x_mm, hole.y_mm])
    reach = _reach(polygon) * np.column_stack([np.cos(turns), np.sin(turns)])
    lines = [LineString(ends) for ends in np.stack([centre - reach, centre + reach], axis=1)]
    cuts = [_nearest(polygon.intersection(line), Point(centre)) for line in lines]
    return min(cuts, key=lambda cut: round(float(cut.length), 3))


def _nearest(cut: BaseGeometry, to: Point) -> LineString:
    """Return the piece of a cut that a point lies on."""
    if isinstance(cut, LineString):
        return cut
    pieces = [piece for piece in shapely.get_parts(cut) if isinstance(piece, LineString)]
    return min(pieces, key=to.distance)


def _reach(polygon: Polygon) -> float:
    """Return a length that goes across a polygon from any point in it."""
    low_x, low_y, high_x, high_y = polygon.bounds
    return math.hypot(high_x - low_x, high_y - low_y)


def _gaps(cut: LineString, holes: Sequence[_Hole]) -> tuple[Gap, ...]:
    """Return what a cut loses to the holes on it, and to those close enough to count with it."""
    start, end = np.asarray(cut.coords)[[0, -1]]
    (ux, uy) = (end - start) / cut.length
    found = []
    for hole in holes:
        x, y = hole.x_mm - start[0], hole.y_mm - start[1]
        across, beside, radius = x * ux + y * uy, abs(x * uy - y * ux), hole.diameter_mm / 2
        if beside < ONE_SECTION_DIAMETERS * hole.diameter_mm and -radius < across < (
            cut.length + radius
        ):
            found.append(Gap(float(across - radius), float(across + radius), hole.into_mm))
    return tuple(found)


# ---- a beam borne at its ends -----------------------------------------------------------------


def _as_beam(placement: Placement, sections: Sequence[WeakSection]) -> float | None:
    """Return the share left of a timber under an even load; None without two bearings."""
    outline = placement.need.outline
    ends = [zone.region.centroid for zone in outline.bearing_zones if zone.is_seat]
    if len(ends) != 2 or outline.is_plank:
        return None
    if not sections:
        return 1.0
    polygon = placement.polygon
    a, b = placement.to_board(np.array([[end.x, end.y] for end in ends]))
    span = float(np.hypot(*(b - a)))
    along = (b - a) / span
    clear = min(
        _depth(polygon, a + share * (b - a), along) ** 2 / _moment(share)
        for share in np.linspace(0.0, 1.0, STATIONS)[1:-1]
    )
    left = 1.0
    for weak in sections:
        share = float((np.array([weak.x_mm, weak.y_mm]) - a) @ along) / span
        section = weak.section
        if 0 < share < 1:
            bears = section.left_on_edge * section.depth_mm**2 / _moment(share)
            left = min(left, bears / clear)
    return left


def _moment(share: float) -> float:
    """Return the bending moment of an even load over its greatest, by share of the span."""
    return 4 * share * (1 - share)


def _depth(polygon: Polygon, at: NDArray[np.float64], along: NDArray[np.float64]) -> float:
    """Return the depth of a beam square to the line between its bearings."""
    square = np.array([-along[1], along[0]]) * _reach(polygon)
    return float(LineString([at - square, at + square]).intersection(polygon).length)
