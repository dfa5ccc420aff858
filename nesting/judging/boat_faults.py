"""What no boat can be: members that rest on each other, fasteners that have no room where they are.

Each is noted in the file, at its place. What may be and hardly is stands in ``boat_doubts``.
"""

from __future__ import annotations

from collections.abc import Mapping
from graphlib import CycleError, TopologicalSorter

from nesting.judging.boat_entry import JointEntry
from nesting.judging.old_boat import Joint, Member
from nesting.project.entry import Entry

LEAST_THICK_MM = 3.0
"""Nothing thinner is sawn from an old boat (common practice, no source): the unit is another."""


def note_member(entry: Entry, member: Member) -> bool:
    """Note sizes that no member has, and return whether there are none."""
    thick, bow, long = member.thickness_mm, member.sweep_mm, member.length_mm
    is_thin, is_bent = thick < LEAST_THICK_MM, bow > long / 2
    if is_thin:
        words = f"thickness: {thick:g} mm is below {LEAST_THICK_MM:g} mm: is the unit right?"
        entry.note(("thickness",), words)
    if is_bent:
        entry.note(("sweep",), f"sweep: {bow:g} mm is over half of the length, {long:g} mm")
    return not (is_thin or is_bent)


def note_ring(members: Mapping[str, Member], entries: Mapping[str, Entry]) -> None:
    """Note members that rest on each other in a ring: none of them could come off first."""
    ring = _ring(members)
    if not ring:
        return
    entry = entries[ring[0]]
    place = ("rests_on",) if "rests_on" in entry.data else ()
    if len(ring) == 1:
        entry.note(place, "rests_on: rests on itself; name what carries it, or [] for nothing")
        return
    pairs = ", ".join(
        f"{name} on {below}" for name, below in zip(ring, [*ring[1:], ring[0]], strict=True)
    )
    entry.note(
        place, f"rests_on: they rest on each other in a ring: {pairs}; one must come off first"
    )


def _ring(members: Mapping[str, Member]) -> list[str]:
    """Return members of which each rests on the next, and the last on the first; or none.

    A sorter names a ring in the order of work, each before what it waits for: turned about, each
    rests on the next. It begins with the member that the file has first.
    """
    try:
        TopologicalSorter({name: one.rests_on for name, one in members.items()}).prepare()
    except CycleError as error:
        ring = list(reversed(error.args[1]))[1:]
        first = min(range(len(ring)), key=lambda k: list(members).index(ring[k]))
        return ring[first:] + ring[:first]
    return []


def note_joint(entry: Entry, joint: Joint, outer: Member, holder: Member) -> bool:
    """Note fasteners for which there is no room, and return whether there is."""
    faults = [*_room_faults(joint, outer, holder), *_bung_faults(joint, outer)]
    for key, words in faults:
        place = (key,) if key in entry.data else ()
        entry.note(place, f"{key}: {words}")
    return not faults


def _room_faults(joint: Joint, outer: Member, holder: Member) -> list[tuple[str, str]]:
    wide, across, edge = outer.width_mm, joint.diameter_mm, joint.from_edge_mm
    thickest = max(holder.width_mm, holder.thickness_mm)
    found = list[tuple[str, str]]()
    if across >= min(wide, thickest):
        narrow = outer.name if wide <= thickest else holder.name
        words = f"a fastener of {across:g} mm is as wide as {narrow}, {min(wide, thickest):g} mm"
        found.append(("diameter", words))
    elif joint.rows * across > wide:
        words = f"{joint.rows} rows of {across:g} mm do not fit side by side into {wide:g} mm"
        found.append(("rows", words))
    if joint.spacing_mm < across:
        words = (
            f"fasteners of {across:g} mm cannot stand {joint.spacing_mm:g} mm apart: "
            "is the unit right?"
        )
        found.append(("spacing", words))
    room = wide if joint.rows == 1 else wide / 2
    if edge >= room:
        both = "the edge" if joint.rows == 1 else "both edges"
        found.append(("from_edge", f"{edge:g} mm from {both} of {outer.name}, {wide:g} mm wide"))
    return found


def _bung_faults(joint: Joint, outer: Member) -> list[tuple[str, str]]:
    bung = joint.bung_mm
    if 0.0 < bung < joint.diameter_mm:
        words = f"{bung:g} mm is narrower than the fastener below it, {joint.diameter_mm:g} mm"
        return [("bung", f"{words}; 0 for none")]
    if bung >= outer.width_mm:
        return [("bung", f"{bung:g} mm is as wide as {outer.name}, {outer.width_mm:g} mm")]
    return []


def note_none(entry: Entry, given: JointEntry) -> None:
    """Note what is said of the fasteners of a joint that is said not to be."""
    said = sorted(given.model_fields_set - {"of", "to", "none"})
    if given.none and said:
        key = said[0].removesuffix("_mm")
        words = f"there is no such joint, and yet its {key} is given: leave one of them out"
        entry.note(("none",), f"none: {words}")
