"""Whether a book is sound: the file, the steps, the wood, each asked apart from what wrote it."""

from __future__ import annotations

import datetime
import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np
import shapely
import shapely.affinity
from shapely.geometry import Polygon

from nesting.book.effects import TABLES, Step, balance
from nesting.book.from_nowhere import from_nowhere
from nesting.book.outlines import make_known, wood_of
from nesting.book.rows import IN_STOCK, SOUND, check_row, lies_surely
from nesting.book.schema import FIGURES, LEDGER
from nesting.book.steps import Pile, outlines, pile_after, pile_of
from nesting.book.store import Book
from nesting.book.wood import figures_of
from nesting.errors import BookError, SalvageNestError
from nesting.words import counted

SHARE = 1e-3
"""Wood is conserved to a thousandth."""

NOTHING_MM2 = 5.0
"""Two pieces of wood that share less lie beside each other: cut lines are drawn to 0.01 mm."""


Reckoned = Mapping[object, tuple[object, ...]]
"""Figures that are reckoned from the bodies of a table, by its keys."""


Made = tuple[Sequence[Step], Pile]
"""The steps that a book was made of, and what they make."""


STUMBLES = (ArithmeticError, AttributeError, LookupError, TypeError, ValueError)
"""What a value of the wrong kind or size ends in, wherever it is met."""


def faults(book: Book, made_of: Made | None = None) -> list[str]:
    """Return everything that is wrong with a book, in words; nothing if it is sound.

    ``made_of`` is what it was made of just now, by the same transaction; usually all is read from
    the book, and the rows held against the steps.
    """
    found = list(_file(book))
    if found:
        return found
    try:
        steps = _read(book) if made_of is None else made_of[0]
        found += _numbers(steps)
        found += _sums(steps)
        # What was just written of the steps is no proof of them.
        written = pile_after(steps) if made_of is None else made_of[1]
        pile = pile_of(book, written) if made_of is None else written
        found += _as_written(pile, written)
        for table, rows in pile.tables.items():
            for row in rows.values():
                check_row(table, row)
        reckoned = {
            table: {
                key: figures_of(table, row["body"]) for (key,), row in pile.tables[table].items()
            }
            for table in FIGURES
        }
        found += _figures(book, reckoned)
        found += _wood(pile, steps, reckoned)
        found += _beside_each_other(pile)
        found += from_nowhere(steps, pile)
    except (SalvageNestError, *STUMBLES) as error:
        found.append(f"what it holds cannot be read: {error}")
    return found


def _read(book: Book) -> list[Step]:
    steps = list(book.steps())
    make_known(outlines(steps))
    return steps


def require_sound(book: Book, made_of: Made | None = None) -> None:
    """Refuse a book in which anything is wrong; for ``made_of`` see :func:`faults`.

    Raises
    ------
    BookError
        With the first few things.
    """
    _require_none(book, faults(book, made_of))


@contextmanager
def damage_told(book: Book) -> Iterator[None]:
    """Have whatever stumbles over a damaged book end by saying that the book is.

    Raises
    ------
    BookError
        In place of any error that a value in the book explains: the book is not sound.
    """
    try:
        yield
    except SalvageNestError:
        raise
    except STUMBLES:
        require_sound(book)
        raise


def require_whole(book: Book) -> None:
    """Refuse a book that SQLite itself finds damaged.

    Raises
    ------
    BookError
        With the first few things.
    """
    _require_none(book, list(_file(book)))


def _require_none(book: Book, found: Sequence[str]) -> None:
    if found:
        more = f"\nand {counted(len(found) - 10, 'thing')} more" if len(found) > 10 else ""
        raise BookError(f"{book.path} is not sound:\n" + "\n".join(found[:10]) + more)


def _file(book: Book) -> Iterator[str]:
    """Ask SQLite itself."""
    for (said,) in book.asked("PRAGMA integrity_check(20)"):
        if said != "ok":
            yield f"SQLite says: {said}"
    for table, row, parent, _ in book.asked("PRAGMA foreign_key_check"):
        yield f"a row of {table} ({row}) names one of {parent} that is not there"


def _numbers(steps: Sequence[Step]) -> Iterator[str]:
    for number, step in enumerate(steps, start=1):
        if step.number != number:
            yield f"step {number} is missing: the next is {step.number}"
            return
        try:
            datetime.datetime.fromisoformat(step.at)
        except ValueError:
            yield f"step {number} was at {step.at!r:.40}, which is no time"
        if step.undoes is not None and not step.undoes < step.number:
            yield f"step {step.number} takes back step {step.undoes}, which comes after it"


def _sums(steps: Sequence[Step]) -> Iterator[str]:
    """Check that what a step says of wood follows from what it did, and adds up."""
    for step in steps:
        stock, parts = balance(step.effects)
        for unit, at in (("mm2", 0), ("mm3", 4)):
            entered, in_stock, in_parts, lost = step.ledger[at : at + 4]
            size = max(map(abs, step.ledger[at : at + 4]), default=0.0)
            pairs = ((in_stock, stock[at // 4]), (in_parts, parts[at // 4]))
            if any(not _near(said, reckoned, size) for said, reckoned in pairs):
                yield f"step {step.number} says other figures ({unit}) than it changed"
            if not _near(entered, in_stock + in_parts + lost, size):
                yield (
                    f"step {step.number} ({step.kind}): {in_stock + in_parts + lost - entered:.0f} "
                    f"{unit} of wood came from nowhere, or went there"
                )


def _near(first: float, second: float, size: float) -> bool:
    return math.isclose(first, second, abs_tol=SHARE * size + 1e-3)


def _as_written(pile: Pile, written: Pile) -> Iterator[str]:
    for table, rows in written.tables.items():
        other = pile.tables[table]
        for key in sorted({*rows, *other}, key=str):
            if rows.get(key) is not other.get(key) and rows.get(key) != other.get(key):
                name = " ".join(str(part) for part in key)
                yield f"{table} {name} is not what the steps make of it"


def _figures(book: Book, reckoned: Mapping[str, Reckoned]) -> Iterator[str]:
    for table, names in FIGURES.items():
        key = "name" if table == "board" else "number"
        for name, *found in book.asked(f"SELECT {key}, {', '.join(names)} FROM {table}"):
            if tuple(found) != reckoned[table].get(name, tuple(found)):
                yield f"the figures beside {table} {name} are not those of what it is"


def _wood(pile: Pile, steps: Sequence[Step], reckoned: Mapping[str, Reckoned]) -> Iterator[str]:
    """Check all wood together: what came in is in stock, in parts, or lost."""
    total = {name: math.fsum(step.ledger[at] for step in steps) for at, name in enumerate(LEDGER)}
    live = {"board": IN_STOCK, "piece": SOUND}
    figures = [
        [
            reckoned[table][row[TABLES[table].key[0]]]
            for row in pile.rows(table)
            if row["state"] == state
        ]
        for table, state in live.items()
    ]
    for at, unit in enumerate(("mm2", "mm3")):
        entered, lost = total[f"entered_{unit}"], total[f"lost_{unit}"]
        now = math.fsum(float(str(found[at - 2])) for some in figures for found in some)
        if not _near(entered, now + lost, max(entered, 1.0)):
            yield f"{entered - now - lost:.0f} {unit} of all wood is missing"
        if lost < -SHARE * max(entered, 1.0):
            yield f"less than nothing is lost: {lost:.0f} {unit}"


@dataclass(frozen=True)
class _Lying:
    """A board or piece: what it is called, its outline, and where that lies in its root's frame."""

    name: str
    outline: Polygon
    at: Sequence[float]

    @property
    def in_root(self) -> Polygon:
        return shapely.affinity.translate(self.outline, *self.at)


def _beside_each_other(pile: Pile) -> Iterator[str]:
    """Check that what came of one board does not lie twice in the same wood."""
    of_root: dict[str, list[_Lying]] = defaultdict(list)
    roots = {row["name"]: row["body"]["root"] for row in pile.rows("board")}
    for row in pile.rows("board"):
        body = row["body"]
        if row["state"] == IN_STOCK and lies_surely(body):
            lying = _Lying(f"board {row['name']}", wood_of(body["wood"]), body["at"])
            of_root[body["root"]].append(lying)
    for row in pile.rows("piece"):
        body = row["body"]
        if row["state"] == SOUND and lies_surely(body):
            lying = _Lying(f"piece {body['label']}", wood_of(body), body["frame"])
            of_root[roots[row["board"]]].append(lying)
    some = [one for group in of_root.values() if len(group) > 1 for one in group]
    if not some:
        return
    boxes = shapely.bounds([one.outline for one in some])
    boxes += np.tile(np.array([one.at for one in some], float), 2)
    begin = 0
    for group in of_root.values():
        if len(group) > 1:
            yield from _twice(group, boxes[begin : begin + len(group)].tolist())
            begin += len(group)


def _twice(group: Sequence[_Lying], boxes: Sequence[Sequence[float]]) -> Iterator[str]:
    """Yield what of one board lies in the same wood; boxes that hardly meet hold nothing such."""
    for i, (low_x, low_y, high_x, high_y) in enumerate(boxes):
        for j in range(i + 1, len(boxes)):
            x0, y0, x1, y1 = boxes[j]
            wide, high = min(high_x, x1) - max(low_x, x0), min(high_y, y1) - max(low_y, y0)
            if wide <= 0 or high <= 0 or wide * high <= NOTHING_MM2:
                continue
            area = group[i].in_root.intersection(group[j].in_root).area
            if area > NOTHING_MM2:
                yield f"{group[i].name} and {group[j].name} hold the same {area:.0f} mm2 of wood"
