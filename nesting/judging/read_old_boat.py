"""Read an old boat's file: members and joints, the usual ones filled in, all faults told."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from nesting.errors import ProjectFileError
from nesting.judging.boat_entry import JointEntry, MemberEntry, OldBoatEntry, WayEntry
from nesting.judging.old_boat import Fastener, Joint, Member, OldBoat, Rates, State
from nesting.judging.usual_build import (
    BOLT_MM,
    JOINTS,
    MEMBERS,
    RIVET_MM,
    Step,
    UsualJoint,
    UsualMember,
    screw_for,
)
from nesting.judging.ways import USUAL_WAYS, Way, WayFigures
from nesting.project.entry import Entry, Findings, Names
from nesting.project.stock import blocks_in
from nesting.project.unit import unit_of
from nesting.project.wording import did_you_mean
from nesting.units import Unit
from nesting.unseen import quoted
from nesting.yaml_file.document import read_document

Ways = Mapping[Way, WayFigures]


def read_old_boat(path: Path | str) -> tuple[OldBoat, Ways, Unit]:
    """Return an old boat, the figures of ways to part her joints, and the unit of her file.

    Raises
    ------
    ProjectFileError
        With everything that is wrong, each with its file, line and column.
    """
    document = read_document(Path(path))
    top = Entry(document, document.data, Findings())
    unit = unit_of(document)
    context = {"unit": unit or Unit.MM}
    head = top.validated(OldBoatEntry, context)
    if unit is None or head is None:
        raise ProjectFileError(top.findings.found)
    members = _members(top, context)
    joints = _joints(top, head, members, context)
    _require_order(top, members)
    if top.findings.found:
        raise ProjectFileError(top.findings.found)
    rates = head.rates
    boat = OldBoat(
        head.name, tuple(members.values()), joints,
        Rates(rates.hour, rates.board_foot, dict(rates.by_wood), rates.currency or ""),
    )  # fmt: skip
    return boat, {way: _figures(way, head.ways.get(way)) for way in Way}, unit


def _figures(way: Way, given: WayEntry | None) -> WayFigures:
    usual = USUAL_WAYS[way]
    if given is None:
        return usual
    own = {name: value for name, value in given.model_dump().items() if value is not None}
    if "success" in own:
        own["success"] /= 100.0
    return replace(usual, **own, source="given in the file")


def _members(top: Entry, context: dict[str, Any]) -> dict[str, Member]:
    names, found = Names("member"), dict[str, Member]()
    for number, data in blocks_in(top.data, "members"):
        title = f"member {data.get('member', number + 1)}"
        entry = top.below("members", number, data=data, title=title)
        names.add_written(entry)
        if (given := entry.validated(MemberEntry, context)) is not None:
            found[given.member] = _member(given)
    for number, data in blocks_in(top.data, "members"):
        entry = top.below("members", number, data=data, title=f"member {data.get('member')}")
        for place in data.get("rests_on", ()) if isinstance(data.get("rests_on"), list) else ():
            if isinstance(place, str) and place not in found:
                words = (
                    f"rests on {quoted(place)}, which is no member: {did_you_mean(place, found)}"
                )
                entry.note(("rests_on",), words)
    return {
        name: replace(member, rests_on=tuple(one for one in member.rests_on if one in found))
        for name, member in found.items()
    }


def _member(given: MemberEntry) -> Member:
    usual = MEMBERS.get(given.member, UsualMember())
    return Member(
        given.member, given.species, given.count,
        given.length_mm, given.width_mm, given.thickness_mm,
        given.sound / 100.0, given.sweep_mm,
        usual.rests_on if given.rests_on is None else given.rests_on,
        usual.holds_her if given.holds_her is None else given.holds_her,
        given.hazards,
    )  # fmt: skip


def _require_order(top: Entry, members: Mapping[str, Member]) -> None:
    """Note members that rest on each other in a ring: none of them could come off first."""
    done = set[str]()
    while len(done) < len(members):
        ready = {name for name, m in members.items()
                 if name not in done and all(one in done for one in m.rests_on)}  # fmt: skip
        if not ready:
            ring = ", ".join(sorted(set(members) - done))
            top.note(("members",), f"rest on each other in a ring: {ring}; one must come off first")
            return
        done |= ready


def _joints(
    top: Entry, head: OldBoatEntry, members: Mapping[str, Member], context: dict[str, Any]
) -> tuple[Joint, ...]:
    usual = {(one.of, one.to): one for one in JOINTS[head.build]
             if one.of in members and one.to in members}  # fmt: skip
    found = dict[tuple[str, str], Joint]()
    given_at = dict[tuple[str, str], JointEntry]()
    for number, data in blocks_in(top.data, "joints"):
        entry = top.below("joints", number, data=data, title=f"joint {number + 1}")
        given = entry.validated(JointEntry, context)
        if given is None or not _are_members(entry, given, members):
            continue
        pair = given.of, given.to
        if pair in given_at:
            entry.note(("of",), f"{given.of} to {given.to} is given twice: put both into one")
        given_at[pair] = given
        if not given.none:
            made = _joint(entry, given, usual.get(pair), head, members)
            if made is not None:
                found[pair] = made
    for pair, one in usual.items():
        if pair not in given_at:
            entry = top.below("build", data={}, title=f"the usual joint {one.of} to {one.to}")
            plain = JointEntry(of=one.of, to=one.to)
            made = _joint(entry, plain, one, head, members)
            if made is not None:
                found[pair] = made
    return tuple(found.values())


def _are_members(entry: Entry, given: JointEntry, members: Mapping[str, Member]) -> bool:
    lacking = [(key, name) for key, name in (("of", given.of), ("to", given.to))
               if name not in members]  # fmt: skip
    for key, name in lacking:
        entry.note((key,), f"{quoted(name)} is no member: {did_you_mean(name, members)}")
    return not lacking


def _joint(
    entry: Entry,
    given: JointEntry,
    usual: UsualJoint | None,
    head: OldBoatEntry,
    members: Mapping[str, Member],
) -> Joint | None:
    member = members[given.of]
    spacing = _spacing(entry, given, usual, head, member)
    fastener = given.fastener or (usual.fastener if usual else None)
    if fastener is None:
        allowed = ", ".join(Fastener)
        entry.note((), f"fastener is missing: nothing is usual here; give one of {allowed}")
    if spacing is None or fastener is None:
        return None
    screw = screw_for(member.thickness_mm)
    diameter = given.diameter_mm or _diameter(fastener, screw.diameter_mm)
    bung = screw.bung_mm if fastener is Fastener.SCREW and given.bung_mm is None else given.bung_mm
    open_behind = bool(usual and usual.is_open_behind)
    return Joint(
        given.of, given.to, fastener, diameter, spacing,
        given.rows or (usual.rows if usual else 1), given.from_edge_mm or 0.0, bung or 0.0,
        _state(entry, given), given.glued,
        open_behind if given.open_behind is None else given.open_behind,
    )  # fmt: skip


def _diameter(fastener: Fastener, screw_mm: float) -> float:
    if fastener in (Fastener.BOLT, Fastener.DRIFT):
        return BOLT_MM
    if fastener is Fastener.RIVET:
        return RIVET_MM
    return 25.0 if fastener is Fastener.TREENAIL else screw_mm


def _state(entry: Entry, given: JointEntry) -> State:
    if given.state is None:
        return State()
    shares = (given.state.draws, given.state.breaks, given.state.spins)
    if abs(sum(shares) - 100.0) > 0.5:
        entry.note(("state",), f"draws, breaks and spins make {sum(shares):g} %, must make 100 %")
    return State(*(share / 100.0 for share in shares))


def _spacing(
    entry: Entry,
    given: JointEntry,
    usual: UsualJoint | None,
    head: OldBoatEntry,
    member: Member,
) -> float | None:
    """Return how far fasteners stand apart along the member that they go through first."""
    if given.spacing_mm is not None and given.each is not None:
        entry.note(("each",), "spacing and each say the same thing: give one of them")
    if given.spacing_mm is not None:
        return given.spacing_mm
    each = given.each or (usual.each if usual else 0)
    if each:
        return member.length_mm / each
    step = usual.step if usual else None
    known = {Step.FRAMES: head.frame_spacing_mm, Step.BEAMS: head.beam_spacing_mm}
    spacing = known[step] if isinstance(step, Step) else step
    if spacing is None:
        lacking = f"{step}_spacing at the top" if isinstance(step, Step) else "spacing"
        entry.note((), f"{lacking} is missing: how far fasteners stand apart is not known")
    return spacing
