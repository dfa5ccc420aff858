"""Wishes made ready for the search, and the plan that comes out of it put together again.

The search knows needs and boards alone. Pieces of one part that are wished alike are one need
to it (a *lot*); pieces that stay are keep-outs of their boards; what a wish bars is left out of
the boards that suit a lot; prices are wood.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from shapely.geometry import Polygon

from nesting.engine.search.kept_places import still_sound, wanted_still
from nesting.engine.search.lots import Lot, lots_of
from nesting.engine.state.board_state import BoardState, Laid
from nesting.engine.state.plan_state import PlanState, empty_plan
from nesting.engine.state.problem import Problem
from nesting.engine.state.steered import Row, Steered
from nesting.need import Need
from nesting.nest import At, Nest, Placement
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOut, KeepOutKind
from nesting.wishes import Matched, Matching, Piece, Use, Wishes, pieces_of, refuses

SOLID = (KeepOutKind.KNOT, KeepOutKind.GROOVE, KeepOutKind.WORN_EDGE, KeepOutKind.ROT)
"""Kinds that no part ignores or plugs: a piece that stays is the one kept clear of by the least."""


@dataclass(frozen=True)
class Course:
    """All that a search with wishes goes by.

    Attributes
    ----------
    locked
        Pieces that lie where they are, whatever is found.
    homes
        Pieces of the last plan that may be moved at a price.
    last
        All pieces of the last plan, for their numbers and their order on a board.
    """

    needs: tuple[Need, ...]
    boards: tuple[Board, ...]
    rules: Rules
    wishes: Wishes
    lots: tuple[Lot, ...]
    locked: tuple[At, ...] = ()
    homes: tuple[At, ...] = ()
    last: tuple[At, ...] = ()
    moving_mm2: float = 0.0

    @cached_property
    def boards_left(self) -> tuple[Board, ...]:
        """The boards, with the pieces that stay as keep-outs."""
        return tuple(self._around(board) for board in self.boards)

    def _around(self, board: Board) -> Board:
        """Return a board with the pieces that stay on it as keep-outs, the gap to them included."""
        stay = [at.placement for at in self.locked if at.board == board.name]
        if not stay:
            return board
        kind = min(SOLID, key=self.rules.clearance_mm)
        reach = max(0.0, self.rules.part_gap_mm - self.rules.clearance_mm(kind))
        taken = tuple(
            KeepOut(kind, Polygon(placement.polygon.exterior), reach, note=placement.label)
            for placement in stay
        )
        return replace(board, keep_outs=(*board.keep_outs, *taken))

    @cached_property
    def needs_now(self) -> tuple[Need, ...]:
        """The parts with as many pieces as are needed now, those of later stages left out."""
        later = self.wishes.not_yet
        now = [
            (need, [piece[1] for piece in pieces_of(need) if piece not in later])
            for need in self.needs
        ]
        return tuple(need.of_these(numbers) for need, numbers in now if numbers)

    def is_later(self, wish: Matched) -> bool:
        """Return whether pieces that are to match are not all needed now."""
        return any(piece in self.wishes.not_yet for piece in wish.pieces)

    @property
    def fixed(self) -> tuple[At, ...]:
        """Of the pieces that stay, those that a wish fixes where the last plan had them."""
        return tuple(at for at in self.locked if at.piece in self.wishes.must_stay)

    @cached_property
    def number_of(self) -> dict[str, int]:
        """Numbers of the boards by their names."""
        return {board.name: number for number, board in enumerate(self.boards)}

    @cached_property
    def lot_of(self) -> dict[Piece, int]:
        """The lot of each piece."""
        return {piece: n for n, lot in enumerate(self.lots) for piece in lot.pieces}

    def steered(self, held: Mapping[str, frozenset[int]] | None = None) -> Steered:
        """Return the wishes by the numbers of lots and boards.

        Parameters
        ----------
        held
            Of matched groups, by the titles of their wishes, the boards chosen for them.
        """
        barred: list[dict[int, str]] = [{} for _ in self.lots]
        piece_mm2: dict[tuple[int, int], float] = defaultdict(float)
        for lot, board, title, price in self._broken(held or {}):
            if price is None:
                told = barred[lot].get(board)
                is_new = told is None or title not in told.split(" and ")
                barred[lot][board] = f"{told} and {title}" if told and is_new else told or title
            else:
                piece_mm2[lot, board] += price
        opening, is_open = self._opening()
        homes = self._homes(barred)
        most = sum(abs(cost) for cost in opening) + sum(
            price for row in homes for price in row.values()
        )
        most += sum(price * len(self.lots[lot].numbers) for (lot, _), price in piece_mm2.items())
        locked: dict[int, str] = {}
        for at in self.locked:
            told = locked.get(self.number_of[at.board])
            label = at.placement.label
            locked[self.number_of[at.board]] = f"{told}; {label}" if told else label
        later = frozenset(n for n, lot in enumerate(self.lots) if lot.is_later)
        return Steered(tuple(barred), dict(piece_mm2), opening, is_open, homes, later, locked, most)

    def _broken(
        self, held: Mapping[str, frozenset[int]]
    ) -> Iterable[tuple[int, int, str, float | None]]:
        """Yield each lot and board that a wish keeps apart, with its title and price."""
        for wish in self.wishes.from_boards:
            names = self.number_of.items()
            kept_off = [number for name, number in names if not wish.allows(name)]
            for lot in self._lots_with(wish.pieces):
                for number in kept_off:
                    yield lot, number, wish.title, wish.price_mm2
        for used in self.wishes.used:
            if used.use is Use.HELD_BACK and not used.is_must:
                continue
            for lot, given in enumerate(self.lots):
                for name in used.boards:
                    number = self.number_of[name]
                    if refuses(used, given.whole, self.boards[number]):
                        yield lot, number, used.title, used.price_mm2
        for matched in self.wishes.matched:
            is_pair = matched.how is Matching.MIRRORED and not self.is_later(matched)
            if is_pair and matched.is_must:
                # A pair that found room is locked, and of no lot any more.
                for lot in self._lots_with(matched.pieces):
                    for number in range(len(self.boards)):
                        yield lot, number, matched.title, None
            if matched.title in held:
                own = held[matched.title]
                kept_off = [number for number in range(len(self.boards)) if number not in own]
                for lot in self._lots_with(matched.pieces):
                    for number in kept_off:
                        yield lot, number, matched.title, matched.price_mm2

    def _lots_with(self, pieces: Iterable[Piece]) -> list[int]:
        return sorted({self.lot_of[piece] for piece in pieces if piece in self.lot_of})

    @property
    def opening_mm2(self) -> tuple[float, ...]:
        """What opening each board takes."""
        return self._opening()[0]

    def _opening(self) -> tuple[tuple[float, ...], frozenset[int]]:
        """Return what opening each board takes, and which cost nothing, or count as if."""
        opening = [board.area_mm2 for board in self.boards]
        is_open = {self.number_of[at.board] for at in self.locked}
        for number in is_open:
            opening[number] = 0.0
        for used in self.wishes.used:
            for name in used.boards:
                number = self.number_of[name]
                if used.use is Use.FIRST and number not in is_open:
                    opening[number] -= min(used.price_mm2 or opening[number], opening[number])
                    is_open.add(number)
                elif used.use is Use.HELD_BACK and used.price_mm2 is not None:
                    opening[number] += used.price_mm2
        return tuple(opening), frozenset(is_open)

    def _homes(self, barred: Sequence[Mapping[int, str]]) -> tuple[Mapping[Row, float], ...]:
        """Return the places of the last plan by board, each with what moving it has to save.

        None of a piece that may not lie there any more.
        """
        rows: list[dict[Row, float]] = [{} for _ in self.boards]
        prices = self.wishes.may_move
        for at in self.homes:
            piece = at.piece
            board, lot = self.number_of[at.board], self.lot_of.get(piece)
            if lot is not None and board not in barred[lot]:
                row = _row(lot, at.placement)
                rows[board][row] = prices.get(piece, self.moving_mm2)
        return tuple(rows)

    def beginning(self, problem: Problem) -> PlanState:
        """Return the plan with every piece that has a place of its own where it was."""
        plan = empty_plan(problem)
        for at in self.homes:
            piece = at.piece
            lot, board = self.lot_of.get(piece), self.number_of[at.board]
            if lot is None or board not in problem.suit_sets[lot] or not plan.missing[lot]:
                continue
            placement = at.placement
            figure = problem.figure(lot, placement.angle_deg, is_over=placement.is_turned_over)
            laid = Laid(lot, figure, placement.x_mm, placement.y_mm)
            plan = plan.with_state(plan.states[board].with_part(laid))
        return plan

    def nests(self, plan: PlanState) -> tuple[Nest, ...]:
        """Return the nests that a state of the search stands for: pieces needed now, numbered."""
        lying: dict[str, list[Placement]] = defaultdict(list)
        for at in self.locked:
            lying[at.board].append(at.placement)
        for state, placement in self._numbered(plan):
            lying[self.boards[state.board].name].append(placement)
        was = {(at.board, *at.piece): n for n, at in enumerate(self.last)}
        # In the order of the last plan; what is new comes after.
        for name, parts in lying.items():
            parts.sort(key=lambda p: was.get((name, *p.piece), len(was)))
        return tuple(
            Nest(board, tuple(lying[board.name])) for board in self.boards if lying[board.name]
        )

    def _numbered(self, plan: PlanState) -> list[tuple[BoardState, Placement]]:
        """Return the placements of a state, each the piece that it was in the last plan if any."""
        was = {
            (self.number_of[at.board], *_lie(at.placement)): at.placement.number
            for at in self.last
            if at.board in self.number_of
        }
        left = {n: list(lot.numbers) for n, lot in enumerate(self.lots)}
        found = [
            (state, laid, was.get((state.board, *_lie(laid.figure.at(laid.x_mm, laid.y_mm)))))
            for state in plan.states
            for laid in state.laid
            if not self.lots[laid.need].is_later
        ]
        given: dict[int, int] = {}
        for place, (_, laid, number) in enumerate(found):
            if number is not None and number in left[laid.need]:
                left[laid.need].remove(number)
                given[place] = number
        placements = []
        for place, (state, laid, _) in enumerate(found):
            number = given[place] if place in given else left[laid.need].pop(0)
            placement = laid.figure.at(laid.x_mm, laid.y_mm)
            whole = self.lots[laid.need].whole
            copy = whole.copy_of(number)
            assert copy is not None, "a lot has only pieces that are still wanted"
            placements.append((state, replace(placement, need=whole, copy=copy)))
        return placements


def _lie(placement: Placement) -> tuple[object, ...]:
    place = placement.x_mm, placement.y_mm, placement.angle_deg, placement.is_turned_over
    return placement.need.part, *place


def _row(lot: int, placement: Placement) -> Row:
    return (
        lot, placement.angle_deg, placement.is_turned_over, placement.x_mm, placement.y_mm,
    )  # fmt: skip


def course_of(
    needs: Sequence[Need],
    boards: Sequence[Board],
    rules: Rules,
    wishes: Wishes,
    last: Sequence[At] = (),
    moving_mm2: float | None = None,
) -> Course:
    """Return wishes made ready for the search.

    Parameters
    ----------
    last
        Where pieces lay in the last plan; the referee says which of them still may.
    moving_mm2
        What moving any of them has to save; None: those of no wish are laid anew.
    """
    of_now = wanted_still(last, needs)
    fixed, later = wishes.must_stay, wishes.not_yet
    known = [at for at in of_now if at.piece not in later]
    locked = tuple(at for at in known if at.piece in fixed)
    may_stay = [
        at
        for at in known
        if at.piece not in fixed and (moving_mm2 is not None or at.piece in wishes.may_move)
    ]
    board_of = {board.name: board for board in boards}
    allowed = [at for at in may_stay if _is_allowed(at, board_of.get(at.board), wishes)]
    homes = still_sound(allowed, boards, rules, locked)
    return Course(
        tuple(needs), tuple(boards), rules, wishes,
        lots_of(needs, wishes, frozenset(at.piece for at in locked)),
        locked, homes, of_now, moving_mm2 or 0.0,
    )  # fmt: skip


def _is_allowed(at: At, board: Board | None, wishes: Wishes) -> bool:
    """Return whether no must about boards forbids a piece its place."""
    if board is None:
        return False
    piece = at.piece
    return not wishes.barring(piece, at.placement.need, board)
