"""Parts that no board can give: by its wood, thickness or grain, or the room it has at the most."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from shapely.geometry.base import BaseGeometry

from nesting.engine.wood.extents import follows, least_extents
from nesting.errors import Finding
from nesting.flat_geometry.overlay import united, without
from nesting.need import Misfit, Need
from nesting.project import Project
from nesting.rules import TOUCH_MM, Rules
from nesting.stock.board import Board
from nesting.units import Unit
from nesting.written_measures import format_length


@dataclass(frozen=True)
class Room:
    """The extents of one piece of free wood along x and y, and its area: nothing larger fits."""

    board: Board
    length_mm: float
    width_mm: float
    area_mm2: float


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
        return any(self._rooms.holds(room, need) for room in self._rooms.of(board, need))


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
    if any(rooms.holds(room, need) for board in suited for room in rooms.of(board, need)):
        return None
    bare = [room for board in suited for room in rooms.of(board, None)]
    if any(rooms.holds(room, need) for room in bare):
        clear = [room for board in suited for room in rooms.of(board, need)]
        return _too_small(need, clear, "stretch free of what it may not hold", unit)
    return _too_small(need, bare, "board of its wood and thickness, inside the trim", unit)


def _too_small(need: Need, rooms: Sequence[Room], what: str, unit: Unit) -> str:
    """Return the room that comes nearest beside what the part takes at the least."""
    if not rooms:
        return f"there is no {what}"
    near = max(rooms, key=lambda room: _share(room, need, _least(room, need)))
    least = _least(near, need)
    (long, wide), (length, width) = (
        [format_length(mm, unit) for mm in sizes]
        for sizes in (least, (near.length_mm, near.width_mm))
    )
    return (
        f"it takes at least {long} along a board by {wide} across, and the nearest {what}, "
        f"on {near.board.name}, has {length} by {width}"
    )


def _share(room: Room, need: Need, least: tuple[float, float]) -> float:
    """Return how much of its least extents and area a part has room for, the worst of them."""
    along, across = least
    return min(
        (room.length_mm + TOUCH_MM) / along,
        (room.width_mm + TOUCH_MM) / across,
        room.area_mm2 / need.outline.area_mm2,
    )


def _least(room: Room, need: Need) -> tuple[float, float]:
    return least_extents(need.outline, _grain(room.board))


def _grain(board: Board) -> float | None:
    return board.grain.angles_deg[0] if board.grain.is_straight else None


@dataclass(frozen=True)
class _Rooms:
    """Free wood of each board, for parts that tolerate as much."""

    rules: Rules

    @cached_property
    def _found(self) -> dict[tuple[str, str], tuple[Room, ...]]:
        return {}

    @cached_property
    def _extents(self) -> dict[tuple[str, float | None], tuple[float, float]]:
        return {}

    def holds(self, room: Room, need: Need) -> bool:
        """Return whether a room may hold a part; False is proof that it does not."""
        key = (need.part, _grain(room.board))
        if key not in self._extents:
            self._extents[key] = _least(room, need)
        return _share(room, need, self._extents[key]) >= 1.0 - 1e-9

    def of(self, board: Board, need: Need | None) -> tuple[Room, ...]:
        """Return the free wood of a board for a part, or as if nothing stood in its way."""
        key = (board.name, "" if need is None else need.holes.value)
        if key not in self._found:
            self._found[key] = tuple(self._measured(board, need))
        return self._found[key]

    def _measured(self, board: Board, need: Need | None) -> Iterator[Room]:
        free: BaseGeometry = board.shape.buffer(-self.rules.trim_mm, join_style="mitre")
        if need is not None:
            in_way = [
                keep_out.core.buffer(keep_out.reach_mm + self.rules.kept_off_mm(keep_out))
                for keep_out in board.keep_outs
                if not need.ignores(keep_out, self.rules)
                and not need.may_plug(keep_out, self.rules)
            ]
            free = without(free, united(in_way))
        for piece in getattr(free, "geoms", [free]):
            if piece.area > 0:
                low_x, low_y, high_x, high_y = piece.bounds
                yield Room(board, high_x - low_x, high_y - low_y, float(piece.area))
