"""The referee's look at what is kept of a board: a rectangle that a saw can free, clear of metal.

Measured with shapely alone, from the true outlines; nothing of how offcuts are found is used.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

from shapely.geometry import Polygon

from nesting.flat_geometry.overlay import shared, without
from nesting.nest import Nest
from nesting.referee.fault import Fault
from nesting.referee.near import KeepOutsNear
from nesting.rules import TOUCH_MM, Rules
from nesting.stock.keep_out import KeepOut, KeepOutKind

SPOILS = (
    KeepOutKind.METAL,
    KeepOutKind.ROT,
    KeepOutKind.SPLIT,
    KeepOutKind.GROOVE,
    KeepOutKind.WORN_EDGE,
)
"""What no offcut may hold."""

SHARE_POINTS = 0.01
"""A share that is stated agrees with one measured again to this, in per cent of the board."""


def check_offcuts(offcuts: Sequence[Polygon], nest: Nest, rules: Rules) -> tuple[Fault, ...]:
    """Return every fault of what is kept of a board."""
    faults: list[Fault] = []
    spoiling = _spoiling(nest, rules)
    for number, offcut in enumerate(offcuts, start=1):
        faults += _check_size(f"k{number}", offcut, nest, rules)
        faults += _check_parts(f"k{number}", offcut, nest, rules)
        faults += _check_keep_outs(f"k{number}", offcut, spoiling.to(offcut), nest, rules)
    for (first, one), (second, other) in combinations(enumerate(offcuts, start=1), 2):
        gap = one.distance(other)
        if gap < rules.kerf_mm - TOUCH_MM or shared(one, other).area > _sliver(one):
            said = f"k{first} and k{second} are {gap:.6f} mm apart, {rules.kerf_mm:g} mm is needed"
            faults.append(Fault("kerf between offcuts", nest.board.name, said))
    return tuple(faults)


def check_scrap(offcuts: Sequence[Polygon], nest: Nest, stated_percent: float) -> tuple[Fault, ...]:
    """Return a fault if the scrap percentage that is stated for a board is not what it has."""
    used = sum(placement.polygon.area for placement in nest.placements)
    kept = sum(offcut.area for offcut in offcuts)
    percent = 100.0 * (1 - (used + kept) / nest.board.area_mm2)
    if abs(percent - stated_percent) <= SHARE_POINTS:
        return ()
    said = f"{stated_percent:.2f} % is stated, {percent:.2f} % is measured"
    return (Fault("scrap", nest.board.name, said),)


def _sliver(polygon: Polygon) -> float:
    """Return the area, mm2, of a strip one touch wide along a polygon's edge."""
    return float(polygon.length) * TOUCH_MM


def _check_size(name: str, offcut: Polygon, nest: Nest, rules: Rules) -> Iterator[Fault]:
    low_x, low_y, high_x, high_y = offcut.bounds
    long, wide, least = high_x - low_x, high_y - low_y, rules.least_offcut
    if offcut.area < long * wide - _sliver(offcut):
        yield Fault("offcut", nest.board.name, f"{name} is no rectangle along the board")
    if long < least.length_mm - 2 * TOUCH_MM or wide < least.width_mm - 2 * TOUCH_MM:
        yield Fault(
            "least offcut",
            nest.board.name,
            f"{name} is {long:.6f} x {wide:.6f} mm, {least.length_mm:g} x {least.width_mm:g} mm "
            "is needed",
        )
    outside = without(offcut, nest.board.shape).area
    if outside > _sliver(offcut):
        yield Fault("offcut inside the board", nest.board.name, f"{name}: {outside:.4f} mm2 is off")


def _check_parts(name: str, offcut: Polygon, nest: Nest, rules: Rules) -> Iterator[Fault]:
    needed = rules.kerf_mm + rules.trim_mm
    for placement in nest.placements:
        polygon = placement.polygon
        gap = polygon.distance(offcut)
        if gap < needed - TOUCH_MM or shared(polygon, offcut).area > _sliver(offcut):
            yield Fault(
                "kerf and trim",
                nest.board.name,
                f"{name} and {placement.label} are {gap:.6f} mm apart, {needed:g} mm is needed",
            )


def _spoiling(nest: Nest, rules: Rules) -> KeepOutsNear:
    """Return the keep-outs that no offcut may hold."""
    return KeepOutsNear(
        (k for k in nest.board.keep_outs if k.kind in SPOILS and not rules.is_planed_away(k)),
        lambda one: one.reach_mm + _needed_mm(one, rules),
    )


def _needed_mm(keep_out: KeepOut, rules: Rules) -> float:
    """Return how far an offcut keeps off a keep-out: off metal a saw runs beside it."""
    if keep_out.kind is KeepOutKind.METAL:
        return rules.blade_clearance_mm + rules.kerf_mm
    return rules.clearance_mm(keep_out.kind)


def _check_keep_outs(
    name: str, offcut: Polygon, near: Sequence[KeepOut], nest: Nest, rules: Rules
) -> Iterator[Fault]:
    for keep_out in near:
        gap = float(keep_out.core.distance(offcut)) - keep_out.reach_mm
        needed = _needed_mm(keep_out, rules)
        if gap < needed - TOUCH_MM or _covered(offcut, keep_out) > _sliver(offcut):
            x, y, _ = keep_out.bounding_circle
            yield Fault(
                f"offcut clear of {keep_out.kind}",
                nest.board.name,
                f"{name} is {gap:.6f} mm from the one at ({x:.1f}, {y:.1f}) mm, "
                f"{needed:g} mm is needed",
            )


def _covered(offcut: Polygon, keep_out: KeepOut) -> float:
    """Return how much of an offcut lies in a keep-out's core, mm2; points and lines cover none."""
    return shared(offcut, keep_out.core).area if isinstance(keep_out.core, Polygon) else 0.0
