"""What was never recorded of boards, though a part asks for it: they pass, and somebody must look.

A board whose heartwood or moisture is not known may still give a part that wants heartwood only,
or wood of some moisture; the saw would otherwise wait for a survey of everything.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from nesting.errors import Finding
from nesting.need import Need
from nesting.project import Project
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.words import first_few


def unrecorded(project: Project) -> Iterator[Finding]:
    """Yield each set of boards that pass unrecorded, at the first part they pass for."""
    needs, boards, rules = project.needs, project.stock, project.rules
    heartwood = _passing(
        [need for need in needs if need.heartwood_only], boards, rules,
        lambda board: board.heartwood is None,
    )  # fmt: skip
    moisture = _passing(
        [need for need in needs if need.moisture_percent is not None], boards, rules,
        lambda board: board.moisture_percent is None,
    )  # fmt: skip
    yield from _findings("heartwood", "all heartwood", heartwood, project)
    yield from _findings("moisture", "what is asked", moisture, project)


MOST_NAMED = 8
"""Boards, and parts, that one remark names."""

Passing = dict[tuple[str, ...], list[str]]
"""Parts by the boards that pass for them unrecorded."""


def _passing(
    needs: Sequence[Need],
    boards: Sequence[Board],
    rules: Rules,
    is_unknown: Callable[[Board], bool],
) -> Passing:
    found: Passing = {}
    for need in needs:
        names = tuple(
            board.name for board in boards if is_unknown(board) and not need.misfit(board, rules)
        )
        if names:
            found.setdefault(names, []).append(need.part)
    return found


def _findings(what: str, asked: str, passing: Passing, project: Project) -> Iterator[Finding]:
    for boards, parts in passing.items():
        entry = replace(project.part_entries[parts[0]], title="")
        yield entry.finding(
            (),
            f"the {what} of {first_few(boards, MOST_NAMED)} was never recorded, so it passes as "
            f"{asked} for {first_few(parts, MOST_NAMED, '; ')}: look at the wood, and record it",
        )
