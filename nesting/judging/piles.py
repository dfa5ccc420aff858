"""A pile of boards as a teardown may leave it: drawn by lot from what is known of the old boat."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace

import numpy as np

from nesting.judging.choice import Choice
from nesting.judging.old_boat import Member, OldBoat
from nesting.judging.programme import Question
from nesting.judging.ways import left_in
from nesting.judging.yields import ACROSS_MM, ROT_MM, Line, yield_of
from nesting.project.wishes_read import LEAF
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOut, KeepOutKind, circle, region

STATE_DOUBT, SOUND_DOUBT = 0.1, 0.07
"""Standard deviations, from boat to boat, of the shares of fasteners that draw and of wood that is
sound: nobody knows them before the first plank is off (common practice, no source)."""

JITTER = 0.06
"""Standard deviation of a fastener's place along a piece, of its spacing (common practice, no
source)."""


LEAF_OR_REST = re.compile(r"(.*)/\d+(?:\.\d+)?")
"""Name of a leaf, or of what is left of one: ``D-07/2.1``."""


def as_she_may_be(boat: OldBoat, chance: np.random.Generator) -> OldBoat:
    """Return the boat with the shares that nobody knows drawn by lot, one draw for all of her."""
    draws, sound = chance.normal(0.0, STATE_DOUBT), chance.normal(0.0, SOUND_DOUBT)
    return replace(
        boat,
        members=tuple(
            replace(member, sound=float(np.clip(member.sound + sound, 0.05, 1.0)))
            if member.sound < 1.0
            else member
            for member in boat.members
        ),
        joints=tuple(replace(joint, state=joint.state.drawing(draws)) for joint in boat.joints),
    )


def sampled_pile(
    choice: Choice, chance: np.random.Generator, recorded: Mapping[str, int] | None = None
) -> tuple[Board, ...]:
    """Return the boards of one teardown, named by member and number.

    Parameters
    ----------
    recorded
        How many pieces of each member are real boards by now: so many fewer are drawn.
    """
    boat = as_she_may_be(choice.question.boat, chance)
    question = replace(choice.question, boat=boat)
    boards = [
        board
        for name in boat.by_name
        if name in choice.solved.saved
        for board in _boards_of(question, choice, name, chance, (recorded or {}).get(name, 0))
    ]
    return tuple(boards)


def pieces_off(boards: Iterable[Board]) -> Counter[str]:
    """Return of how many pieces of each member boards are: leaves of one are one piece."""
    return Counter(member for member, _ in {(b.member, _piece(b)) for b in boards} if member)


def _piece(board: Board) -> str:
    """Return what the board was called before it was resawn."""
    leaf = (LEAF if board.leaf is None else LEAF_OR_REST).fullmatch(board.name)
    return leaf[1] if leaf else board.name


def _boards_of(
    question: Question, choice: Choice, name: str, chance: np.random.Generator, fewer: int
) -> Iterator[Board]:
    boat = question.boat
    member = boat.by_name[name]
    parted = {
        joint: left_in(
            choice.solved.ways[joint], boat.joints[joint], name,
            question.ways[choice.solved.ways[joint]],
        )
        for joint in boat.joints_of[name]
    }  # fmt: skip
    lines = yield_of(boat, name, parted, question.rules).lines
    for number in range(max(0, member.count - fewer)):
        yield _board(member, lines, f"{name} {number + 1}", chance)


def _board(
    member: Member, lines: tuple[Line, ...], name: str, chance: np.random.Generator
) -> Board:
    keep_outs = [*_rot(member, chance)]
    for line in lines:
        keep_outs.extend(_fasteners(member, line, chance))
    return Board.rectangle(
        name, member.length_mm, member.width_mm, member.thickness_mm, member.species,
        keep_outs=keep_outs, member=member.name,
    )  # fmt: skip


def _fasteners(member: Member, line: Line, chance: np.random.Generator) -> Iterator[KeepOut]:
    count = max(1, round(member.length_mm / line.spacing_mm))
    step = member.length_mm / count
    shift = chance.uniform(-0.25, 0.25) * step
    for place in range(count):
        along = (place + 0.5) * step + shift + chance.normal(0.0, JITTER * step)
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


def _rot(member: Member, chance: np.random.Generator) -> Iterator[KeepOut]:
    if member.sound >= 1.0:
        return
    count = max(1, round(member.length_mm / ROT_MM))
    step = member.length_mm / count
    for place in range(count):
        if chance.random() >= member.sound:
            low, high = place * step, (place + 1) * step
            corners = [(low, 0.0), (high, 0.0), (high, member.width_mm), (low, member.width_mm)]
            yield region(KeepOutKind.ROT, corners)
