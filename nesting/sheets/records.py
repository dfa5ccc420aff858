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
from itertools import compress

Pair = tuple[int, str]

STEM, NAME, COMMENT = 0, 2, 999
"""Group codes: what a record is, what it is called, and what says nothing (DXF reference)."""

FIRST_UNICODE = "AC1021"
"""Version (R2007) from which on text is UTF-8; before, letters of the code page (from memory)."""

_BLANK = "\0\x1a \t\r\n"
"""What may follow the end of a file."""


@dataclass(frozen=True)
class Pairs:
    """Group codes and their values in turn, kept apart: of both there may be half a million."""

    codes: list[int]
    values: list[str]

    def __len__(self) -> int:
        return len(self.codes)

    def __iter__(self) -> Iterator[Pair]:
        return zip(self.codes, self.values, strict=True)

    def at(self, number: int) -> Pair:
        """Return one of them, counted from the beginning or back from the end."""
        return self.codes[number], self.values[number]

    def cut(self, start: int, stop: int | None = None) -> Pairs:
        """Return those from one place up to another."""
        return Pairs(self.codes[start:stop], self.values[start:stop])

    def places_of(self, code: int) -> list[int]:
        """Return where a code stands."""
        return [at for at, one in enumerate(self.codes) if one == code]

    def without(self, code: int) -> Pairs:
        """Return all but those of a code."""
        stays = [one != code for one in self.codes]
        return Pairs(list(compress(self.codes, stays)), list(compress(self.values, stays)))


NONE = Pairs([], [])
"""Of a section that a file has not."""


@dataclass(frozen=True)
class Record:
    """One thing of a file, its pairs without the first; with a polyline, its corners."""

    kind: str
    pairs: Pairs
    corners: list[Record] = field(default_factory=list)

    @cached_property
    def first(self) -> dict[int, str]:
        """The first value of each group."""
        codes, values = self.pairs.codes, self.pairs.values
        return dict(zip(reversed(codes), reversed(values), strict=True))

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


def sections_of(content: bytes) -> dict[str, Pairs]:
    """Return each section of a file by its name.

    Raises
    ------
    ValueError
        If the file is not made of sections from beginning to end, each there once.
    """
    pairs = _pairs(_decoded(content))
    if not len(pairs) or pairs.at(-1) != (STEM, "EOF"):
        raise ValueError("the file was cut off: its end (EOF) is missing")
    last = len(pairs) - 1
    stems = {at: pairs.values[at] for at in pairs.places_of(STEM) if at < last}
    if "EOF" in stems.values():
        raise ValueError("it goes on after its end (EOF)")
    found = dict[str, Pairs]()
    marks = [at for at, word in stems.items() if word == "SECTION"]
    if marks[:1] != [0]:
        raise ValueError("it does not begin with a section")
    ends = {at for at, word in stems.items() if word == "ENDSEC"}
    for at, stop in zip(marks, [*marks, last][1:], strict=True):
        code, name = pairs.at(at + 1) if at + 1 < stop else (STEM, "")
        if code != NAME or stop < at + 3 or stop - 1 not in ends:
            raise ValueError(f"the section {name!r} does not begin and end as one")
        if name in found or any(at < end < stop - 1 for end in ends):
            raise ValueError(f"the section {name!r} is there twice, or ends twice")
        found[name] = pairs.cut(at + 2, stop - 1)
    return found


def _decoded(content: bytes) -> str:
    said = re.search(rb"\$ACADVER\s+1\s+(\w+)", content)
    is_new = said is not None and said[1].decode("ascii", "replace") >= FIRST_UNICODE
    # What is no letter there stays as something that no drawing of ours holds.
    text = content.decode("utf-8" if is_new else "cp1252", "surrogateescape")
    return text.replace("\r\n", "\n").rstrip(_BLANK)


def _pairs(text: str) -> Pairs:
    """Return the groups of a file but for its comments; ours has one, at its beginning."""
    lines = text.split("\n")
    if len(lines) % 2:
        raise ValueError("a group code stands without a value")
    written = lines[::2]
    codes = {line: _code(line) for line in set(written)}
    pairs = Pairs(list(map(codes.__getitem__, written)), lines[1::2])
    comments = sum(written.count(line) for line, code in codes.items() if code == COMMENT)
    if pairs.codes[:comments] == [COMMENT] * comments:
        return pairs.cut(comments)
    return pairs.without(COMMENT)


def _code(line: str) -> int:
    if not re.fullmatch(r"\s*-?\d{1,5}\s*", line, re.ASCII):
        raise ValueError(f"a group code must stand where {line.strip()[:40]!r} does")
    return int(line)


def records_of(pairs: Pairs, stem: int = STEM) -> Iterator[Record]:
    """Yield the records of a section; ``stem`` is the code that each begins with."""
    starts = pairs.places_of(stem)
    if len(pairs) and starts[:1] != [0]:
        raise ValueError(f"a section begins with group {pairs.codes[0]}")
    for start, stop in zip(starts, [*starts, len(pairs)][1:], strict=True):
        yield Record(pairs.values[start], pairs.cut(start + 1, stop))


def entities_of(pairs: Pairs) -> Iterator[Record]:
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


def blocks_of(pairs: Pairs) -> Iterator[tuple[Record, list[Record]]]:
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
