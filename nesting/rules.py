"""The rules of a project: what the saw takes, what it keeps clear of, what may be plugged."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from nesting.errors import ShapeError
from nesting.given import finite, made, number, numbers, whole, word
from nesting.new_timber_rules import MOST_ALLOWANCE_MM, NewTimberRules
from nesting.sources import NO_SOURCE, SAW_KERFS
from nesting.stock.keep_out import PLUGGABLE, KeepOut, KeepOutKind
from nesting.units import MM_PER_INCH, Unit
from nesting.unseen import quoted

TOUCH_MM = 1e-6
"""Distances are compared to this: far below any saw, far above rounding in a 40 m frame."""

USUAL_CLEARANCES_MM: Mapping[KeepOutKind, float] = {KeepOutKind.ROT: 20.0, KeepOutKind.SPLIT: 6.0}
"""Kept between a part and what has gone further than it shows: rot along the grain, a split past
its visible end (common practice, no source). A project may set its own, 0 too."""

USUAL_SOURCES: Mapping[str, str] = {
    "kerf_mm": f"{NO_SOURCE}; {SAW_KERFS}",
    "trim_mm": NO_SOURCE,
    "blade_clearance_mm": NO_SOURCE,
    "clearances_mm": NO_SOURCE,
    # A sawmill's own account takes 3 mm off both faces together to skim a rough board.
    "cleaning_loss_mm": f"{NO_SOURCE}: a skim of 3 mm in all",
    "least_offcut": NO_SOURCE,
    # A joiner's account keeps cutters of 1/4, 3/8 and 1/2 in; many yards go up to 5/8.
    "plug_sizes_mm": NO_SOURCE,
    "reaming_mm": NO_SOURCE,
    "plug_edge_mm": NO_SOURCE,
    "plugs_per_metre": NO_SOURCE,
    "surface_check_mm": NO_SOURCE,
    "saw_blade_mm": f"{NO_SOURCE}: 7 1/4 in",
    "handy": NO_SOURCE,
    "break_down": NO_SOURCE,
    "new_timber": "each value says its own",
}
"""Where each usual value of the rules comes from; the schema shows it beside the value."""


class Breaking(StrEnum):
    """What straight cuts are to the packer."""

    IGNORED = "ignored"
    PREFERRED = "preferred"


@dataclass(frozen=True)
class LeastOffcut:
    """The smallest rectangle that makes a piece worth keeping."""

    length_mm: float = 450.0
    width_mm: float = 75.0

    def __post_init__(self) -> None:
        for name in ("length_mm", "width_mm"):
            finite(getattr(self, name), f"least_offcut: {name}", over=0.0)


@dataclass(frozen=True)
class Handy:
    """The largest piece that one person can handle; its weight counts where it is known."""

    length_mm: float = 2400.0
    weight_kg: float = 25.0

    def __post_init__(self) -> None:
        for name in ("length_mm", "weight_kg"):
            finite(getattr(self, name), f"handy: {name}", over=0.0)


WIDEST_KERF_MM, LARGEST_PLUG_MM, LARGEST_BLADE_MM = 12.0, 100.0, 600.0
"""More is a wrong unit. The widest saw, a chain saw's, takes 6 mm or a little more."""

MOST_MM = {
    "kerf_mm": WIDEST_KERF_MM,
    "trim_mm": MOST_ALLOWANCE_MM,
    "blade_clearance_mm": MOST_ALLOWANCE_MM,
    "cleaning_loss_mm": MOST_ALLOWANCE_MM,
    "reaming_mm": MOST_ALLOWANCE_MM,
    "plug_edge_mm": MOST_ALLOWANCE_MM,
    "surface_check_mm": MOST_ALLOWANCE_MM,
    "saw_blade_mm": LARGEST_BLADE_MM,
}


@dataclass(frozen=True)
class Rules:
    """Allowances that hold for every board and part of a project; all in mm.

    The usual values are those of a project in millimetres (:func:`usual_rules` has the others).
    Where the usual values come from stands in :data:`USUAL_SOURCES`.

    Attributes
    ----------
    kerf_mm
        Width of the saw's cut.
    trim_mm
        Left on around every part, to be planed to the line.
    blade_clearance_mm
        Least distance between any cut and metal.
    clearances_mm
        Least distance between a part and a keep-out of another kind; a kind that is not named
        keeps its usual one (:data:`USUAL_CLEARANCES_MM`), 0 if it has none.
    cleaning_loss_mm
        Taken off *each* face to reach clean wood.
    plug_sizes_mm
        Bungs that can be made, by diameter.
    reaming_mm
        What reaming adds to an old hole's diameter before it is plugged.
    plug_edge_mm
        Least distance from a bung to a cut edge of its part.
    plugs_per_metre
        Most bungs in any metre of a part that tolerates them.
    surface_check_mm
        Deepest split that still counts as a surface check on a hidden face.
    saw_blade_mm
        Diameter of the hand-held circular saw's blade.
    handy
        Largest piece that one person can handle; break-down cuts go on until pieces are no larger.
    break_down
        Whether plans that straight cuts break down are preferred.
    new_timber
        What new timber is sold as, and what is lost on it.
    """

    kerf_mm: float = 3.0
    trim_mm: float = 1.5
    blade_clearance_mm: float = 6.0
    clearances_mm: Mapping[KeepOutKind, float] = field(default_factory=dict, hash=False)
    cleaning_loss_mm: float = 1.5
    least_offcut: LeastOffcut = LeastOffcut()
    plug_sizes_mm: tuple[float, ...] = (9.525, 12.7, 15.875, 19.05)
    reaming_mm: float = 0.5
    plug_edge_mm: float = 6.0
    plugs_per_metre: int = 6
    surface_check_mm: float = 3.0
    saw_blade_mm: float = 184.0
    handy: Handy = Handy()
    break_down: Breaking = Breaking.IGNORED
    new_timber: NewTimberRules = field(default_factory=NewTimberRules)

    def __post_init__(self) -> None:
        for name, most in MOST_MM.items():
            size = finite(getattr(self, name), name, least=0.0, most=most)
            object.__setattr__(self, name, size)
        object.__setattr__(
            self, "plugs_per_metre", whole(self.plugs_per_metre, "plugs_per_metre", least=0)
        )
        made(self.least_offcut, LeastOffcut, "least_offcut", "LeastOffcut(450, 75)")
        made(self.handy, Handy, "handy", "Handy(2400, 25)")
        made(self.new_timber, NewTimberRules, "new_timber", "NewTimberRules(planing_mm=3)")
        object.__setattr__(self, "break_down", word(self.break_down, Breaking, "break_down"))
        clearances = {**USUAL_CLEARANCES_MM, **_clearances(self.clearances_mm)}
        object.__setattr__(self, "clearances_mm", clearances)
        sizes = sorted(numbers(self.plug_sizes_mm, "plug_sizes_mm"))
        for size in sizes:
            finite(size, "each of plug_sizes_mm", over=0.0, most=LARGEST_PLUG_MM)
        object.__setattr__(self, "plug_sizes_mm", tuple(sizes))

    @property
    def part_gap_mm(self) -> float:
        """Least distance between neighbouring parts: the kerf and both their trims."""
        return self.kerf_mm + 2 * self.trim_mm

    def clearance_mm(self, kind: KeepOutKind) -> float:
        """Return the least distance between a *part* and a keep-out of a kind.

        The cut runs outside the part's trim, so metal stays clear of the kerf's far side too.
        """
        if kind is KeepOutKind.METAL:
            return self.blade_clearance_mm + self.trim_mm + self.kerf_mm
        return self.clearances_mm.get(kind, 0.0)

    def kept_off_mm(self, keep_out: KeepOut) -> float:
        """Return the least distance between a *part* and a keep-out.

        What was sawn out of a board leaves an edge like its own, to be planed off as well.
        """
        least = self.trim_mm if keep_out.is_opening else 0.0
        return max(least, self.clearance_mm(keep_out.kind))

    def clean_thickness_mm(self, thickness_mm: float) -> float:
        """Return what is left of a thickness when both faces are cleaned up."""
        return thickness_mm - 2 * self.cleaning_loss_mm

    def is_planed_away(self, keep_out: KeepOut) -> bool:
        """Return whether cleaning up the recorded face takes a keep-out off; never so for metal."""
        if keep_out.kind is KeepOutKind.METAL or keep_out.depth_mm is None:
            return False
        return keep_out.depth_mm <= self.cleaning_loss_mm

    def plug_for(self, keep_out: KeepOut) -> float | None:
        """Return the diameter of the smallest bung that closes a keep-out, or None.

        None if the kind cannot be plugged (metal still in, rot) or no bung is large enough.
        """
        if keep_out.kind not in PLUGGABLE:
            return None
        return self.plug_over(2 * keep_out.bounding_circle[2])

    def plug_over(self, hole_mm: float) -> float | None:
        """Return the diameter of the smallest bung for a hole so wide and reamed, or None."""
        needed = hole_mm + self.reaming_mm
        return next((size for size in self.plug_sizes_mm if size >= needed - TOUCH_MM), None)


def usual_rules(unit: Unit) -> Rules:
    """Return the usual rules of a project in a unit.

    In inches or feet what the sheets say of the saw is set on a rule, and on the safe side of what
    is usual in millimetres.

    >>> usual_rules(Unit.MM).kerf_mm, usual_rules(Unit.FOOT).kerf_mm
    (3.0, 3.175)
    """
    if not unit.is_imperial:
        return Rules()
    return Rules(
        kerf_mm=MM_PER_INCH / 8,
        trim_mm=MM_PER_INCH / 16,
        blade_clearance_mm=MM_PER_INCH / 4,
        cleaning_loss_mm=MM_PER_INCH / 16,
    )


def _clearances(given: Any) -> dict[KeepOutKind, float]:
    if not isinstance(given, Mapping):
        raise ShapeError(f"clearances_mm is {quoted(given)}, must be as {{'rot': 20.0}}")
    found = {word(kind, KeepOutKind, "a clearance's kind"): mm for kind, mm in given.items()}
    for kind, mm in found.items():
        if not number(mm, f"the clearance of {kind}") >= 0:
            raise ShapeError(f"the clearance of {kind} is {mm:g} mm, must be 0 or more")
        finite(mm, f"the clearance of {kind}", most=MOST_ALLOWANCE_MM)
    return not_of_metal(found)


def not_of_metal(clearances: dict[KeepOutKind, float]) -> dict[KeepOutKind, float]:
    """Return clearances as they are.

    Raises
    ------
    ShapeError
        If metal is among them: a cut keeps clear of it by a rule of its own.
    """
    if KeepOutKind.METAL in clearances:
        raise ShapeError("metal is kept clear of by blade_clearance; set that instead")
    return clearances
