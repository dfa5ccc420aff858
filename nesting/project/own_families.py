"""Part families of a project's own: Python files that it names, run only if somebody allows it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

from nesting.consent import Consent
from nesting.errors import OwnCodeError, ProjectFileError
from nesting.plain_file import plain_bytes
from nesting.project.entry import Entry, Findings
from nesting.unseen import short
from nesting.yaml_file.document import read_document
from nesting.yaml_file.scalars import as_written
from parts.own_code import families_in
from parts.registry import Families, known_families

KEY = "families"

LARGEST_BYTES = 1_000_000
"""A larger file is no list of part families."""

NOT_ALLOWED = (
    "is code that comes with this project, and nobody has allowed it to run: read it, then say so "
    "with --allow-code (or read_project(..., consent=...) in a script)"
)


def read_families(top: Entry, folder: Path, consent: Consent) -> Families:
    """Return the families that a project may name; what is wrong with its own is noted."""
    known = known_families()
    for number, path in own_files(top.data, folder):
        loc = (KEY, number) if isinstance(top.data[KEY], list) else (KEY,)
        content = _content(top, loc, path)
        if content is not None and not consent(path, content):
            top.note(loc, f"{KEY}: {short(path.name)} {NOT_ALLOWED}")
            content = None
        try:
            known = replace(known, is_all=False) if content is None else _with(known, path, content)
        except OwnCodeError as error:
            known = replace(known, is_all=False)
            top.note(loc, f"{KEY}: {short(path.name)} {error}")
    return known


def _with(known: Families, path: Path, content: bytes) -> Families:
    return known.with_own(families_in(path, content))


def own_files(data: Any, folder: Path) -> Iterator[tuple[int, Path]]:
    """Yield the files that a project's data name, each with its number in the list."""
    given = data.get(KEY, ()) if isinstance(data, dict) else ()
    names = map(as_written, given if isinstance(given, list) else [given])
    for number, name in enumerate(names):
        if isinstance(name, str) and name.strip():
            yield number, folder / name.strip()


def _content(top: Entry, loc: tuple[str | int, ...], path: Path) -> bytes | None:
    try:
        if path.suffix != ".py":
            top.note(loc, f"{KEY}: {short(path.name)} is no Python file: its name must end in .py")
        else:
            return code_in(path)
    except FileNotFoundError:
        top.note(loc, f"{KEY}: there is no file {path}; paths count from this file")
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        top.note(loc, f"{KEY}: {path} cannot be read: {reason}")
    return None


def code_in(path: Path) -> bytes:
    """Return the content of a file of families; raises OSError or ValueError as reading does."""
    return plain_bytes(path, LARGEST_BYTES)


def families_of(path: Path, consent: Consent) -> Families:
    """Return the families that a project file may name, its own among them.

    Raises
    ------
    ProjectFileError
        If the file or one of its own families cannot be read.
    """
    document = read_document(path)
    top = Entry(document, document.data, Findings())
    found = read_families(top, path.parent, consent)
    if top.findings.found:
        raise ProjectFileError(top.findings.found)
    return found
