"""What is usual in boats of a build: what rests on what, and how it is fastened.

So that a whole boat can be described in an hour: a file gives members by their usual names, and
only the joints that are otherwise. Common practice, no source, but for the screws: sizes and bungs
for a thickness of plank go by N. G. Herreshoff's and Nevins' rules for yacht construction as a
dealer in fastenings prints them (its column heads were lost and their meaning was inferred), the
diameter of a gauge by the table of wood screws that is said to follow ASME B18.6.1.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from nesting.judging.old_boat import Fastener

INCH = 25.4


class Build(StrEnum):
    """How she is planked."""

    CARVEL = "carvel"
    CLINKER = "clinker"
    OTHER = "other"
    """Nothing is usual: every joint is given."""


class Step(StrEnum):
    """What fasteners are spaced by."""

    FRAMES = "frame"
    BEAMS = "beam"


@dataclass(frozen=True)
class UsualMember:
    """What is usual of a member."""

    rests_on: tuple[str, ...] = ()
    holds_her: bool = False


@dataclass(frozen=True)
class UsualJoint:
    """A joint as it usually is.

    ``each`` is a number of fasteners to a piece, at its ends alone if ``is_at_ends``, else ``step``
    says how far apart they stand.
    """

    of: str
    to: str
    fastener: Fastener
    step: Step | float | None = None
    each: int = 0
    rows: int = 1
    is_open_behind: bool = False
    is_at_ends: bool = False


MEMBERS: Mapping[str, UsualMember] = {
    "rail": UsualMember(("decking",)),
    "coaming": UsualMember(("carlin",)),
    "house top": UsualMember(("house beam",)),
    "house beam": UsualMember(("house side",)),
    "house side": UsualMember(("carlin",)),
    "decking": UsualMember(("deck beam",)),
    "carlin": UsualMember(("deck beam",)),
    "hanging knee": UsualMember(("frame",)),
    "lodging knee": UsualMember(("clamp",)),
    "deck beam": UsualMember(("clamp",), holds_her=True),
    "clamp": UsualMember(("frame",)),
    "ceiling": UsualMember(("frame",)),
    "cabin sole": UsualMember(("sole beam",)),
    "sole beam": UsualMember(("floor",)),
    "bulkhead": UsualMember(("frame",), holds_her=True),
    "transom": UsualMember(("keel",), holds_her=True),
    "hull planking": UsualMember(("frame",)),
    "floor": UsualMember(("keel",), holds_her=True),
    "frame": UsualMember(("keel",), holds_her=True),
    "keel": UsualMember((), holds_her=True),
    "stem": UsualMember(("keel",), holds_her=True),
}
"""By the usual name."""

_S, _B, _N, _R, _D = (
    Fastener.SCREW,
    Fastener.BOLT,
    Fastener.NAIL,
    Fastener.RIVET,
    Fastener.DRIFT,
)

_INSIDE = (
    UsualJoint("rail", "decking", _S, 12 * INCH),
    UsualJoint("coaming", "carlin", _S, 8 * INCH),
    UsualJoint("house top", "house beam", _S, Step.BEAMS, rows=2),
    UsualJoint("house beam", "house side", _S, each=2, is_at_ends=True),
    UsualJoint("house side", "carlin", _B, 10 * INCH),
    UsualJoint("decking", "deck beam", _S, Step.BEAMS),
    UsualJoint("carlin", "deck beam", _S, each=4),
    UsualJoint("hanging knee", "frame", _B, each=3),
    UsualJoint("hanging knee", "deck beam", _B, each=3),
    UsualJoint("lodging knee", "deck beam", _B, each=3),
    UsualJoint("lodging knee", "clamp", _B, each=2),
    UsualJoint("deck beam", "clamp", _B, each=2, is_at_ends=True),
    UsualJoint("clamp", "frame", _B, Step.FRAMES),
    UsualJoint("ceiling", "frame", _S, Step.FRAMES, rows=2),
    UsualJoint("cabin sole", "sole beam", _S, 16 * INCH, rows=2),
    UsualJoint("sole beam", "floor", _B, each=2, is_at_ends=True),
    UsualJoint("bulkhead", "frame", _S, 6 * INCH),
    UsualJoint("floor", "frame", _B, each=4),
    UsualJoint("floor", "keel", _B, each=2),
    UsualJoint("stem", "keel", _B, each=4, is_at_ends=True),
    UsualJoint("transom", "keel", _B, each=2),
)

JOINTS: Mapping[Build, tuple[UsualJoint, ...]] = {
    Build.CARVEL: (
        *_INSIDE,
        UsualJoint("hull planking", "frame", _S, Step.FRAMES, rows=2, is_open_behind=True),
        UsualJoint("hull planking", "transom", _S, each=2, is_at_ends=True),
        UsualJoint("frame", "keel", _D, each=1, is_at_ends=True),
    ),
    Build.CLINKER: (
        *_INSIDE,
        UsualJoint("hull planking", "hull planking", _R, 2.5 * INCH, is_open_behind=True),
        UsualJoint("hull planking", "frame", _R, Step.FRAMES, is_open_behind=True),
        UsualJoint("hull planking", "transom", _N, each=3, is_at_ends=True),
        UsualJoint("frame", "keel", _N, each=1, is_at_ends=True),
    ),
    Build.OTHER: (),
}
"""By build; those of which the boat has both members."""


@dataclass(frozen=True)
class ScrewSize:
    """A screw by the thickness of the plank that it holds, all in mm."""

    plank_mm: float
    diameter_mm: float
    bung_mm: float


def gauge_mm(gauge: int) -> float:
    """Return the shank's diameter of a wood screw by its gauge number.

    >>> round(gauge_mm(12) / 25.4, 3)
    0.216
    """
    return (0.060 + 0.013 * gauge) * INCH


SCREWS = tuple(
    ScrewSize(plank * INCH, gauge_mm(gauge), bung * INCH)
    for plank, gauge, bung in (
        (3 / 8, 6, 5 / 16),
        (7 / 16, 7, 5 / 16),
        (1 / 2, 8, 3 / 8),
        (9 / 16, 9, 3 / 8),
        (5 / 8, 10, 7 / 16),
        (3 / 4, 12, 7 / 16),
        (7 / 8, 14, 1 / 2),
        (1, 16, 9 / 16),
        (9 / 8, 18, 5 / 8),
        (5 / 4, 20, 11 / 16),
        (3 / 2, 22, 3 / 4),
        (7 / 4, 24, 13 / 16),
        (2, 26, 13 / 16),
    )
)
"""The rule's rows."""


def screw_for(plank_mm: float) -> ScrewSize:
    """Return the screw of the thickest plank in the rule that is no thicker than this one."""
    fitting = [size for size in SCREWS if size.plank_mm <= plank_mm + 0.5]
    return fitting[-1] if fitting else SCREWS[0]


BOLT_MM = 9.525
"""A bolt of 3/8 in, if nothing else is said (builders' accounts: 1/4 to 3/8 in in frames)."""

RIVET_MM = 3.25
"""A copper nail of 10 gauge (imperial standard wire gauge; that boat nails follow it: trade)."""

WIRE_NAIL_MM, STAPLE_MM = 3.75, 1.6
"""A wire nail of 3 in, 9 gauge of the steel wire gauge (from memory); a staple of 16 gauge (common
practice, no source)."""

TREENAIL_MM = 25.0
"""About an inch for a ship of 100 ft (Falconer, Marine dictionary, 1780)."""

USUAL_MM: Mapping[Fastener, float] = {
    Fastener.BOLT: BOLT_MM,
    Fastener.DRIFT: BOLT_MM,
    Fastener.RIVET: RIVET_MM,
    Fastener.CLENCHED_NAIL: RIVET_MM,
    Fastener.WIRE_NAIL: WIRE_NAIL_MM,
    Fastener.STAPLE: STAPLE_MM,
    Fastener.TREENAIL: TREENAIL_MM,
}
"""Of the shank, if nothing else is said; what is not here is as thick as the usual screw."""
