"""What an old boat's file says that may be, and hardly is: told beside the judgement."""

from __future__ import annotations

from collections.abc import Iterator

from nesting.judging.old_boat import Joint, Member, OldBoat
from nesting.likely_sizes import BAULK_MM, FASTENING_MM, LONGEST_MM, ON_EDGE, WIDEST_MM
from nesting.units import Unit
from nesting.written_measures import format_length

CROWDED = 4.0
"""Nearer along the grain than so many times their thickness fasteners split what they hold (common
practice, no source)."""


def boat_doubts(boat: OldBoat, unit: Unit) -> Iterator[str]:
    """Yield a sentence for everything that is probably mistyped or forgotten."""
    if not boat.joints:
        yield (
            "she has no joint at all, so pulling costs nothing but carrying off: give them under "
            "joints, or a build (carvel, clinker) and members by their usual names"
        )
    for member in boat.members:
        for words in _sizes(member, unit):
            yield f"member {member.name}: {words}"
        if boat.joints and not boat.joints_of[member.name]:
            yield (
                f"member {member.name}: no joint holds it, so it costs nothing but carrying off; "
                "is one missing?"
            )
    for joint in boat.joints:
        if (apart := _spacing(joint, boat.by_name[joint.of], unit)) is not None:
            yield f"joint {joint.name}: {apart}"
        if joint.diameter_mm > FASTENING_MM:
            across = format_length(joint.diameter_mm, unit)
            yield f"joint {joint.name}: a fastener of {across}: is the unit right?"


def _sizes(member: Member, unit: Unit) -> Iterator[str]:
    long, wide, thick = (
        format_length(mm, unit) for mm in (member.length_mm, member.width_mm, member.thickness_mm)
    )
    if member.width_mm > member.length_mm:
        yield f"{long} long and {wide} wide: are the two exchanged?"
    elif member.thickness_mm > ON_EDGE * member.width_mm:
        yield f"{thick} thick and {wide} wide: are the two exchanged?"
    elif member.thickness_mm > BAULK_MM:
        yield f"{thick} thick: is the unit right?"
    elif member.width_mm > WIDEST_MM:
        yield f"{wide} wide: is the unit right?"
    elif member.length_mm > LONGEST_MM:
        yield f"{long} long: is the unit right?"


def _spacing(joint: Joint, outer: Member, unit: Unit) -> str | None:
    apart = format_length(joint.spacing_mm, unit)
    if joint.spacing_mm < CROWDED * joint.diameter_mm:
        thick = format_length(joint.diameter_mm, unit)
        return f"fasteners of {thick} stand {apart} apart, which splits wood: is the unit right?"
    if joint.spacing_mm <= outer.length_mm * 1.001:
        return None
    long = format_length(outer.length_mm, unit)
    return f"fasteners {apart} apart on pieces {long} long: one place a piece is reckoned with"
