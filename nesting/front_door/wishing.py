"""Wishes from a script: the words of a project file, looked up and refused by the same rules."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from pydantic import ValidationError

from nesting.errors import JobError, LengthError, ProjectFileError, ShapeError
from nesting.given import each_of, several, text, texts, whole
from nesting.need import Need
from nesting.nest import At, CuttingPlan
from nesting.project.entry import Entry, Findings
from nesting.project.setting import Setting, Woods
from nesting.project.wish_entry import WishEntry
from nesting.project.wishes_read import read_wishes
from nesting.project.wording import complaints
from nesting.referee.wishes import unsound_fixed
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.units import Unit, parse_area
from nesting.unseen import quoted
from nesting.wishes import NO_WISHES, USUAL_MOVING_MM2, Matching, Use, Wishes
from nesting.yaml_file.composer import Node
from nesting.yaml_file.document import Document
from parts.registry import Families

Names = str | Sequence[str]
"""One name, or several."""

NAMED = ("fixed", "part", "from_boards", "not_from", "board", "match")
"""What a wish names."""

WORDS = {"from_boards": "from"}
"""What a project file calls what may not be a name in Python."""


@dataclass(frozen=True, kw_only=True)
class Wish:
    """What is wished of a plan beyond the rules, said as a project file says it under ``wishes:``.

    A wish has one of ``fixed``, ``part``, ``board`` and ``match``. Parts go by their name (all
    pieces), or single pieces as the sheets call them: ``"knee, 2 of 4"``. Boards go by name, by a
    group or by what they were (``member``).

    Attributes
    ----------
    fixed
        Pieces that stay where the last plan has them.
    part
        Pieces, with one of the next three.
    from_boards, not_from
        Boards that they are to come from, or are kept off.
    stage
        The stage of the work for which they are needed.
    board, use
        Boards, and whether they are ``"held back"``, ``"kept whole"`` or used up ``"first"``.
    match, how
        Pieces whose grain and colour are to match: on ``"one board"``, ``"neighbouring boards"``
        or ``"mirrored"`` on two leaves of one.
    price
        Wood that breaking it must save, as ``"0.05 m2"`` or ``"0.5 sq ft"``; a must if not given.

    Raises
    ------
    JobError
        If it wishes nothing, or two things; names are looked up when a plan is packed.
    ShapeError
        If its stage is no whole number, or what it names are no texts.

    Examples
    --------
    >>> from nesting import Board, Need, Wish, pack, part_from_outline
    >>> rung = part_from_outline([(0, 0), (500, 0), (500, 40), (0, 40)], 20)
    >>> boards = [Board.rectangle(name, 600, 60, 26, "teak") for name in ("D-1", "D-2")]
    >>> needs = [Need.of("rung", rung, ["teak"])]
    >>> plan = pack(needs, boards, rounds=0, wishes=[Wish(part="rung", not_from="D-1")])
    >>> [nest.board.name for nest in plan.nests]
    ['D-2']
    >>> Wish(board="D-1")
    Traceback (most recent call last):
    nesting.errors.JobError: a wish: use: missing; write held back, kept whole, first
    """

    fixed: Names = ()
    part: Names = ()
    from_boards: Names = ()
    not_from: Names = ()
    stage: int | None = None
    board: Names = ()
    use: Use | str | None = None
    match: Names = ()
    how: Matching | str | None = None
    price: str | None = None

    def __post_init__(self) -> None:
        for name in NAMED:
            object.__setattr__(self, name, _names(getattr(self, name), f"a wish: {name}"))
        if self.stage is not None:
            object.__setattr__(self, "stage", whole(self.stage, "a wish: stage"))
        try:
            WishEntry.model_validate(
                self.data, context={"unit": Unit.MM}, by_alias=True, by_name=False
            )
        except ValidationError as error:
            said = "; ".join(complaint.message for complaint in complaints(error, WishEntry))
            raise JobError(f"a wish: {said}") from error

    @property
    def data(self) -> dict[str, Any]:
        """As a project file has it: what is not said is left out."""
        found: dict[str, Any] = {}
        for name, value in vars(self).items():
            if value is None or value == ():
                continue
            if name in NAMED:
                value = list(value) if len(value) > 1 else value[0]
            found[WORDS.get(name, name)] = str(value) if isinstance(value, str) else value
        return found


def _names(given: Names, name: str) -> tuple[str, ...]:
    """Return what a wish names, the same however it is listed, and whatever becomes of the list."""
    if isinstance(given, str):
        return (given,)
    found = texts(given, name)
    if not found and given != ():
        raise ShapeError(f"{name} names nothing: name something, or leave it out")
    return found


def wishes_of(
    given: Sequence[Wish],
    needs: Sequence[Need],
    boards: Sequence[Board],
    groups: Mapping[str, Sequence[str]] | None = None,
    stage: int | None = None,
) -> Wishes:
    """Return wishes with every name in them looked up.

    Raises
    ------
    JobError
        With everything that is wrong with them.
    """
    wanted = several(given, Wish, "wishes")
    if not wanted and not groups and stage is None:
        return NO_WISHES
    if stage is not None:
        stage = whole(stage, "stage", least=1)
    top = _top(wanted, groups or {})
    setting = Setting(
        Unit.MM, Path(), Woods(), 0.0,
        families=Families(MappingProxyType({}), MappingProxyType({})),
    )  # fmt: skip
    try:
        wishes, _ = read_wishes(
            top, setting, stock=boards, needs=needs, part_entries={}, stage=stage
        )
    except ProjectFileError as error:
        raise JobError(_said(top)) from error
    if top.findings.found:
        raise JobError(_said(top))
    return wishes


def _top(given: Sequence[Wish], groups: Mapping[str, Sequence[str]]) -> Entry:
    """Return wishes and groups as the block that a project file would have them in."""
    if not isinstance(groups, Mapping):
        raise JobError(f"groups are {quoted(groups)}, must be names of boards by a group's name")
    listed = {
        text(name, "the name of a group"): (
            [own] if isinstance(own, str) else list(each_of(own, f"group {name}", "boards"))
        )
        for name, own in groups.items()
    }
    data = {"wishes": [wish.data for wish in given], "groups": listed}
    return Entry(Document("wishes", Node(1, 1, keys={})), data, Findings())


def _said(top: Entry) -> str:
    return "; ".join(finding.message for finding in top.findings.found)


def require_stays(wishes: Wishes, last: Sequence[At], boards: Sequence[Board], rules: Rules,
                  needs: Sequence[Need]) -> None:  # fmt: skip
    """Refuse fixed pieces that lie nowhere in the last plan, or may not stay where they lie.

    Raises
    ------
    JobError
        With each of them.
    """
    stay = [at for at in last if at.piece in wishes.must_stay]
    where = "the plan given as last" if last else "any plan: give last="
    found = unsound_fixed(wishes, stay, boards, rules, needs, where=where)
    if wrong := [f"{title}: {text}" for title, text in found]:
        raise JobError("; ".join(wrong))


def moving_mm2(given: str | None) -> float:
    """Return what moving a piece of the last plan has to save, mm2.

    Raises
    ------
    JobError
        If it is no area.
    """
    try:
        return USUAL_MOVING_MM2 if given is None else parse_area(given)
    except LengthError as error:
        raise JobError(f"moving: {error}") from error


def lying_in(plan: object) -> tuple[At, ...]:
    """Return where each piece of a plan lies.

    Raises
    ------
    JobError
        If it is none.
    """
    if not isinstance(plan, CuttingPlan):
        raise JobError("last is no plan: give one of pack() or read_plan()")
    return plan.lying
