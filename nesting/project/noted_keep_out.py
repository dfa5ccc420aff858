"""A tape note read as the keep-out that a project file would have for it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic import ValidationError

from nesting.errors import ShapeError
from nesting.project.keep_out_entry import KeepOutEntry, NotedKeepOut
from nesting.project.tape_notes import read_note
from nesting.project.wording import complaints
from nesting.stock.keep_out import KeepOutKind
from nesting.unseen import quoted


def noted_keep_out(kind: KeepOutKind, text: str, context: Mapping[str, Any]) -> KeepOutEntry:
    """Return what a note says.

    Raises
    ------
    ShapeError
        If it is not understood, or says what no keep-out can be; the note is named.
    """
    given = {"keep_out": read_note(kind, text)}
    try:
        read = NotedKeepOut.model_validate(given, context=dict(context), by_name=False)
    except ValidationError as error:
        said = "; ".join(complaint.message for complaint in complaints(error, NotedKeepOut))
        raise ShapeError(f"{quoted(text)}: {said}") from error
    return read.keep_out
