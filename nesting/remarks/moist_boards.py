"""Boards too wet to be sawn to size: what is cut of them does not stay as it was cut."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from nesting.errors import Finding
from nesting.need import Need
from nesting.project import Project
from nesting.sheet_goods import is_sheet_goods
from nesting.stock.board import Board
from nesting.units import Unit
from nesting.words import first_few
from nesting.written_measures import exact_length, length_no_less
from parts.wood.moisture import (
    INSTALLED_PERCENT,
    WETTEST_BUILT_IN_PERCENT,
    allowance,
)
from parts.wood.timber import UnknownSpeciesError, species

MOST_NAMED = 4
"""Boards that one remark names."""


@dataclass(frozen=True)
class _Wet:
    """A board too wet to be built in, and the widest part that it may give."""

    board: Board
    need: Need
    percent: float

    @property
    def moves_mm(self) -> float:
        """How much the part's width changes at the most; 0 where the wood has no figures."""
        try:
            wood = species(self.board.species)
        except UnknownSpeciesError:
            return 0.0
        width = self.need.outline.width_mm
        moved = allowance(width, wood, self.percent, INSTALLED_PERCENT)
        return 0.0 if moved is None else abs(moved.most_mm)


def moist_boards(project: Project) -> Iterator[Finding]:
    """Yield the boards that are wetter than wood is built in, once.

    Those that no part takes are left out, and parts that ask for some moisture know of it.
    """
    wet = [one for one in _wet(project) if one.board.name in project.board_entries]
    if not wet:
        return
    worst = max(wet, key=lambda one: (one.moves_mm, one.percent))
    names = first_few([f"{one.board.name} ({one.percent:g} %)" for one in wet], MOST_NAMED)
    entry = replace(project.board_entries[worst.board.name], title="")
    yield entry.finding(
        ("moisture",),
        f"{names}: wetter than {WETTEST_BUILT_IN_PERCENT:g} %, the most that planking and decking "
        "should have when they are built in, and what is sawn to size of such wood shrinks"
        f"{_by(worst, project.unit)}: let it dry first, or say what moisture a part takes "
        "(moisture) and cut it larger by what strength --moisture says",
    )


def _wet(project: Project) -> Iterator[_Wet]:
    for board in project.stock:
        percent = board.moisture_percent
        if percent is None or percent <= WETTEST_BUILT_IN_PERCENT or is_sheet_goods(board.species):
            continue
        takers = [
            need
            for need in project.needs
            if need.moisture_percent is None and need.misfit(board, project.rules) is None
        ]
        if takers:
            yield _Wet(board, max(takers, key=lambda need: need.outline.width_mm), percent)


def _by(worst: _Wet, unit: Unit) -> str:
    """Return by how much a part changes, as words behind a verb; nothing where it is not known."""
    if not worst.moves_mm:
        return ""
    width = exact_length(worst.need.outline.width_mm, unit)
    change = length_no_less(worst.moves_mm, unit, denominator=32)
    return (
        f", {worst.need.part} of {worst.board.name} by up to {change} on its {width} until it has "
        f"come to {INSTALLED_PERCENT:g} %"
    )
