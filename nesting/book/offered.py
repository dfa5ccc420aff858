"""What a project may nest by the book: what is left of its boards, and what is not sawn yet."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from nesting.book.effects import Row
from nesting.book.fitting import misfits, told_misfits
from nesting.book.outlines import make_known
from nesting.book.pieces import copies_of
from nesting.book.record import digest, require_same, retold, stands_against, want_body
from nesting.book.renamed import at_stake, told_new_name
from nesting.book.rows import IN_STOCK, SAWN_UP, SOUND, board_in
from nesting.book.steps import Pile
from nesting.job import Job
from nesting.need import Need
from nesting.stock.board import Board
from nesting.words import counted, first_few


@dataclass(frozen=True)
class Offered:
    """Boards and needs of a project by the book, and what is to be known of them.

    ``sawn`` are the rows of the pieces that were sawn and count.
    """

    stock: tuple[Board, ...]
    needs: tuple[Need, ...]
    sawn: tuple[Row, ...]
    notes: tuple[str, ...]


def as_offered(job: Job, pile: Pile, former: Sequence[str] = ()) -> Offered:
    """Return what a project may nest.

    Boards of the stock files that the book does not know are taken as they stand. One that it
    knows is as the book has it; what is left of one that was cut stands in its place. Boards that
    another project holds are left out.

    Parameters
    ----------
    former
        What the project was called before.

    Raises
    ------
    BookError
        If a board has the name of another one in the book.
    """
    known = {row["name"]: row for row in pile.rows("board")}
    names = (job.name, *former)
    mine = {board.name for board in job.stock}
    told = {board.name: board for board in job.stock}
    stock, notes, held = list[Board](), list[str](), defaultdict[str, list[str]](list)
    fresh = [board for board in job.stock if board.name not in known]
    for board in job.stock:
        if board.name in known:
            row = known[board.name]
            if row["body"]["said"] != digest(board):
                require_same(row, board, names)
                if (why := stands_against(row)) is None:
                    known[board.name] = retold(row, board)
                else:
                    notes.append(f"board {board.name} was changed in the stock file, but {why}")
    make_known(row["body"]["wood"] for row in known.values() if row["state"] == IN_STOCK)
    order = {name: number for number, name in enumerate(mine_first(job.stock, known))}
    for name in sorted(known, key=order.__getitem__):
        row = known[name]
        if row["state"] != IN_STOCK:
            continue
        if row["held_by"] not in (None, *names):
            held[row["held_by"]].append(name)
            continue
        board = board_in(row)
        stock.append(_as_told(board, told[name]) if name in told else board)
    notes += _told(names, pile, mine, held, fresh)
    if not any(pile.row("project", name) for name in names):
        notes += told_new_name(job.name, [need.part for need in job.needs], at_stake(pile.rows))
    needs, sawn, odd = _still_wanted(job, pile, names)
    notes += odd
    return Offered((*stock, *fresh), tuple(needs), sawn, tuple(notes))


def _as_told(board: Board, told: Board) -> Board:
    """Return a board of the book with what its stock file alone may know: books did not always
    keep which leaf of a board it is, nor its note, which may have changed since.
    """
    return replace(board, leaf=board.leaf or told.leaf, note=told.note or board.note)


def mine_first(stock: Sequence[Board], known: dict[str, dict[str, object]]) -> Iterator[str]:
    """Yield the names of the book, those of the project's own stock before the others."""
    seen = [board.name for board in stock if board.name in known]
    yield from seen
    yield from sorted(known.keys() - set(seen))


def _told(
    own: Sequence[str],
    pile: Pile,
    mine: set[str],
    held: dict[str, list[str]],
    fresh: Sequence[Board],
) -> Iterator[str]:
    for other, names in sorted(held.items()):
        yield f"{counted(len(names), 'board')} left out, reserved by {other}: {_listed(names)}"
    others = defaultdict[str, set[str]](set)
    for row in pile.rows("piece"):
        board = pile.row("board", row["board"])
        is_others = row["project"] not in own and row["board"] in mine
        if is_others and board is not None and board["state"] == SAWN_UP:
            others[row["project"]].add(row["board"])
    for other, taken in sorted(others.items()):
        yield f"{counted(len(taken), 'board')} sawn up by {other}: {_listed(sorted(taken))}"
    if fresh:
        unknown = _listed([board.name for board in fresh])
        yield (
            f"{counted(len(fresh), 'board')} not in the book yet, taken as the stock file says: "
            f"{unknown} (salvage-nest book record enters them)"
        )


def _listed(names: Sequence[str]) -> str:
    return first_few(names, 8)


def _still_wanted(
    job: Job, pile: Pile, names: Sequence[str]
) -> tuple[list[Need], tuple[Row, ...], list[str]]:
    """Return the needs without what was sawn, each piece by the name that it always had.

    With them come the rows of those, and what is to be said of pieces that do not count.
    """
    pieces = [
        row for row in pile.rows("piece") if row["project"] in names and row["state"] == SOUND
    ]
    parts = {row["part"] for row in pieces}
    wants = {need.part: want_body(need) for need in job.needs if need.part in parts}
    boards = {row["name"]: row["body"]["wood"]["species"] for row in pile.rows("board")}
    odd = misfits(pieces, wants, boards)
    counted_ones = tuple(row for row in pieces if row["number"] not in odd)
    sawn = copies_of(counted_ones)
    needs = list[Need]()
    for need in job.needs:
        gone = sawn[need.part]
        still = tuple(n for n in range(1, need.quantity + 1) if n not in gone)
        if not gone:
            needs.append(need)
        elif still:
            needs.append(replace(need, quantity=len(still), in_all=need.quantity, still=still))
    return needs, counted_ones, list(told_misfits(pieces, odd, wants))
