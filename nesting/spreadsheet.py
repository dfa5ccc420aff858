"""Rows as CSV: texts that a table program may run as formulas are guarded, figures stay."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence

RISKY = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""A cell that begins so may be run as a formula (OWASP, CSV Injection); the last four are the wide
forms of East Asian scripts."""

GUARD = "'"

NUMBER = r"(\d+( \d+/\d+)?|\d+/\d+|\d*\.\d+)([eE][+-]?\d+)?( ?(['\"]|ft|in|mm|cm|m))?"
OFFSET = r"\d+-\d+-\d+(\.\d+)?[+-]?"
FIGURE = re.compile(rf"[+-]?({NUMBER}( {NUMBER})*|{OFFSET})", re.ASCII)
"""A figure, plain, in feet and inches, or as a table of offsets has it (feet, inches, eighths):
with one sign or without it runs nothing."""


def guarded(text: str) -> str:
    """Return a text that no table program runs: risky ones behind an apostrophe.

    So are those that begin with one, so that ``unguarded`` gives every text back.

    >>> guarded("=1+1"), guarded("keel"), unguarded(guarded("'=1"))
    ("'=1+1", 'keel', "'=1")
    """
    return GUARD + text if text.startswith((*RISKY, GUARD)) else text


def unguarded(text: str) -> str:
    """Return the text that was guarded."""
    return text.removeprefix(GUARD)


def cell(text: str) -> str:
    """Return a cell of words or of a figure: a figure stays, whatever it begins with.

    >>> cell("-12.5"), cell("-1 3/8"), cell("-1+2"), cell("")
    ('-12.5', '-1 3/8', "'-1+2", '')
    """
    # A writer puts only the line end that it knows in quotes.
    return text if FIGURE.fullmatch(text) else guarded(text).replace("\r", "\n")


def spreadsheet(rows: Iterable[Sequence[str]], *, line_end: str = "\n") -> bytes:
    r"""Return rows as a CSV file holds them, in UTF-8, a line each, risky texts guarded.

    >>> spreadsheet([["part", "no."], ["beam, fore", "2"], ["=1", "-3"]])
    b'part,no.\n"beam, fore",2\n\'=1,-3\n'
    """
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator=line_end)
    writer.writerows([cell(text) for text in row] for row in rows)
    return stream.getvalue().encode()
