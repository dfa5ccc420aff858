"""The independent referee: re-measures a cutting plan with shapely alone.

It uses nothing of the packer: every distance, count and angle is measured again, from the true
outlines, and any fault stops the plan from being written. Both go by what a board, a part, a
placement and the rules say of themselves (``Need.ignores`` and ``may_plug``, ``Rules.kept_off_mm``
and ``plug_for``, the direction of a ``GrainPath``, ``Placement.to_board``), lay outlines over
each other by ``overlay`` and start processes by ``all_cores``: a mistake there would escape it, so
those have tests of their own.
Touching an allowed limit counts as keeping it, to within a millionth of a millimetre.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from functools import partial

import numpy as np
import shapely
from shapely.geometry import Point, Polygon

from nesting.flat_geometry.overlay import shared, without
from nesting.need import Need
from nesting.nest import CuttingPlan, Nest, Placement
from nesting.processes.all_cores import MANY_NESTS, on_all_cores
from nesting.referee.bungs import check_bungs, check_plugged
from nesting.referee.fault import QUANTITY, Fault, require_none
from nesting.referee.grain import farthest_off_deg, steepest_deg
from nesting.referee.near import KeepOutsNear
from nesting.rules import TOUCH_MM, Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOut
from nesting.units import slope_angle

GOVERNING = (
    "outline", "species", "holes", "plugs_per_metre", "moisture_percent", "heartwood_only",
    "not_from",
)  # fmt: skip
"""What of a need says where it may lie: the same in what was asked for and in what was placed."""

TOUCH_DEG = 1e-5
"""Angles are compared to this: 0.2 microns over a metre."""


def check_plan(plan: CuttingPlan, needs: Sequence[Need], rules: Rules) -> tuple[Fault, ...]:
    """Return every fault of a plan; an empty tuple is a plan that may be cut."""
    faults = [*_check_counts(plan, needs), *_check_asked(plan, needs)]
    if len(plan.nests) < MANY_NESTS:
        of_each = [check_nest(nest, rules) for nest in plan.nests]
    else:
        of_each = on_all_cores(partial(check_nest, rules=rules), plan.nests)
    return (*faults, *(fault for of_one in of_each for fault in of_one))


def require_sound(plan: CuttingPlan, needs: Sequence[Need], rules: Rules) -> None:
    """Do nothing if a plan keeps every rule.

    Raises
    ------
    RefereeError
        With every fault, so that nothing is written from the plan.
    """
    require_none(check_plan(plan, needs, rules))


def check_nest(nest: Nest, rules: Rules) -> tuple[Fault, ...]:
    """Return every fault of one board's nest."""
    lying = [(placement, placement.polygon) for placement in nest.placements]
    keep_outs = KeepOutsNear(
        nest.board.keep_outs, lambda one: one.bounding_circle[2] + rules.kept_off_mm(one)
    )
    faults: list[Fault] = []
    for placement, polygon in lying:
        around = keep_outs.to(polygon)
        faults += _check_wood(placement, nest.board, rules)
        faults += _check_edges(placement, polygon, nest.board, rules)
        faults += _check_grain(placement, nest.board)
        for keep_out in around:
            faults += _check_keep_out(placement, polygon, keep_out, nest.board, rules)
        faults += check_bungs(placement, polygon, around, nest.board, rules)
    for first, second in _neighbours([polygon for _, polygon in lying], rules):
        faults += _check_neighbours(lying[first], lying[second], nest.board, rules)
    return tuple(faults)


def _neighbours(polygons: Sequence[Polygon], rules: Rules) -> list[tuple[int, int]]:
    """Return the pairs, each once, that are not farther apart than they must be."""
    needed = rules.kerf_mm + 2 * rules.trim_mm
    shapes = np.array(polygons, object)
    pairs = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=needed)
    return sorted((i, j) for i, j in pairs.T.tolist() if i < j)


def _check_counts(plan: CuttingPlan, needs: Sequence[Need]) -> Iterator[Fault]:
    placed = Counter(p.need.part for nest in plan.nests for p in nest.placements)
    missing = Counter[str]()
    for left in plan.unplaced:
        missing[left.need.part] += left.count
    names = {need.part for need in needs}
    for part in sorted(set(placed) - names):
        yield Fault("parts asked for", "any", f"{part} was placed but never asked for")
    for need in needs:
        total = placed[need.part] + missing[need.part]
        if total != need.quantity:
            yield Fault(
                QUANTITY,
                "any",
                f"{need.part}: {placed[need.part]} placed and {missing[need.part]} left over "
                f"make {total}, {need.quantity} are wanted",
            )
    for nest in plan.nests:
        for one in nest.placements:
            if not 1 <= one.copy <= one.need.quantity:
                said = f"{one.need.part}: copy {one.copy} was placed, of {one.need.quantity}"
                yield Fault(QUANTITY, nest.board.name, said)
    labels = Counter(p.label for nest in plan.nests for p in nest.placements)
    for label, count in labels.items():
        if count > 1:
            yield Fault("labels", "any", f"{label} was placed {count} times")
    for name, count in Counter(nest.board.name for nest in plan.nests).items():
        if count > 1:
            yield Fault("boards", name, f"it has {count} nests")


def _check_asked(plan: CuttingPlan, needs: Sequence[Need]) -> Iterator[Fault]:
    """Yield placed parts that differ from those that were asked for by their names."""
    asked = {need.part: need for need in needs}
    for nest in plan.nests:
        for need in {id(one.need): one.need for one in nest.placements}.values():
            wanted = asked.get(need.part, need)
            for what in GOVERNING:
                ours, theirs = getattr(need, what), getattr(wanted, what)
                if ours is not theirs and ours != theirs:
                    said = f"{need.part} is not as it was asked for: {what} differs"
                    yield Fault("parts asked for", nest.board.name, said)


def _check_wood(placement: Placement, board: Board, rules: Rules) -> Iterator[Fault]:
    need, label = placement.need, placement.label
    if board.species not in need.species:
        yield Fault("species", board.name, f"{label} does not accept {board.species}")
    left = board.thickness_mm - 2 * rules.cleaning_loss_mm
    if left < need.outline.siding_mm - TOUCH_MM:
        yield Fault(
            "thickness",
            board.name,
            f"{label} needs {need.outline.siding_mm:.3f} mm, {left:.3f} mm is left when clean",
        )
    if placement.is_turned_over and not need.outline.may_turn_over:
        yield Fault("face up", board.name, f"{label} may not be turned over")
    if board.member and board.member in need.not_from:
        yield Fault("previous use", board.name, f"{label} may not come from {board.member}")
    if need.heartwood_only and board.heartwood is False:
        yield Fault("heartwood", board.name, f"{label} must be heartwood")
    if need.moisture_percent and board.moisture_percent is not None:
        low, high = need.moisture_percent
        if not low <= board.moisture_percent <= high:
            yield Fault(
                "moisture",
                board.name,
                f"{label} wants {low:g} to {high:g} %, it has {board.moisture_percent:g} %",
            )


def _check_edges(
    placement: Placement, polygon: Polygon, board: Board, rules: Rules
) -> Iterator[Fault]:
    outside = without(polygon, board.shape).area
    if outside > _sliver(polygon):
        yield Fault("inside the board", board.name, f"{placement.label}: {outside:.4f} mm2 is off")
        return
    gap = polygon.distance(board.shape.exterior)
    if gap < rules.trim_mm - TOUCH_MM:
        yield Fault(
            "trim at the edge",
            board.name,
            f"{placement.label} is {gap:.6f} mm from it, {rules.trim_mm:g} mm is needed",
        )


def _sliver(polygon: Polygon) -> float:
    """Return the area, mm2, of a strip one touch wide along a polygon's edge."""
    return float(polygon.length) * TOUCH_MM


def _check_neighbours(
    first: tuple[Placement, Polygon],
    second: tuple[Placement, Polygon],
    board: Board,
    rules: Rules,
) -> Iterator[Fault]:
    gap = first[1].distance(second[1])
    needed = rules.kerf_mm + 2 * rules.trim_mm
    names = f"{first[0].label} and {second[0].label}"
    if gap < needed - TOUCH_MM:
        yield Fault(
            "kerf and trim", board.name, f"{names} are {gap:.6f} mm apart, {needed:g} mm is needed"
        )
    elif shared(first[1], second[1]).area > _sliver(first[1]):
        yield Fault("overlap", board.name, f"{names} overlap")


def _check_grain(placement: Placement, board: Board) -> Iterator[Fault]:
    outline = placement.need.outline
    worst, limit = farthest_off_deg(placement, board), slope_angle(outline.slope_of_grain)
    if worst > limit + TOUCH_DEG:
        yield Fault(
            "slope of grain",
            board.name,
            f"{placement.label} lies {worst:.4f} degrees off it, {limit:.4f} are allowed",
        )
    if outline.run_out_limit is None:
        return
    off, limit = steepest_deg(placement, board), slope_angle(outline.run_out_limit)
    if off > limit + TOUCH_DEG:
        yield Fault(
            "run-out of grain",
            board.name,
            f"{placement.label} has edges {off:.4f} degrees off it, {limit:.4f} are allowed",
        )


def _check_keep_out(
    placement: Placement, polygon: Polygon, keep_out: KeepOut, board: Board, rules: Rules
) -> Iterator[Fault]:
    if placement.need.ignores(keep_out, rules):
        return
    x, y, _ = keep_out.bounding_circle
    plug = rules.plug_for(keep_out) if placement.need.may_plug(keep_out, rules) else None
    if plug is not None and polygon.contains(Point(x, y)):
        yield from check_plugged(placement, (x, y, plug), board, rules)
        return
    gap = polygon.distance(keep_out.core) - keep_out.reach_mm
    needed = rules.kept_off_mm(keep_out)
    is_over = gap < -TOUCH_MM or shared(polygon, keep_out.core).area > _sliver(polygon)
    if is_over or gap < needed - TOUCH_MM:
        lies = "lies over" if is_over else f"is {gap:.6f} mm from"
        yield Fault(
            f"clear of {keep_out.kind}",
            board.name,
            f"{placement.label} {lies} the one at ({x:.1f}, {y:.1f}) mm, {needed:g} mm is needed",
        )
