"""What was never recorded of boards, though a part asks for it: they pass, and somebody must look.

A board whose heartwood or moisture is not known may still give a part that wants heartwood only,
or wood of some moisture; the saw would otherwise wait for a survey of everything.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from nesting.need import Need
from nesting.rules import Rules
from nesting.stock.board import Board


def unrecorded(needs: Sequence[Need], boards: Sequence[Board], rules: Rules) -> tuple[str, ...]:
    """Return a sentence for each set of boards that pass unrecorded, and for which parts."""
    heartwood = _passing(
        [need for need in needs if need.heartwood_only], boards, rules,
        lambda board: board.heartwood is None,
    )  # fmt: skip
    moisture = _passing(
        [need for need in needs if need.moisture_percent is not None], boards, rules,
        lambda board: board.moisture_percent is None,
    )  # fmt: skip
    return (
        *_sentences("heartwood", "all heartwood", heartwood),
        *_sentences("moisture", "what is asked", moisture),
    )


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


def _sentences(what: str, asked: str, passing: Passing) -> list[str]:
    return [
        f"the {what} of {', '.join(boards)} was never recorded, so it passes as {asked} for "
        f"{'; '.join(parts)}: look at the wood, and record it"
        for boards, parts in passing.items()
    ]
