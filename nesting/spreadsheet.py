"""Rows of words as CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence


def spreadsheet(rows: Iterable[Sequence[str]]) -> bytes:
    r"""Return rows as a CSV file holds them, in UTF-8, a line each.

    >>> spreadsheet([["part", "no."], ["beam, fore", "2"]])
    b'part,no.\n"beam, fore",2\n'
    """
    stream = io.StringIO()
    csv.writer(stream, lineterminator="\n").writerows(rows)
    return stream.getvalue().encode()
