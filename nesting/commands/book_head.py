"""What a project file says of its book, without its stock and parts being read."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from nesting.errors import BookError
from nesting.plain_file import plain_start

if TYPE_CHECKING:
    from nesting.units import Unit


@dataclass(frozen=True)
class Head:
    """What a project file says of its book, without its stock and parts being read.

    ``name`` is None where the book itself is named.
    """

    path: Path
    book: Path
    name: str | None
    unit: Unit
    folder: Path | None = None

    @property
    def project(self) -> str:
        """Name of the project, where one is needed.

        Raises
        ------
        BookError
            If the book itself was named.
        """
        if self.name is None:
            raise BookError(
                f"{self.path} is a book: name the project file, to say whose step it is"
            )
        return self.name


def head_of(path: Path) -> Head:
    """Return what a project file says of its book; or of a book, that it is one.

    Raises
    ------
    BookError
        If the file names no book.
    """
    from nesting.units import Unit

    if is_book(path):
        return Head(path, path, None, _unit_in(path) or Unit.MM)
    return _head_in(path)


def is_book(path: Path) -> bool:
    """Return whether a file is a book, rather than a project file that names one.

    Raises
    ------
    BookError
        If it cannot be read.
    """
    from nesting.book.opening import MAGIC

    try:
        return plain_start(path, len(MAGIC)) == MAGIC
    except OSError as error:
        raise BookError(f"{path} cannot be read: {error.strerror or error}") from error


def no_book_in(path: Path) -> str:
    """Return what is said of a project file that names no book."""
    return (
        f"{path} names no book: write   book: stock.book   beside its name (the book lies "
        "beside the project file, or where several projects find it)"
    )


def _head_in(path: Path) -> Head:
    from nesting.project.unit import unit_of
    from nesting.units import Unit
    from nesting.yaml_file.document import read_head
    from nesting.yaml_file.scalars import as_written

    document = read_head(path, "name", "unit", "book", "outputs")
    data = document.data if isinstance(document.data, dict) else {}
    name, file = as_written(data.get("name")), as_written(data.get("book"))
    if not isinstance(file, str) or not file.strip():
        raise BookError(no_book_in(path))
    if not isinstance(name, str) or not name.strip():
        raise BookError(f"{path} has no name: salvage-nest check says what is wrong with it")
    outputs = data.get("outputs")
    folder = as_written(outputs.get("folder")) if isinstance(outputs, dict) else None
    where = path.parent / folder if isinstance(folder, str) else None
    return Head(path, path.parent / file.strip(), name.strip(), unit_of(document) or Unit.MM, where)


def _unit_in(path: Path) -> Unit | None:
    """Return the unit of the first project in a book."""
    from nesting.book.integrity import damage_told
    from nesting.book.opening import opened
    from nesting.units import Unit

    with opened(path) as found, damage_told(found):
        rows = found.rows("project")
        return Unit(rows[0]["body"]["unit"]) if rows else None
