"""Read an old boat's file: members and joints, the usual ones filled in, all faults told."""

from __future__ import annotations

from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from nesting.errors import ProjectFileError
from nesting.judging.boat_entry import (
    JointEntry,
    KindEntry,
    MemberEntry,
    OldBoatEntry,
    RatesEntry,
    WayEntry,
)
from nesting.judging.boat_faults import note_joint, note_member, note_none, note_ring
from nesting.judging.old_boat import Fastener, Joint, Member, OldBoat, Rates, State
from nesting.judging.usual_build import (
    JOINTS,
    MEMBERS,
    USUAL_MM,
    Step,
    UsualJoint,
    UsualMember,
    screw_for,
)
from nesting.judging.ways import USUAL_STATES, USUAL_WAYS, Way, WayFigures
from nesting.project.entry import Entry, Findings, Names
from nesting.project.setting import Woods
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
    if head is not None and not head.members:
        top.note(("members",), "members: 0 given, must be at least 1")
    if unit is None or head is None:
        raise ProjectFileError(top.findings.found)
    woods = Woods(head.species, "file")
    read = _members(top, woods, context)
    joints = _joints(top, head, read, context)
    note_ring(read.members, read.entries)
    rates = _rates(top, head.rates, woods)
    if top.findings.found:
        raise ProjectFileError(top.findings.found)
    boat = OldBoat(head.name, tuple(read.members.values()), joints, rates)
    return boat, {way: _figures(way, head.ways.get(way)) for way in Way}, unit


def _figures(way: Way, given: WayEntry | None) -> WayFigures:
    """Return the figures of a way: what is said of a kind goes before what is said of all."""
    usual = USUAL_WAYS[way]
    if given is None:
        return usual
    own = _own(given)
    kinds = {kind: replace(figures, **own) for kind, figures in usual.by_kind.items()}
    hours = usual.fixed_hours if given.fixed_hours is None else given.fixed_hours
    plain = replace(usual, **own, fixed_hours=hours)
    for kind, entry in given.by_fastener.items():
        kinds[kind] = replace(kinds.get(kind, plain), **_own(entry))
    return replace(plain, by_kind=kinds)


def _own(given: KindEntry) -> dict[str, Any]:
    """Return the figures that the file has, and that they are from there."""
    names = ("minutes", "stubborn_minutes", "success")
    own = {name: value for name in names if (value := getattr(given, name)) is not None}
    if "success" in own:
        own["success"] /= 100.0
    return {**own, "source": "given in the file"} if own else {}


@dataclass(frozen=True)
class _Members:
    """Members as read, their blocks, and every name that is written, of wrong ones too."""

    members: Mapping[str, Member]
    entries: Mapping[str, Entry]
    written: frozenset[str]


def _members(top: Entry, woods: Woods, context: dict[str, Any]) -> _Members:
    names, found, entries = Names("member"), dict[str, Member](), dict[str, Entry]()
    for number, data in blocks_in(top.data, "members"):
        title = f"member {data.get('member') or number + 1}"
        entry = top.below("members", number, data=data, title=title)
        names.add_written(entry)
        if (given := entry.validated(MemberEntry, context)) is not None:
            member = _member(entry, given, woods)
            if note_member(entry, member):
                found[member.name], entries[member.name] = member, entry
    written = frozenset(names.used)
    known = {name: _on_known(entries[name], found, written, name) for name in found}
    return _Members(known, entries, written)


def _on_known(
    entry: Entry, found: Mapping[str, Member], written: frozenset[str], name: str
) -> Member:
    """Return a member as resting on what the boat has; what the file says otherwise is noted."""
    member = found[name]
    for below in member.rests_on if entry.data.get("rests_on") is not None else ():
        if below not in written:
            hint = did_you_mean(below, sorted(written))
            entry.note(("rests_on",), f"rests on {quoted(below)}, which is no member: {hint}")
    return replace(member, rests_on=tuple(one for one in member.rests_on if one in found))


def _member(entry: Entry, given: MemberEntry, woods: Woods) -> Member:
    usual = MEMBERS.get(given.member, UsualMember())
    species = woods.named(given.species)
    if species is None:
        entry.note(("species",), woods.unknown(given.species))
    return Member(
        given.member, species or given.species, given.count,
        given.length_mm, given.width_mm, given.thickness_mm,
        given.sound / 100.0, given.sweep_mm,
        usual.rests_on if given.rests_on is None else given.rests_on,
        usual.holds_her if given.holds_her is None else given.holds_her,
        given.hazards,
    )  # fmt: skip


def _rates(top: Entry, given: RatesEntry, woods: Woods) -> Rates:
    prices = dict[str, float]()
    for wood, price in given.by_wood.items():
        if (species := woods.named(wood)) is None:
            top.note(("rates", "by_wood", wood), woods.unknown(wood), at_key=True)
        elif species in prices:
            words = f"by_wood: {species} has a price already, under another name; keep one"
            top.note(("rates", "by_wood", wood), words, at_key=True)
        prices[species or wood] = price
    return Rates(given.hour, given.board_foot, prices, given.currency or "")


def _joints(
    top: Entry, head: OldBoatEntry, read: _Members, context: dict[str, Any]
) -> tuple[Joint, ...]:
    members = read.members
    usual = {(one.of, one.to): one for one in JOINTS[head.build]
             if one.of in members and one.to in members}  # fmt: skip
    found = dict[tuple[str, str], Joint]()
    given_at = set[tuple[str, str]]()
    for number, data in blocks_in(top.data, "joints"):
        entry = top.below("joints", number, data=data, title=f"joint {number + 1}")
        given = entry.validated(JointEntry, context)
        if given is None or not _are_members(entry, given, read):
            continue
        pair = given.of, given.to
        _note_twice(entry, pair, given_at)
        given_at.add(pair)
        note_none(entry, given)
        if not given.none:
            made = _joint(entry, given, usual.get(pair), head, members)
            if made is not None:
                found[pair] = made
    for pair, one in usual.items():
        if pair not in given_at and pair[::-1] not in given_at:
            entry = top.below("build", data={}, title=f"the usual joint {one.of} to {one.to}")
            plain = JointEntry(of=one.of, to=one.to)
            made = _joint(entry, plain, one, head, members)
            if made is not None:
                found[pair] = made
    return tuple(found.values())


def _note_twice(
    entry: Entry, pair: tuple[str, str], given_at: AbstractSet[tuple[str, str]]
) -> None:
    """Note a joint that is given already, whichever of the two is pierced first."""
    of, to = pair
    if pair in given_at:
        entry.note(("of",), f"{of} to {to} is given twice: put both into one")
    elif pair[::-1] in given_at:
        entry.note(("of",), f"{of} to {to} is the joint {to} to {of} again: put both into one")


def _are_members(entry: Entry, given: JointEntry, read: _Members) -> bool:
    """Return whether both are members; those that are but wrong are noted already."""
    for key, name in (("of", given.of), ("to", given.to)):
        if name not in read.written:
            hint = did_you_mean(name, sorted(read.written))
            entry.note((key,), f"{quoted(name)} is no member: {hint}")
    return given.of in read.members and given.to in read.members


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
    joint = Joint(
        given.of, given.to, fastener, diameter, spacing,
        given.rows or (usual.rows if usual else 1), given.from_edge_mm or 0.0, bung or 0.0,
        _state(entry, given, fastener), given.glued,
        open_behind if given.open_behind is None else given.open_behind,
        _is_at_ends(entry, given, usual),
    )  # fmt: skip
    return joint if note_joint(entry, joint, member, members[given.to]) else None


def _is_at_ends(entry: Entry, given: JointEntry, usual: UsualJoint | None) -> bool:
    """Return whether fasteners stand at a piece's ends alone: asked of what is so many to each."""
    if given.at_ends and not (given.each or (usual and usual.each and not given.spacing_mm)):
        entry.note(("at_ends",), "at_ends: give each, how many a piece has, in place of spacing")
    if given.at_ends is not None:
        return given.at_ends
    return bool(usual and usual.is_at_ends and given.spacing_mm is None)


def _diameter(fastener: Fastener, screw_mm: float) -> float:
    return USUAL_MM.get(fastener, screw_mm)


def _state(entry: Entry, given: JointEntry, fastener: Fastener) -> State:
    if given.state is None:
        return USUAL_STATES[fastener]
    shares = (given.state.draws, given.state.breaks, given.state.spins)
    if abs(sum(shares) - 100.0) > 0.5:
        hint = ": 45 for nine in twenty" if 0.0 < sum(shares) <= 1.0 else ""
        words = f"draws, breaks and spins make {sum(shares):g} %, must make 100 %{hint}"
        entry.note(("state",), words)
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
