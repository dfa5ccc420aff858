"""Boards for pieces whose grain and colour are to match: chosen before the search.

For each group every board, or every few neighbours, that has room for all of it is tried with a
quick plan of everything; where the plan takes least, the group is held.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from nesting.engine.search.construct import Order, insert_all, ordered
from nesting.engine.search.course import Course
from nesting.engine.search.kept_places import still_sound
from nesting.engine.search.lots import lots_of
from nesting.engine.state.board_state import BoardState
from nesting.engine.state.plan_state import PlanState, outlay
from nesting.engine.state.problem import Problem
from nesting.engine.stop import never
from nesting.nest import At, Nest, Placement, lie_of
from nesting.referee.check import check_nest
from nesting.stock.board import Board
from nesting.wishes import Matched, Matching, Piece

MOST_TRIED = 6
"""Boards, or few neighbours, that are tried with a whole plan for each group: those that take the
least wood."""

Held = Mapping[str, frozenset[int]]


def quick_plan(course: Course, problem: Problem, is_over: Callable[[], bool] = never) -> PlanState:
    """Return a first plan: what has a place of its own there, then dear parts first."""
    plan = course.beginning(problem)
    copies = [n for n, count in enumerate(plan.missing) for _ in range(count)]
    sequence = ordered(copies, problem, Order.WORTH)
    return insert_all(plan, sequence, problem, is_over=is_over, is_quick=True)


def held_boards(
    course: Course, problem: Problem, is_over: Callable[[], bool] = never
) -> dict[str, frozenset[int]]:
    """Return the boards chosen for each matched group, by the titles of their wishes.

    When the time for that is over, the least wood that has the area for a group is held unasked:
    boards must be held for every group, or the search would not know of it.
    """
    held: dict[str, frozenset[int]] = {}
    for wish in course.wishes.matched:
        if wish.how is Matching.MIRRORED:
            continue
        best: tuple[float, frozenset[int]] | None = None
        for boards in _candidates(wish, course, problem, is_over):
            if is_over():
                best = best or (0.0, boards)
                break
            steered = course.steered({**held, wish.title: boards})
            other = problem.steered_by(steered)
            cost = outlay(quick_plan(course, other, is_over), other)
            if best is None or cost < best[0]:
                best = cost, boards
        if best is not None:
            held[wish.title] = best[1]
    return held


def _candidates(
    wish: Matched, course: Course, problem: Problem, is_over: Callable[[], bool]
) -> list[frozenset[int]]:
    """Return sets of boards with room for a whole group, least wood first; else for most of it."""
    lots = [course.lot_of[piece] for piece in wish.pieces if piece in course.lot_of]
    may = _may_hold(wish, lots, course, problem)
    needed = sum(problem.needs[lot].outline.area_mm2 for lot in lots)
    found: list[tuple[int, float, list[int]]] = []
    for opening, names in may:
        boards = frozenset(names)
        if is_over():
            return [_large_enough([own for _, own in may], needed, problem)]
        found.append((_left_over(lots, boards, problem), opening, names))
        if sum(left == 0 for left, _, _ in found) == MOST_TRIED:
            break
    found.sort()
    most = [names for left, _, names in found if left == found[0][0]]
    return [frozenset(names) for names in most[:MOST_TRIED]]


def _may_hold(
    wish: Matched, lots: Sequence[int], course: Course, problem: Problem
) -> list[tuple[float, list[int]]]:
    """Return the boards that may hold a group, with what they take to open; least wood first."""
    there = {course.number_of[at.board] for at in course.locked if at.piece in wish.pieces}
    # Of thousands of boards, for hundreds of wishes: which suit any piece is found out once.
    suited = frozenset[int]().union(*(problem.suit_sets[lot] for lot in lots))
    sets = [[number] for number in sorted(suited)]
    sets += [sorted(boards) for boards in _windows(wish, course) if boards & suited]
    return sorted(
        (sum(map(problem.opening_mm2, names)), names) for names in sets if there <= set(names)
    )


def _large_enough(
    sets: Sequence[Sequence[int]], needed_mm2: float, problem: Problem
) -> frozenset[int]:
    """Return the first boards that have an area, else those that have the most."""

    def area(boards: Iterable[int]) -> float:
        return sum(problem.boards[board].area_mm2 for board in boards)

    enough = next((own for own in sets if area(own) >= needed_mm2), None)
    return frozenset(max(sets, key=area) if enough is None else enough)


def _windows(wish: Matched, course: Course) -> Iterator[frozenset[int]]:
    """Yield neighbours that a group may lie on, beside single boards."""
    if wish.how is Matching.NEIGHBOURS:
        windows = dict.fromkeys(course.wishes.windows(wish))
        yield from (frozenset(course.number_of[name] for name in row) for row in windows)


def _left_over(lots: Sequence[int], boards: frozenset[int], problem: Problem) -> int:
    """Return how many pieces of a group find no room on some boards by themselves."""
    states = {board: BoardState(board) for board in sorted(boards)}
    left = 0
    for lot in sorted(lots, key=lambda lot: -problem.needs[lot].outline.area_mm2):
        for board, state in states.items():
            laid = state.spot(lot, problem) if board in problem.suit_sets[lot] else None
            if laid is not None:
                states[board] = state.with_part(laid)
                break
        else:
            left += 1
    return left


def with_mirrored(course: Course) -> Course:
    """Return a course in which every mirrored pair that finds room lies over itself, and stays."""
    for wish in course.wishes.matched:
        if wish.how is not Matching.MIRRORED or course.is_later(wish):
            continue
        pair = _pair(wish, course)
        if pair:
            gone = {at.piece for at in pair}
            locked = (*course.locked, *pair)
            left = [at for at in course.homes if at.piece not in gone]
            course = replace(
                course,
                locked=locked,
                homes=still_sound(left, course.boards, course.rules, locked),
                lots=lots_of(course.needs, course.wishes, frozenset(at.piece for at in locked)),
            )
    return course


def _pair(wish: Matched, course: Course) -> tuple[At, ...]:
    """Return where the two pieces of a pair lie: as in the last plan, or where there is room."""
    stay = [at for at in course.locked if at.piece in wish.pieces]
    lie = [at for at in course.homes if at.piece in wish.pieces]
    windows = list(dict.fromkeys(course.wishes.windows(wish)))
    are_over = len(lie) == 2 and lie_of(lie[0].placement) == lie_of(lie[1].placement)
    if not stay and are_over and any({at.board for at in lie} == set(own) for own in windows):
        return tuple(lie)
    if len(stay) == 2:
        return ()
    others = tuple(other for other in course.wishes.matched if other is not wish)
    paired = {
        piece
        for other in others
        if other.is_must and other.how is Matching.MIRRORED and not course.is_later(other)
        for piece in other.pieces
    }
    if any(piece in paired and piece in course.lot_of for piece in wish.pieces):
        # The other pair found no room: its pieces may lie nowhere.
        return ()
    opening = course.opening_mm2
    windows.sort(key=lambda own: sum(opening[course.number_of[name]] for name in own))
    free = [
        window
        for window in windows
        if not any(_is_kept_off(piece, name, course) for name in window for piece in wish.pieces)
    ]
    return _laid(wish, free, stay, course, lie)


def _laid(
    wish: Matched,
    windows: Sequence[Sequence[str]],
    stay: Sequence[At],
    course: Course,
    lie: Sequence[At],
) -> tuple[At, ...]:
    """Return a pair laid on the first leaves with room, moving as few pieces as can be.

    ``stay`` is the one of it that may not be moved, ``lie`` where those lay that may. One goes over
    the other where that lay rather than both elsewhere, and both beside whatever else lay there
    rather than in its place.
    """
    own = {at.piece for at in lie}
    others = tuple(at for at in course.homes if at.piece not in own)
    clear = replace(course, locked=(*course.locked, *others))
    for at in () if stay else lie:
        for window in windows:
            if found := _over_each_other(wish, window, [at], clear):
                return (at, *found)
    for window in windows:
        for around in (clear, course) if others else (course,):
            if found := _over_each_other(wish, window, stay, around):
                return found
    return ()


def _is_kept_off(piece: Piece, name: str, course: Course) -> bool:
    """Return whether a must keeps a piece that is still to be laid off a board."""
    lot = course.lot_of.get(piece)
    if lot is None:
        return False
    board = course.boards[course.number_of[name]]
    return bool(course.wishes.barring(piece, course.lots[lot].whole, board))


def _over_each_other(
    wish: Matched, window: Sequence[str], stay: Sequence[At], course: Course
) -> tuple[At, ...]:
    """Return a pair on two leaves, where both are free of what a piece may not hold."""
    first, second = (course.boards_left[course.number_of[name]] for name in window)
    need = next(need for need in course.needs if need.part == wish.pieces[0][0])
    if stay:  # One of them stays: the other goes over it, or nowhere.
        at = stay[0]
        names = [name for name in window if name != at.board]
        if at.board not in window:
            return ()
        spots: list[Placement] = [at.placement]
    else:
        names = list(window)
        both = replace(first, keep_outs=(*first.keep_outs, *second.keep_outs))
        thinner = min(first.thickness_mm, second.thickness_mm)
        problem = Problem(
            [replace(need, quantity=1)], [replace(both, thickness_mm=thinner)], course.rules
        )
        laid = BoardState(0).spot(0, problem) if 0 in problem.suit_sets[0] else None
        spots = [] if laid is None else [laid.figure.at(laid.x_mm, laid.y_mm)]
    pieces = [piece for piece in wish.pieces if piece not in {at.piece for at in stay}]
    for spot in spots:
        found = tuple(
            At(name, replace(spot, need=need, copy=piece[1]))
            for name, piece in zip(names, pieces, strict=True)
        )
        if all(_is_sound(at, first if at.board == first.name else second, course) for at in found):
            return found
    return ()


def _is_sound(at: At, board: Board, course: Course) -> bool:
    return not check_nest(Nest(board, (at.placement,)), course.rules)
