"""A written DXF taken apart: header, tables, blocks, entities, each as group codes and values.

The referee's own reader: it shares nothing with what writes, and mends nothing. What is no DXF
from the first line to the last is an error; what a record holds is left as it stands.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property

Pair = tuple[int, str]

STEM, NAME, COMMENT = 0, 2, 999
"""Group codes: what a record is, what it is called, and what says nothing (DXF reference)."""

FIRST_UNICODE = "AC1021"
"""Version (R2007) from which on text is UTF-8; before, letters of the code page (from memory)."""

_BLANK = "\0\x1a \t\r\n"
"""What may follow the end of a file."""


@dataclass(frozen=True)
class Record:
    """One thing of a file, its pairs without the first; with a polyline, its corners."""

    kind: str
    pairs: list[Pair]
    corners: list[Record] = field(default_factory=list)

    @cached_property
    def first(self) -> dict[int, str]:
        """The first value of each group."""
        return dict(reversed(self.pairs))

    def text(self, code: int, default: str = "") -> str:
        """Return the first value of a group."""
        return self.first.get(code, default)

    def number(self, code: int, default: float | None = None) -> float:
        """Return the first value of a group as a number; an error if there must be one."""
        found = self.first.get(code)
        if found is None and default is not None:
            return default
        return number_of(found or "")


def number_of(text: str) -> float:
    """Return what a text says as a number; an error where it is none that a file may hold."""
    found = float(text)
    if "_" in text or not text.isascii() or not math.isfinite(found):
        raise ValueError(f"{text!r} is no number")
    return found


def numbers_of(texts: list[str]) -> list[float]:
    """Return what each of many texts says as a number, as :func:`number_of` does."""
    found, together = list(map(float, texts)), "".join(texts)
    if "_" in together or not together.isascii() or not all(map(math.isfinite, found)):
        return list(map(number_of, texts))
    return found


def sections_of(content: bytes) -> dict[str, list[Pair]]:
    """Return each section of a file by its name.

    Raises
    ------
    ValueError
        If the file is not made of sections from beginning to end, each there once.
    """
    pairs = _pairs(_decoded(content))
    if not pairs or pairs.pop() != (STEM, "EOF"):
        raise ValueError("the file was cut off: its end (EOF) is missing")
    stems = [at for at, (code, _) in enumerate(pairs) if code == STEM]
    if any(pairs[at][1] == "EOF" for at in stems):
        raise ValueError("it goes on after its end (EOF)")
    found = dict[str, list[Pair]]()
    marks = [at for at in stems if pairs[at][1] == "SECTION"]
    if marks[:1] != [0]:
        raise ValueError("it does not begin with a section")
    ends = {at for at in stems if pairs[at][1] == "ENDSEC"}
    for at, stop in zip(marks, [*marks, len(pairs)][1:], strict=True):
        code, name = pairs[at + 1] if at + 1 < stop else (STEM, "")
        held = pairs[at + 2 : stop]
        if code != NAME or held[-1:] != [(STEM, "ENDSEC")]:
            raise ValueError(f"the section {name!r} does not begin and end as one")
        if name in found or any(at < end < stop - 1 for end in ends):
            raise ValueError(f"the section {name!r} is there twice, or ends twice")
        found[name] = held[:-1]
    return found


def _decoded(content: bytes) -> str:
    said = re.search(rb"\$ACADVER\s+1\s+(\w+)", content)
    is_new = said is not None and said[1].decode("ascii", "replace") >= FIRST_UNICODE
    # What is no letter there stays as something that no drawing of ours holds.
    text = content.decode("utf-8" if is_new else "cp1252", "surrogateescape")
    return text.replace("\r\n", "\n").rstrip(_BLANK)


def _pairs(text: str) -> list[Pair]:
    """Return the groups of a file but for its comments; ours has one, at its beginning."""
    lines = text.split("\n")
    if len(lines) % 2:
        raise ValueError("a group code stands without a value")
    codes = {line: _code(line) for line in set(lines[::2])}
    pairs = list(zip(map(codes.__getitem__, lines[::2]), lines[1::2], strict=True))
    comments = sum(lines[::2].count(line) for line, code in codes.items() if code == COMMENT)
    if all(code == COMMENT for code, _ in pairs[:comments]):
        return pairs[comments:]
    return [pair for pair in pairs if pair[0] != COMMENT]


def _code(line: str) -> int:
    if not re.fullmatch(r"\s*-?\d{1,5}\s*", line, re.ASCII):
        raise ValueError(f"a group code must stand where {line.strip()[:40]!r} does")
    return int(line)


def records_of(pairs: list[Pair], stem: int = STEM) -> Iterator[Record]:
    """Yield the records of a section; ``stem`` is the code that each begins with."""
    starts = [at for at, (code, _) in enumerate(pairs) if code == stem]
    if pairs and starts[:1] != [0]:
        raise ValueError(f"a section begins with group {pairs[0][0]}")
    for start, stop in zip(starts, [*starts, len(pairs)][1:], strict=True):
        yield Record(pairs[start][1], pairs[start + 1 : stop])


def entities_of(pairs: list[Pair]) -> Iterator[Record]:
    """Yield the entities of a section, a polyline with its corners up to its end mark."""
    polyline: Record | None = None
    for record in records_of(pairs):
        if polyline is None:
            if record.kind == "POLYLINE":
                polyline = record
            else:
                yield record
        elif record.kind == "VERTEX":
            polyline.corners.append(record)
        elif record.kind == "SEQEND":
            yield polyline
            polyline = None
        else:
            raise ValueError(f"a polyline goes on with a {record.kind}")
    if polyline is not None:
        raise ValueError("a polyline has no end mark")


def blocks_of(pairs: list[Pair]) -> Iterator[tuple[Record, list[Record]]]:
    """Yield each block with what is in it."""
    block, held = None, list[Record]()
    for record in records_of(pairs):
        if record.kind == "BLOCK":
            block, held = record, []
        elif record.kind == "ENDBLK" and block is not None:
            yield block, held
            block = None
        elif block is not None:
            held.append(record)
        else:
            raise ValueError(f"a {record.kind} stands between blocks")
