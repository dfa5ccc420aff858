"""Parts so thin that a board gives several, that no saw gets them out, or no bung holds in them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from nesting.errors import Finding
from nesting.need import Need
from nesting.project import Project
from nesting.rules import TOUCH_MM, Rules
from nesting.sheet_goods import is_sheet_goods
from nesting.stock.board import Board
from nesting.units import MM_PER_INCH, Unit
from nesting.written_measures import exact_length, format_length
from parts.lamella import THINNEST_SAWN_MM

FEWEST_LEAVES = 3
"""From so many leaves on it is told that a board is not resawn: more of it becomes shavings than
part (common practice, no source)."""

SHORTEST_BUNG_MM = MM_PER_INCH / 4
"""A bung that holds is never shorter (common practice, no source)."""


def thin_parts(project: Project) -> Iterator[Finding]:
    """Yield every part that is too thin to be sawn or plugged well, or takes three leaves' wood."""
    for need in project.needs:
        entry = project.part_entries.get(need.part)
        said = [
            *_hardly_sawn(need, project.unit),
            *_hardly_plugged(need, project),
            *_would_be_resawn(need, project),
        ]
        if said and entry is not None:
            named = replace(entry, title=f"part {need.part}")
            yield named.finding((), "; ".join(said))


def _hardly_sawn(need: Need, unit: Unit) -> Iterator[str]:
    thick = need.outline.siding_mm
    if thick < THINNEST_SAWN_MM - TOUCH_MM and not all(map(is_sheet_goods, need.species)):
        yield (
            f"it is {exact_length(thick, unit)} thick, and what is thinner than "
            f"{format_length(THINNEST_SAWN_MM, unit, denominator=32)} can hardly be ripped and "
            "planed in a shop: buy sliced veneer, or ease the bend"
        )


def _hardly_plugged(need: Need, project: Project) -> Iterator[str]:
    thick = need.outline.siding_mm
    if thick >= SHORTEST_BUNG_MM - TOUCH_MM:
        return
    suited = (b for b in project.stock if need.misfit(b, project.rules) is None)
    if any(need.may_plug(k, project.rules) for board in suited for k in board.keep_outs):
        yield (
            f"it is {exact_length(thick, project.unit)} thick and takes old holes, and a bung "
            f"shorter than {format_length(SHORTEST_BUNG_MM, project.unit, denominator=32)} hardly "
            "holds: ask for clear wood (holes: clear)"
        )


def _would_be_resawn(need: Need, project: Project) -> Iterator[str]:
    suited = [
        board
        for board in project.stock
        if need.misfit(board, project.rules) is None and not is_sheet_goods(board.species)
    ]
    thinnest = min(suited, key=lambda board: board.thickness_mm, default=None)
    if thinnest is None:
        return
    leaves = _leaves(need, thinnest, project.rules)
    if leaves >= FEWEST_LEAVES:
        yield (
            f"even the thinnest board of its wood, {thinnest.name}, has room for {leaves} of it "
            "one over the other, and as it lies each piece takes all of its thickness: have a "
            "board resawn for it (resaw), as far as other parts leave it thick enough"
        )


def _leaves(need: Need, board: Board, rules: Rules) -> int:
    """Return how many leaves of a board, each cleaned up on both faces, are thick enough for it."""
    each = need.outline.siding_mm + 2 * rules.cleaning_loss_mm + rules.kerf_mm
    return math.floor((board.thickness_mm + rules.kerf_mm + TOUCH_MM) / each)
