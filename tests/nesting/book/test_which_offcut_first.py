"""Which offcut is used first, held against all ways of sharing a few parts out.

No published example of cutting stock with usable left-overs is cited here: none could be told from
memory with all its figures, and an invented source would be worse than none. On small cases every
way can be tried instead: boards and offcuts of one width, parts that fill it, so that only lengths
count.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from itertools import product

import pytest
from book_shop import Yard, need, plank, sheet_of

from nesting.book.cut_told import Cut, Kept
from nesting.book.cutting import cut
from nesting.book.offered import as_offered
from nesting.book.opening import opened
from nesting.book.record import record
from nesting.book.steps import pile_of
from nesting.engine.pack import pack
from nesting.engine.stop import MaxRounds
from nesting.nest import Nest, Placement
from nesting.referee.check import check_plan
from nesting.referee.wishes import check_wishes
from nesting.rules import Rules
from nesting.wishes import NO_WISHES, Use, Used, Wishes

WIDTH, RULES = 100.0, Rules(kerf_mm=3.0, trim_mm=1.0, cleaning_loss_mm=1.0)
PART_WIDTH = WIDTH - 2 * RULES.trim_mm


def fits(lengths: Sequence[float], board_mm: float) -> bool:
    """Return whether parts fit on a board end to end, by the rules as they are written."""
    between = RULES.kerf_mm + 2 * RULES.trim_mm
    return sum(lengths) + between * (len(lengths) - 1) + 2 * RULES.trim_mm <= board_mm + 1e-6


def least_opened(
    parts: Sequence[float], boards: Sequence[float], free: frozenset[int] = frozenset()
) -> float | None:
    """Return the least length that must be opened to cut all parts, None if they do not fit.

    Every way of sharing them out is tried; boards that are ``free`` count for nothing.
    """
    best = None
    for way in product(range(len(boards)), repeat=len(parts)):
        on = [
            [part for part, at in zip(parts, way, strict=True) if at == b]
            for b in range(len(boards))
        ]
        if all(fits(own, board) for own, board in zip(on, boards, strict=True) if own):
            wood = sum(board for b, board in enumerate(boards) if on[b] and b not in free)
            best = wood if best is None else min(best, wood)
    return best


def case(seed: int) -> tuple[list[float], list[float]]:
    """Return parts and boards, offcuts among them, on which all parts fit in some way."""
    rng = random.Random(seed)
    while True:
        boards = [float(rng.randrange(300, 2000, 50)) for _ in range(rng.randint(3, 5))]
        parts = [float(rng.randrange(150, 900, 10)) for _ in range(rng.randint(2, 5))]
        if least_opened(parts, boards) is not None:
            return parts, boards


def packed(parts: Sequence[float], boards: Sequence[float], wishes: Wishes = NO_WISHES):
    needs = [need(f"part {k}", mm, PART_WIDTH) for k, mm in enumerate(parts)]
    stock = [plank(f"B-{k}", mm, WIDTH) for k, mm in enumerate(boards)]
    plan = pack(needs, stock, RULES, stop=MaxRounds(12), seed=1, wishes=wishes)
    assert not check_plan(plan, needs, RULES)
    assert not check_wishes(plan, wishes)
    assert plan.unplaced == ()
    return [int(nest.board.name.removeprefix("B-")) for nest in plan.nests]


@pytest.mark.parametrize("seed", range(8))
def test_offcuts_that_take_least_wood_are_opened(seed):
    parts, boards = case(seed)
    assert sum(boards[b] for b in packed(parts, boards)) == least_opened(parts, boards)


@pytest.mark.parametrize("seed", range(20, 24))
def test_board_wanted_first_counts_for_nothing(seed):
    parts, boards = case(seed)
    free = frozenset({max(range(len(boards)), key=boards.__getitem__)})
    wish = Used("wish 1", tuple(f"B-{b}" for b in free), Use.FIRST)
    used = packed(parts, boards, Wishes(used=(wish,)))
    assert sum(boards[b] for b in used if b not in free) == least_opened(parts, boards, free)


def test_offcut_that_came_back_is_opened_before_a_new_board(tmp_path):
    """The smaller of two that would do: 700 mm of wood, where boards have 1200."""
    slat = need("slat", 480.0, PART_WIDTH)
    boards = (plank("A", 1200, WIDTH), plank("B", 1200, WIDTH))
    yard = Yard(stock=boards, needs=(slat, need("rail", 600.0, PART_WIDTH)), rules=RULES)
    with opened(tmp_path / "stock.book", create=True) as book:
        record(book, yard)
        cut(
            book,
            sheet_of(Nest(boards[0], (Placement(slat, 1.0, 1.0),)), rules=RULES),
            Cut(kept=Kept.OFFCUTS),
        )
        left = as_offered(yard, pile_of(book))
    names = {board.name: round(board.length_mm) for board in left.stock}
    assert names.keys() == {"A.1", "B"}
    plan = pack(left.needs, left.stock, RULES, stop=MaxRounds(2))
    assert [nest.board.name for nest in plan.nests] == ["A.1"]
    assert least_opened([600.0], list(names.values())) == names["A.1"]
