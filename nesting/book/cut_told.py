"""What is told of a cut: which pieces were sawn, what became of them, what is kept."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum

from nesting.book.sheet import Sheet
from nesting.errors import BookError


class Kept(StrEnum):
    """What is kept of a board when a cut is done."""

    OFFCUTS = "offcuts"
    REST = "rest"
    NOTHING = "nothing"


@dataclass(frozen=True)
class Cut:
    """What was sawn, and what really happened.

    Attributes
    ----------
    pieces
        Labels; all that are still to be sawn if none are given.
    spoiled
        Labels of those among them that came to nothing.
    used_for
        Label of the piece that one became instead, by its own.
    kept
        What is kept; if not given offcuts of a board that is done, the rest of any other.
    is_even_so
        Whether pieces serve though something but metal was found in them since the sheet.
    """

    pieces: tuple[str, ...] = ()
    spoiled: tuple[str, ...] = ()
    used_for: Mapping[str, str] = field(default_factory=dict)
    kept: Kept | None = None
    is_even_so: bool = False


ALL_SAWN = Cut()
"""All pieces that were still to be sawn, none of them spoiled."""


def by_label(sheet: Sheet, what: Cut) -> Cut:
    """Return what was sawn with every piece by its own label, whatever it was called.

    Raises
    ------
    BookError
        If the sheet has no such piece, or one is said to be spoiled and used for another.
    """

    def labels(given: Iterable[str]) -> tuple[str, ...]:
        return tuple(piece.label for piece in sheet.pieces_named(list(given)))

    used = {labels([label])[0]: other for label, other in what.used_for.items()}
    both = sorted(set(labels(what.spoiled)) & set(used))
    if both:
        raise BookError(f"{', '.join(both)}: a piece that was spoiled is used for nothing")
    return replace(what, pieces=labels(what.pieces), spoiled=labels(what.spoiled), used_for=used)
