"""The last plan of a project, read for what of it still holds: boards and parts may have changed.

Nothing is refused here that a change of the project explains: a piece whose part is no longer
asked for, or whose board is gone, is told by its name.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from nesting.changes import LastPlan
from nesting.errors import OutputError
from nesting.need import Need
from nesting.nest import At, Placement
from nesting.summary.fields import rows, text, whole
from nesting.summary.file import read_summary
from nesting.summary.of_plan import SUMMARY_VERSION, read_placement

WITHOUT_SHEETS = 4
"""Summaries of this form are read too: they do not hold the words of the sheets."""


def read_last_plan(folder: Path, needs: Sequence[Need]) -> LastPlan:
    """Return the plan in a folder, so far as the project still has its parts.

    Raises
    ------
    OutputError
        If there is none, or it cannot be read.
    """
    given = read_summary(folder)
    if given.get("version") not in (WITHOUT_SHEETS, SUMMARY_VERSION):
        raise OutputError(
            f"the summary in {folder} is of form {given.get('version')}, not {SUMMARY_VERSION}: "
            "nest the project anew"
        )
    need_of = {need.part: need for need in needs}
    try:
        return LastPlan(
            tuple(_pieces(given, need_of)),
            {text(row, "board"): _labels(row) for row in rows(given, "boards")},
            {
                text(row, "board"): text(row, "sheet") if "sheet" in row else ""
                for row in rows(given, "boards")
            },
        )
    except (KeyError, TypeError, ValueError) as error:
        raise OutputError(f"the plan in {folder} cannot be read ({error})") from error


def _pieces(given: Mapping[str, Any], need_of: Mapping[str, Need]) -> Iterator[At]:
    for row in rows(given, "boards"):
        for part in rows(row, "parts"):
            need = need_of.get(text(part, "part"))
            number = whole(part, "number") if "number" in part else whole(part, "copy")
            # What was sawn since is no longer asked for.
            copy = None if need is None else need.copy_of(number)
            if copy is not None:
                placement: Placement = replace(read_placement(part, need_of), copy=copy)
                yield At(text(row, "board"), placement)


def _labels(row: Mapping[str, Any]) -> tuple[str, ...]:
    return tuple(text(part, "label") for part in rows(row, "parts"))
