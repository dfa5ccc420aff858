"""A project that has another name now: its pieces, its plan and what it holds go with it.

Steps are never changed, so they have the names that projects had; the row of a project keeps those.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping

from nesting.book.effects import Effect, Row, Step
from nesting.book.rows import near
from nesting.book.store import Book, Writing
from nesting.errors import BookError
from nesting.unseen import short
from nesting.words import counted

ALIKE = 0.5
"""A project that has so many of its parts from another one may be that one under a new name."""


def names_in(name: str, row: Row | None) -> tuple[str, ...]:
    """Return a project's name and those that it had before, of its row in a book."""
    return (name, *(row["body"].get("was", ()) if row is not None else ()))


def names_of(book: Book, name: str) -> tuple[str, ...]:
    """Return a project's name and those that it had before."""
    return names_in(name, book.row("project", name))


def called_now(book: Book, name: str) -> str:
    """Return what a project is called now; the same name where the book knows no other."""
    if book.row("project", name) is not None:
        return name
    rows = book.rows("project")
    return next((row["name"] for row in rows if name in names_in(row["name"], row)), name)


def in_names_now(book: Book, step: Step) -> tuple[Effect, ...]:
    """Return what a step did, with the names that projects have now.

    A step that enters a project, or gives it its name, is about the names that stand in it.
    """
    now = {
        former: row["name"]
        for row in book.rows("project")
        for former in names_in(row["name"], row)[1:]
    }
    if not now or any(effect.table == "project" for effect in step.effects):
        return step.effects

    def named(row: Row | None) -> Row | None:
        keys = () if row is None else [key for key in ("project", "held_by") if row.get(key) in now]
        return row if row is None or not keys else {**row, **{key: now[row[key]] for key in keys}}

    return tuple(Effect(e.table, named(e.before), named(e.after)) for e in step.effects)


def rename(writing: Writing, was: str, name: str) -> None:
    """Give a project another name, and all that is its own with it.

    Raises
    ------
    BookError
        If the book does not know the project, or has another one of the new name.
    """
    row = writing.book.row("project", was)
    if row is None:
        names = [one["name"] for one in writing.book.rows("project")]
        known = f": it has {', '.join(names)}" if names else ""
        raise BookError(f"the book knows no project {short(was)}{near(was, names) or known}")
    _require_free(writing.book, was, name)
    former = [one for one in names_in(was, row) if one != name]
    writing.put("project", {"name": name, "body": {**row["body"], "was": former}})
    for want in writing.book.rows("want", "project = ?", name):
        writing.take("want", name, want["part"])
    for table in ("want", "plan"):
        for one in writing.book.rows(table, "project = ?", was):
            writing.take(table, *(one[key] for key in ("project", "part") if key in one))
            writing.put(table, {**one, "project": name})
    for board in writing.book.rows("board", "held_by = ?", was):
        writing.put("board", {**board, "held_by": name})
    for piece in writing.book.rows("piece", "project = ?", was):
        writing.put("piece", {**piece, "project": name})
    writing.take("project", was)


def _require_free(book: Book, was: str, name: str) -> None:
    """Refuse a name that another project of the book has, unless that was only just entered."""
    if was == name:
        raise BookError(f"the project is called {short(name)} already: name what it was before")
    require_new_name(book, name, but=was)
    for table, what in (("piece", "sawn pieces"), ("plan", "reserved a plan")):
        if book.rows(table, "project = ?", name):
            raise BookError(
                f"{short(name)} has {what} of its own: two projects do not become one. Give one of "
                "them another name"
            )
    if book.asked("SELECT 1 FROM board WHERE held_by = ?", name):
        raise BookError(
            f"{short(name)} holds boards of its own: release them (salvage-nest book release), "
            f"then say again that it was {short(was)}"
        )


def require_new_name(book: Book, name: str, *, but: str = "") -> None:
    """Refuse a name that another project of the book had once: its steps bear it still.

    Raises
    ------
    BookError
        Says which project that is.
    """
    for row in book.rows("project"):
        if row["name"] not in (name, but) and name in names_in(row["name"], row):
            raise BookError(
                f"the project {short(row['name'])} was called {short(name)} once, and the history "
                "has it by that name: give this one another"
            )


def told_new_name(
    name: str, parts: Collection[str], others: Mapping[str, Collection[str]]
) -> Iterator[str]:
    """Yield a note on each project that one which is new to a book may have been.

    Parameters
    ----------
    others
        The parts of each project that has something sawn or reserved.
    """
    for other, theirs in others.items():
        alike = len(set(parts) & set(theirs))
        if other != name and parts and alike >= ALIKE * len(parts):
            yield (
                f"{short(name)} is new to the book, and has {counted(alike, 'part')} of "
                f"{short(other)}: if it is that project under a new name, say so (salvage-nest "
                f"book record PROJECT.yaml --was {other!r}), or what {short(other)} has sawn and "
                "reserved is another's to it"
            )


def at_stake(rows: Callable[[str], Iterable[Row]]) -> dict[str, list[str]]:
    """Return the parts of each project that has sawn or reserved something.

    ``rows`` gives the rows of a table: of a book, or of a pile.
    """
    busy = {row["project"] for table in ("piece", "plan") for row in rows(table)}
    busy |= {row["held_by"] for row in rows("board") if row["held_by"] is not None}
    found: dict[str, list[str]] = {name: [] for name in sorted(busy)}
    for row in rows("want") if busy else ():
        if row["project"] in found:
            found[row["project"]].append(row["part"])
    return found
