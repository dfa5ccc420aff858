"""A search with wishes, from its beginning to what is told of the parts left over."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from nesting.engine.search.course import Course, course_of
from nesting.engine.search.lanes import Searcher
from nesting.engine.search.lots import Lot
from nesting.engine.search.matching import held_boards, with_mirrored
from nesting.engine.state.board_state import BoardState
from nesting.engine.state.plan_state import PlanState
from nesting.engine.state.problem import Problem
from nesting.engine.stop import NO_HURRY, Finish, never, over_in
from nesting.left_over import Prospect
from nesting.need import Misfit, Need
from nesting.nest import At, Unplaced
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.wishes import Wishes
from nesting.words import first_few

MATCHING_SHARE = 0.25
"""Share of the time of a run that choosing boards for matched pieces may take."""

MOST_NAMED = 2
"""Boards that are named for each wish that keeps a part off them."""

MOST_LOOKED_AT = 24
"""Boards that a wish bars on which one looks for room."""


@dataclass(frozen=True)
class Steering:
    """What a search with wishes begins with.

    Attributes
    ----------
    begin
        The plan with every piece that has a place of its own where it was.
    """

    course: Course
    searcher: Searcher
    begin: PlanState

    def told(
        self,
        left: Sequence[Unplaced],
        plan: PlanState,
        problem: Problem,
        is_over: Callable[[], bool] = never,
    ) -> tuple[Unplaced, ...]:
        """Return what is left over as the project names it, and the wishes that have to do with it.

        ``left`` are those of the search, by lots; pieces of later stages for which wood is in view
        are added. Once ``is_over``, no room is looked for beyond a wish any more.
        """
        of_lot = {id(lot.need): n for n, lot in enumerate(self.course.lots)}
        found = [self._told(of_lot[id(one.need)], one, plan, problem, is_over) for one in left]
        found += list(self._in_view(plan, problem))
        order = {need.part: n for n, need in enumerate(self.course.needs)}
        return tuple(sorted(found, key=lambda one: order[one.need.part]))

    def _told(
        self,
        lot: int,
        one: Unplaced,
        plan: PlanState,
        problem: Problem,
        is_over: Callable[[], bool],
    ) -> Unplaced:
        """Return one line of what is left over, with the wishes that stand in its way."""
        assert problem.steered is not None
        own = self.course.lots[lot]
        sentences = list(_stage(own, self.course.wishes))
        barred = list(_barred(lot, plan, problem, is_over))
        sentences += barred
        sentences += list(self._locked_out(lot, problem, is_over))
        is_wished = bool(barred) and not problem.suits[lot]
        reason = Misfit.WISHED if is_wished else one.reason
        prospect = Prospect() if is_wished else one.prospect
        return replace(
            one, need=own.whole, reason=reason, prospect=replace(prospect, wishes=tuple(sentences))
        )

    def _locked_out(self, lot: int, problem: Problem, is_over: Callable[[], bool]) -> Iterator[str]:
        """Yield boards that would have room were it not for pieces that stay there."""
        assert problem.steered is not None
        titles = {piece: wish.title for piece, wish in self.course.wishes.must_stay.items()}
        named = 0
        for board, labels in problem.steered.locked.items():
            whole = self.course.boards[board]
            if named == MOST_NAMED or is_over():
                return
            if board in problem.steered.barred[lot]:
                continue
            other = Problem([problem.needs[lot]], [whole], problem.rules)
            if not other.suits[0] or BoardState(board).spot(lot, problem) is not None:
                continue
            if BoardState(0).spot(0, other) is not None:
                own = sorted(
                    {
                        titles.get(at.piece, "a matched pair")
                        for at in self.course.locked
                        if at.board == whole.name
                    }
                )
                yield f"{' and '.join(own)}: {labels} stays on {whole.name}, where it would lie"
                named += 1

    def _in_view(self, plan: PlanState, problem: Problem) -> Iterator[Unplaced]:
        """Yield the pieces of later stages for which this plan leaves wood."""
        for n, lot in enumerate(self.course.lots):
            count = lot.need.quantity - plan.missing[n]
            if lot.is_later and count:
                boards = [
                    problem.boards[state.board].name
                    for state in plan.states
                    if any(laid.need == n for laid in state.laid)
                ]
                wood = f"wood for it is in view on {', '.join(boards)}"
                sentences = (*_stage(lot, self.course.wishes), wood)
                yield Unplaced(lot.whole, count, Misfit.LATER, Prospect(wishes=sentences))


def _stage(lot: Lot, wishes: Wishes) -> Iterator[str]:
    if lot.is_later:
        later = wishes.not_yet[lot.pieces[0]]
        yield f"{later.title}: it is of stage {later.stage}, and stage {wishes.stage} is nested"


def _barred(
    lot: int, plan: PlanState, problem: Problem, is_over: Callable[[], bool]
) -> Iterator[str]:
    """Yield wishes that keep a part off boards that have room for it, those named."""
    assert problem.steered is not None
    barred = problem.steered.barred[lot]
    if not barred:
        return
    suited = problem.suited_arrays[lot].tolist()
    boards = [board for board in suited if board in barred][:MOST_LOOKED_AT]
    as_it_lies: dict[str, list[str]] = {}
    empty: dict[str, list[str]] = {}
    for board in boards:
        name = problem.boards[board].name
        if is_over():
            break
        if plan.states[board].spot(lot, problem) is not None:
            as_it_lies.setdefault(barred[board], []).append(name)
        elif BoardState(board).spot(lot, problem) is not None:
            empty.setdefault(barred[board], []).append(name)
    for title, names in as_it_lies.items():
        yield f"{_keep(title)} it off {_some(names)}, with room for it"
    for title, names in empty.items():
        if title not in as_it_lies:
            yield f"{_keep(title)} it off {_some(names)}, with room for it while empty"


def _keep(title: str) -> str:
    return f"{title} {'keep' if ' and ' in title else 'keeps'}"


def _some(names: Sequence[str]) -> str:
    return first_few(names, MOST_NAMED, " and ")


def steering_of(
    needs: Sequence[Need],
    boards: Sequence[Board],
    rules: Rules,
    wishes: Wishes,
    last: Sequence[At],
    moving_mm2: float | None,
    finish: Finish = NO_HURRY,
) -> Steering:
    """Return a search with wishes ready to begin: pairs laid, boards for matched pieces chosen."""
    course = with_mirrored(course_of(needs, boards, rules, wishes, last, moving_mm2))
    lots = [lot.need for lot in course.lots]
    problem = Problem(lots, course.boards_left, rules, course.steered())
    is_over = never if finish is NO_HURRY else over_in(MATCHING_SHARE * finish.seconds)
    held = held_boards(course, problem, is_over)
    if held:
        problem = problem.steered_by(course.steered(held))
    searcher = Searcher(lots, course.boards_left, rules, problem=problem)
    return Steering(course, searcher, course.beginning(problem))
