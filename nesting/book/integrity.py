"""Whether a book is sound: the file, the steps, the wood, each asked apart from what wrote it."""

from __future__ import annotations

import datetime
import math
from collections import defaultdict
from collections.abc import Iterator, Sequence

import shapely
import shapely.affinity
from shapely.geometry import Polygon

from nesting.book.effects import Step, balance
from nesting.book.rows import IN_STOCK, SOUND, check_row, in_root
from nesting.book.schema import FIGURES, LEDGER
from nesting.book.steps import Pile, pile_after, pile_of
from nesting.book.store import Book
from nesting.book.wood import figures_of, wood_of
from nesting.errors import BookError, SalvageNestError
from nesting.words import counted

SHARE = 1e-3
"""Wood is conserved to a thousandth."""

NOTHING_MM2 = 5.0
"""Two pieces of wood that share less lie beside each other: cut lines are drawn to 0.01 mm."""


def faults(book: Book) -> list[str]:
    """Return everything that is wrong with a book, in words; nothing if it is sound."""
    found = list(_file(book))
    if found:
        return found
    try:
        steps = list(book.steps())
        found += _numbers(steps)
        found += _sums(steps)
        pile, written = pile_of(book), pile_after(steps)
        found += _as_written(pile, written)
        for table, rows in pile.tables.items():
            for row in rows.values():
                check_row(table, row)
        found += _figures(book, pile)
        found += _wood(pile, steps)
        found += _beside_each_other(pile)
    except (SalvageNestError, KeyError, TypeError, ValueError) as error:
        found.append(f"what it holds cannot be read: {error}")
    return found


def require_sound(book: Book) -> None:
    """Refuse a book in which anything is wrong.

    Raises
    ------
    BookError
        With the first few things.
    """
    _require_none(book, faults(book))


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
            if rows.get(key) != other.get(key):
                name = " ".join(str(part) for part in key)
                yield f"{table} {name} is not what the steps make of it"


def _figures(book: Book, pile: Pile) -> Iterator[str]:
    for table, names in FIGURES.items():
        key = "name" if table == "board" else "number"
        for name, *found in book.asked(f"SELECT {key}, {', '.join(names)} FROM {table}"):
            row = pile.row(table, name)
            if row is not None and tuple(found) != figures_of(table, row["body"]):
                yield f"the figures beside {table} {name} are not those of what it is"


def _wood(pile: Pile, steps: Sequence[Step]) -> Iterator[str]:
    """Check all wood together: what came in is in stock, in parts, or lost."""
    total = {name: math.fsum(step.ledger[at] for step in steps) for at, name in enumerate(LEDGER)}
    now = [0.0, 0.0, 0.0, 0.0]
    for row in pile.rows("board"):
        if row["state"] == IN_STOCK:
            area, volume = figures_of("board", row["body"])[-2:]
            now[0], now[1] = now[0] + float(str(area)), now[1] + float(str(volume))
    for row in pile.rows("piece"):
        if row["state"] == SOUND:
            area, volume = figures_of("piece", row["body"])[-2:]
            now[2], now[3] = now[2] + float(str(area)), now[3] + float(str(volume))
    for at, unit in enumerate(("mm2", "mm3")):
        entered, lost = total[f"entered_{unit}"], total[f"lost_{unit}"]
        if not _near(entered, now[at] + now[2 + at] + lost, max(entered, 1.0)):
            yield f"{entered - now[at] - now[2 + at] - lost:.0f} {unit} of all wood is missing"
        if lost < -SHARE * max(entered, 1.0):
            yield f"less than nothing is lost: {lost:.0f} {unit}"


def _beside_each_other(pile: Pile) -> Iterator[str]:
    """Check that what came of one board does not lie twice in the same wood."""
    of_root: dict[str, list[tuple[str, Polygon]]] = defaultdict(list)
    roots = {row["name"]: row["body"]["root"] for row in pile.rows("board")}
    for row in pile.rows("board"):
        if row["state"] == IN_STOCK and not row["body"]["taped"]:
            of_root[row["body"]["root"]].append((f"board {row['name']}", in_root(row)))
    for row in pile.rows("piece"):
        if row["state"] == SOUND and not row["body"]["taped"]:
            shape = shapely.affinity.translate(wood_of(row["body"]), *row["body"]["frame"])
            of_root[roots[row["board"]]].append((f"piece {row['body']['label']}", shape))
    for named in of_root.values():
        if len(named) < 2:
            continue
        shapes = [shape for _, shape in named]
        for i, j in shapely.STRtree(shapes).query(shapes, predicate="intersects").T.tolist():
            if i < j and (area := shapes[i].intersection(shapes[j]).area) > NOTHING_MM2:
                yield f"{named[i][0]} and {named[j][0]} hold the same {area:.0f} mm2 of wood"
