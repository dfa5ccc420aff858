"""Parts that no board can give: by its wood, thickness or grain, or the room it has at the most."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import shapely
from shapely.geometry.base import BaseGeometry

from nesting.engine.wood.extents import follows, least_extents
from nesting.errors import Finding
from nesting.flat_geometry.overlay import united, without
from nesting.need import Misfit, Need
from nesting.outline import Outline
from nesting.project import Project
from nesting.rules import TOUCH_MM, Rules
from nesting.stock.board import Board
from nesting.units import Unit
from nesting.written_measures import format_length

DEPTHS_MM = tuple(10.0 * 1.25**step for step in range(19))
"""Depths at which parts and wood are held against each other, 10 to some 555 mm."""

MOST_DEPTHS = 3
"""Of the depths that a part has somewhere so many are asked, its greatest."""


@dataclass(frozen=True)
class Room:
    """The extents of one piece of free wood along x and y, and its area: nothing larger fits.

    Of the middles of all circles in it that are ``depth_mm`` across, where that is not 0: what
    lies in the wood has its own such middles among them.
    """

    board: Board
    length_mm: float
    width_mm: float
    area_mm2: float
    depth_mm: float = 0.0


@dataclass(frozen=True)
class Demand:
    """What a part takes at the least along a board and across, and its area; or its middles do."""

    depth_mm: float
    along_mm: float
    across_mm: float
    area_mm2: float

    def share_of(self, room: Room) -> float:
        """Return how much of it a room has, the worst of its measures."""
        return min(
            (room.length_mm + TOUCH_MM) / (self.along_mm + TOUCH_MM),
            (room.width_mm + TOUCH_MM) / (self.across_mm + TOUCH_MM),
            (room.area_mm2 + TOUCH_MM) / (self.area_mm2 + TOUCH_MM),
        )

    def fits(self, room: Room) -> bool:
        """Return whether a room may hold it; False is proof that it does not."""
        return self.share_of(room) >= 1.0 - 1e-9


def no_board(project: Project) -> Iterator[Finding]:
    """Yield every part that no board can hold, and what comes nearest."""
    rooms = _Rooms(project.rules)
    for need in project.needs:
        text = _why(need, project, rooms)
        entry = project.part_entries.get(need.part)
        if text and entry is not None:
            named = replace(entry, title=f"part {need.part}")
            yield named.finding((), f"no board can give it: {text}")


class Holding:
    """Says of the boards of a project whether one may hold a part; each is measured once."""

    def __init__(self, project: Project) -> None:
        self._rooms = _Rooms(project.rules)

    def may(self, board: Board, need: Need) -> bool:
        """Return whether a board may hold a part; False is proof that it does not."""
        if need.misfit(board, self._rooms.rules) is not None or not follows(
            need.outline, board.grain
        ):
            return False
        return self._rooms.may_hold(board, need)


def _why(need: Need, project: Project, rooms: _Rooms) -> str | None:
    """Return why no board can hold a part; None if one may."""
    suited = [b for b in project.stock if need.misfit(b, project.rules) is None]
    if not suited:
        return _why_wood(need, project)
    following = [board for board in suited if follows(need.outline, board.grain)]
    if not following:
        return _why_grain(need, suited)
    return _why_room(need, following, rooms, project.unit)


def _why_wood(need: Need, project: Project) -> str:
    """Return why no board's wood suits, whatever its shape."""
    misfits = {board.name: need.misfit(board, project.rules) for board in project.stock}
    thin = [b for b in project.stock if misfits[b.name] is Misfit.TOO_THIN]
    if thin:
        thickest = max(thin, key=lambda board: board.thickness_mm)
        clean = project.rules.clean_thickness_mm(thickest.thickness_mm)
        wanted, left = (
            format_length(mm, project.unit, denominator=32)
            for mm in (need.outline.siding_mm, clean)
        )
        return (
            f"it is {wanted} thick, and the thickest board of its wood, {thickest.name}, "
            f"{left} when cleaned up"
        )
    if Misfit.CROSS_GRAIN in misfits.values():
        return _too_curved(need)
    if Misfit.WRONG_WOOD in misfits.values():
        return "every board of its wood is ruled out by its moisture, heartwood_only or not_from"
    return f"there is no board of {' or '.join(need.species)}"


def _too_curved(need: Need) -> str:
    """Return what a part's own curve does to its grain, and what would cure it."""
    outline = need.outline
    return (
        f"laid at its best on straight grain it runs out 1 in {outline.best_run:.1f}, "
        f"its run_out asks for 1 in {outline.run_out_limit:g}: give a grown crook of an accepted "
        "wood, laminate it, or ask for less"
    )


def _why_grain(need: Need, suited: Sequence[Board]) -> str:
    """Return why the grain of no board whose wood suits can follow a part's."""
    own = need.outline.grain.turn_deg
    most = max(suited, key=lambda board: board.grain.turn_deg)
    turn = most.grain.turn_deg
    if most.grain.is_straight:
        beside = "and every board of its wood and thickness is straight-grained"
    elif turn < own:
        beside = f"and that of {most.name}, which turns the most, by {turn:.0f}"
    else:
        beside = (
            f"and that of {most.name} by {turn:.0f}, but not through the same directions: where it "
            "does, record it with more points round the bend"
        )
    return (
        "no board's grain bends as its own does, however it is laid: its own turns by "
        f"{own:.0f} degrees, {beside}; give a grown crook of an accepted wood, laminate it, or "
        "allow it a steeper slope_of_grain"
    )


def _why_room(need: Need, suited: Sequence[Board], rooms: _Rooms, unit: Unit) -> str | None:
    """Return why no board has room, keep-outs apart or because of them; None if one may."""
    if any(rooms.may_hold(board, need) for board in suited):
        return None
    is_blocked = any(rooms.may_hold(board, need, is_bare=True) for board in suited)
    what = "board of its wood and thickness, inside the trim"
    if is_blocked:
        what = "stretch free of what it may not hold"
    near = rooms.nearest(suited, need, is_bare=not is_blocked)
    return None if near is None else _too_small(*near, what, unit)


def _too_small(demand: Demand, room: Room, what: str, unit: Unit) -> str:
    """Return the room that comes nearest beside what the part takes at the least."""
    deep = demand.depth_mm
    if not deep and not room.area_mm2:
        return f"there is no {what}"
    wanted = demand.along_mm + deep, demand.across_mm + deep
    there = room.length_mm + deep, room.width_mm + deep
    (long, wide), (length, width) = (
        [format_length(mm, unit) for mm in sizes] for sizes in (wanted, there)
    )
    takes = f"it takes at least {long} along a board by {wide} across"
    if deep:
        takes = f"where it is {format_length(deep, unit)} deep {takes}"
    has = f"the nearest {what}, on {room.board.name}, has {length} by {width}"
    if not room.area_mm2:
        return f"{takes}, and no {what} is so deep"
    is_long = there[0] + TOUCH_MM >= wanted[0] and there[1] + TOUCH_MM >= wanted[1]
    more = " so deep" if deep else ""
    return f"{takes}, and {has}{more}{', too slender for it' if is_long else ''}"


def _grain(board: Board) -> float | None:
    return board.grain.angles_deg[0] if board.grain.is_straight else None


@dataclass(frozen=True)
class _Rooms:
    """Free wood of each board, for parts that tolerate as much."""

    rules: Rules

    @cached_property
    def _found(self) -> dict[tuple[str, str, float], tuple[Room, ...]]:
        return {}

    @cached_property
    def _free(self) -> dict[tuple[str, str], BaseGeometry]:
        return {}

    @cached_property
    def _demands(self) -> dict[tuple[str, float | None], tuple[Demand, ...]]:
        return {}

    @cached_property
    def _middles(self) -> dict[str, tuple[tuple[float, Outline], ...]]:
        return {}

    def may_hold(self, board: Board, need: Need, *, is_bare: bool = False) -> bool:
        """Return whether a board may hold a part; False is proof that it does not.

        ``is_bare``: as if nothing stood in its way.
        """
        return self._lacks(board, need, is_bare=is_bare) is None

    def nearest(
        self, boards: Sequence[Board], need: Need, *, is_bare: bool
    ) -> tuple[Demand, Room] | None:
        """Return what a part first lacks, on the board that comes nearest; None if on none."""
        lacks = [self._lacks(board, need, is_bare=is_bare) for board in boards]
        found = [lack for lack in lacks if lack is not None]
        return max(
            found, key=lambda lack: (lack[0].depth_mm, lack[0].share_of(lack[1])), default=None
        )

    def _lacks(self, board: Board, need: Need, *, is_bare: bool) -> tuple[Demand, Room] | None:
        """Return the first demand that no room of a board meets, with the nearest of them."""
        for demand in self._asked(need, _grain(board)):
            rooms = self._of(board, None if is_bare else need, demand.depth_mm)
            if not any(demand.fits(room) for room in rooms):
                return demand, max(rooms, key=demand.share_of, default=Room(board, 0.0, 0.0, 0.0))
        return None

    def _asked(self, need: Need, grain_deg: float | None) -> tuple[Demand, ...]:
        """Return what a part takes, whole and then where it is deep, from the least depth up."""
        key = (need.part, grain_deg)
        if key not in self._demands:
            if need.part not in self._middles:
                self._middles[need.part] = tuple(_middles(need.outline))
            self._demands[key] = tuple(
                Demand(depth, *least_extents(outline, grain_deg), outline.area_mm2)
                for depth, outline in self._middles[need.part]
            )
        return self._demands[key]

    def _of(self, board: Board, need: Need | None, depth_mm: float) -> tuple[Room, ...]:
        """Return the free wood of a board for a part, or as if nothing stood in its way."""
        holes = "" if need is None else need.holes.value
        key = (board.name, holes, depth_mm)
        if key not in self._found:
            if (board.name, holes) not in self._free:
                self._free[board.name, holes] = self._measured(board, need)
            # Arcs are chords here, inside the true ones: what is left is no less than there is.
            middles = self._free[board.name, holes].buffer(-depth_mm / 2)
            self._found[key] = tuple(_rooms_of(middles, board, depth_mm))
        return self._found[key]

    def _measured(self, board: Board, need: Need | None) -> BaseGeometry:
        free: BaseGeometry = board.shape.buffer(-self.rules.trim_mm)
        if need is None:
            return free
        in_way = [
            keep_out.core.buffer(keep_out.reach_mm + self.rules.kept_off_mm(keep_out))
            for keep_out in board.keep_outs
            if not need.ignores(keep_out, self.rules) and not need.may_plug(keep_out, self.rules)
        ]
        return without(free, united(in_way))


def _rooms_of(wood: BaseGeometry, board: Board, depth_mm: float) -> Iterator[Room]:
    for piece in getattr(wood, "geoms", [wood]):
        if piece.area > 0:
            low_x, low_y, high_x, high_y = piece.bounds
            yield Room(board, high_x - low_x, high_y - low_y, float(piece.area), depth_mm)


def _middles(outline: Outline) -> Iterator[tuple[float, Outline]]:
    """Yield an outline, and for some depths the largest piece of its middles, from the least up."""
    yield 0.0, outline
    deepest = 2 * float(shapely.maximum_inscribed_circle(outline.shape).length)
    for depth in [mm for mm in DEPTHS_MM if mm < deepest][-MOST_DEPTHS:]:
        # Corners run to a point: what is left is no more than there is.
        middles = outline.shape.buffer(-depth / 2, join_style="mitre")
        widest = max(getattr(middles, "geoms", [middles]), key=lambda piece: float(piece.area))
        if widest.area > 0:
            yield depth, replace(outline, shape=widest)
