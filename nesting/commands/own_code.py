"""Code that comes with a project: asked about on a terminal, else allowed by a flag alone."""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

from nesting.commands.shared import say
from nesting.plain_file import plain_bytes
from nesting.yaml_file.text import LARGEST_BYTES


def ask_about_code(given: argparse.Namespace) -> None:
    """Ask whether a project's own part families may run, before anything live is shown.

    Nobody is asked where there is no terminal, or where all is allowed already.
    """
    path = getattr(given, "project", None)
    if path is None and getattr(given, "word", None) == "record":
        path = given.book
    if path is None or not _may_name_code(path):
        return
    from nesting.consent import allow, is_allowed
    from nesting.project.own_families import code_in

    for file in _files(path):
        try:
            content = code_in(file)
        except (OSError, ValueError):
            continue  # Reading the project says so, with its place.
        if is_allowed(file, content):
            continue
        if given.allow_code or _is_agreed(file, content):
            allow(file, content)
    given.begun = time.monotonic()


def _may_name_code(path: Path) -> bool:
    """Return whether a project file holds the key at all: few do, and reading one takes time."""
    try:
        return b"families" in plain_bytes(path, LARGEST_BYTES)
    except (OSError, ValueError):
        return False  # Reading the project says what is wrong with it.


def _files(path: Path) -> list[Path]:
    from nesting.errors import SalvageNestError
    from nesting.project.own_families import own_files
    from nesting.yaml_file.document import read_head

    try:
        data = read_head(path, "families").data
    except SalvageNestError:
        return []  # Reading the project says what is wrong with it.
    return [file for _, file in own_files(data, path.parent) if file.suffix == ".py"]


def _is_agreed(file: Path, content: bytes) -> bool:
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        return False
    from nesting.words import counted

    lines = counted(content.count(b"\n") + 1, "line")
    say(
        f"{file} ({lines}) is code that comes with this project, new or changed since it was last "
        "allowed. It would run with all your rights: read it first.",
        sys.stderr,
    )
    say("Let it run, now and for as long as it does not change? [y/N] ", sys.stderr)
    try:
        return sys.stdin.readline().strip().casefold() in ("y", "yes")
    except UnicodeDecodeError:
        return False
