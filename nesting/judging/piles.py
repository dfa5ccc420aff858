"""A pile of boards as a teardown may leave it: drawn by lot from what is known of the old boat."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from nesting.judging.bung_room import ACROSS_MM
from nesting.judging.choice import Choice
from nesting.judging.fastener_lines import Line
from nesting.judging.old_boat import Member, OldBoat
from nesting.judging.question import Question
from nesting.judging.recorded import (
    SOUND_DOUBT,
    STATE_DOUBT,
    Learnt,
    piece_of,
    recorded_of,
)
from nesting.judging.rot import Manner, manner_drawn, rotten
from nesting.judging.ways import left_in
from nesting.judging.yields import ROT_MM, yield_of
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOut, KeepOutKind, circle, region

JITTER = 0.06
"""Standard deviation of a fastener's place along a piece, of its spacing (common practice, no
source)."""


def as_she_may_be(
    boat: OldBoat, chance: np.random.Generator, learnt: Mapping[str, Learnt] | None = None
) -> OldBoat:
    """Return the boat with the shares that nobody knows drawn by lot, one draw for all of her."""
    draws, sound = chance.normal(0.0, STATE_DOUBT), chance.normal(0.0, SOUND_DOUBT)
    known = learnt or {}
    return replace(
        boat,
        members=tuple(_as_it_may_be(one, sound, known.get(one.name)) for one in boat.members),
        joints=tuple(replace(joint, state=joint.state.drawing(draws)) for joint in boat.joints),
    )


def _as_it_may_be(member: Member, off: float, learnt: Learnt | None) -> Member:
    """Return a member as sound as it may be; what is sound for certain stays so."""
    if learnt is not None and (member.sound < 1.0 or learnt.recorded.sound < 1.0):
        return replace(member, sound=learnt.sound_off(off))
    if member.sound >= 1.0:
        return member
    return replace(member, sound=float(np.clip(member.sound + off, 0.05, 1.0)))


def sampled_pile(
    choice: Choice,
    chance: np.random.Generator,
    recorded: Mapping[str, int] | None = None,
    *,
    learnt: Mapping[str, Learnt] | None = None,
) -> tuple[Board, ...]:
    """Return the boards of one teardown, named by member and number.

    Parameters
    ----------
    recorded
        How many pieces of each member are real boards by now: so many fewer are drawn.
    learnt
        What those teach about the others, by member.
    """
    known = learnt or {}
    boat = as_she_may_be(choice.question.boat, chance, known)
    question = replace(choice.question, boat=boat)
    lot = float(chance.random())  # how rot lies, in all of her
    boards = [
        board
        for name in boat.by_name
        if name in choice.solved.saved
        for board in _boards_of(
            question, choice, name, chance, (recorded or {}).get(name, 0), known.get(name), lot
        )
    ]
    return tuple(boards)


def pieces_off(boards: Iterable[Board]) -> Counter[str]:
    """Return of how many pieces of each member boards are: leaves of one are one piece."""
    pieces = {(board.member, piece_of(board)) for board in boards if board.member}
    return Counter(member for member, _ in pieces)


def learnt_of(choice: Choice, boards: Iterable[Board]) -> Mapping[str, Learnt]:
    """Return what boards teach about members that are saved and not all off, by member."""
    boat, found = choice.question.boat, dict[str, Learnt]()
    for name, recorded in recorded_of(boards).items():
        member = boat.by_name[name]
        if name not in choice.solved.saved or recorded.pieces >= member.count:
            continue
        lines = _lines(choice.question, choice, name)
        often = [line.rows / line.spacing_mm for line in lines]
        metal = sum(n * line.left.metal for n, line in zip(often, lines, strict=True))
        found[name] = Learnt(
            member, recorded, recorded.sound_leaning(member, ROT_MM),
            recorded.metal_leaning(metal / sum(often) if often else 0.0), 1000.0 * sum(often),
        )  # fmt: skip
    return found


def _lines(question: Question, choice: Choice, name: str) -> tuple[Line, ...]:
    """Return the fasteners in a member by the ways chosen, what they leave not told apart."""
    boat, parted = question.boat, {}
    for joint in boat.joints_of[name]:
        way = choice.solved.ways[joint]
        parted[joint] = left_in(way, boat.joints[joint], name, question.ways[way])
    return yield_of(boat, name, parted, question.rules).lines


def _boards_of(
    question: Question,
    choice: Choice,
    name: str,
    chance: np.random.Generator,
    fewer: int,
    learnt: Learnt | None,
    lot: float,
) -> Iterator[Board]:
    manner = manner_drawn(lot, None if learnt is None else learnt.manners)
    member, lines = question.boat.by_name[name], _lines(question, choice, name)
    if learnt is not None:
        lines = _leaning(lines, _lines(choice.question, choice, name), learnt)
    for number in range(max(0, member.count - fewer)):
        piece = member if learnt is None else replace(learnt.sized(chance), sound=member.sound)
        yield _board(piece, lines, f"{name} {number + 1}", manner, chance)


def _leaning(drawn: Sequence[Line], supposed: Sequence[Line], learnt: Learnt) -> tuple[Line, ...]:
    """Return lines as drawn by lot, with metal and spacing as recorded pieces make likely."""
    return tuple(
        replace(
            line,
            left=replace(line.left, metal=learnt.metal_left(base.left.metal, line.left.metal))
            if line.joint.fastener.is_metal
            else line.left,
            spacing_mm=line.spacing_mm / learnt.times,
        )
        for line, base in zip(drawn, supposed, strict=True)
    )


def _board(
    member: Member, lines: tuple[Line, ...], name: str, manner: Manner, chance: np.random.Generator
) -> Board:
    keep_outs = [*_rot(member, manner, chance)]
    for line in lines:
        keep_outs.extend(_fasteners(member, line, chance))
    return Board.rectangle(
        name, member.length_mm, member.width_mm, member.thickness_mm, member.species,
        keep_outs=keep_outs, member=member.name,
    )  # fmt: skip


def _fasteners(member: Member, line: Line, chance: np.random.Generator) -> Iterator[KeepOut]:
    step = line.step_mm(member.length_mm)
    shift = chance.uniform(-0.25, 0.25) * step
    for place in line.along_mm(member.length_mm):
        along = place + shift + chance.normal(0.0, JITTER * step)
        for across in line.across_mm(member.width_mm):
            y = across + chance.normal(0.0, ACROSS_MM)
            x = float(np.clip(along, 1.0, member.length_mm - 1.0))
            y = float(np.clip(y, 1.0, member.width_mm - 1.0))
            yield _left_there(member, line, x, y, chance)


def _left_there(
    member: Member, line: Line, x: float, y: float, chance: np.random.Generator
) -> KeepOut:
    joint = line.joint
    if chance.random() < line.left.metal:
        return circle(KeepOutKind.METAL, x, y, joint.diameter_mm)
    if joint.bung_mm and joint.of == member.name:
        return circle(KeepOutKind.RECESS, x, y, joint.bung_mm)
    return circle(KeepOutKind.HOLE, x, y, joint.diameter_mm)


def _rot(member: Member, manner: Manner, chance: np.random.Generator) -> Iterator[KeepOut]:
    for low, high in rotten(member, manner, chance):
        corners = [(low, 0.0), (high, 0.0), (high, member.width_mm), (low, member.width_mm)]
        yield region(KeepOutKind.ROT, corners)
