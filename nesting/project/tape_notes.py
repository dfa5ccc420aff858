"""Tape notes: fastener rows and defects in the few words that fit in one cell.

``3/16 every 12 from 6, 1 from each edge, not the 4th`` or ``40 to 55 lower edge 2 deep``: read
into the very keys that a keep-out has when it is written out, so that both mean the same. Along
the board everything is taped from its butt end, on the left; ``up`` is from the lower edge.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache, lru_cache
from typing import Annotated, Any

from pydantic import BeforeValidator, WithJsonSchema

from nesting.errors import ShapeError
from nesting.stock.keep_out import KeepOutKind
from nesting.units import FRACTION_SIGNS, MARKS
from nesting.unseen import quoted, unseen_in
from nesting.yaml_file.scalars import as_written

LONGEST_NOTES = 1_000
"""Characters of all notes of a kind on one board: a cell that is still read."""

EXAMPLES = (
    "3/16 every 12 from 6, 1 from each edge, not the 4th",
    "1/4 at 43 and 57, 1 1/4 up",
    "40 to 55 lower edge 2 deep",
    "90 to end, 3 up, 1/4 wide",
)
"""Said where a note cannot be read."""

_UNIT = rf"(?:mm|cm|m|inches|inch|in(?!\s+(?:the\s+)?middle)|feet|foot|ft|[{MARKS}])(?![a-z])\.?"
_SIGNED = rf"\d*\s*[{FRACTION_SIGNS}]"
_NUMBER = rf"(?:{_SIGNED}|\d+\s+\d+/\d+|\d+/\d+|\d+\.\d*|\.\d+|\d+)(?![\d/.])"
_FOOT_DASH = r"(?<=['\u2032\u2019])-"
_MORE = rf"(?:\s*|{_FOOT_DASH}){_NUMBER}\s*{_UNIT}"
_L = rf"(?:\d+-\d+-\d+[+-]?|{_NUMBER}(?:\s*{_UNIT})?(?:{_MORE})*)"
_AND = r"\s*(?:\band\b|&)\s*"
_LS = rf"{_L}(?:{_AND}{_L})*"
_COMMA = r"\s*,\s*(?:and\s+)?"
_AT = rf"{_LS}(?:{_COMMA}{_LS}(?=\s*(?:[,(]|$)))*"
"""Places along the board, with commas too: a figure that a word follows begins the next clause."""

_PLACE = r"(?:\d+(?:st|nd|rd|th)?|last)(?:\s+(?:lower|upper))?"
_ORDINAL = r"(?:\d+(?:st|nd|rd|th)|last)(?:\s+(?:lower|upper))?"
_PLACES = rf"{_PLACE}(?:{_AND}(?:the\s+)?{_PLACE}|{_COMMA}(?:the\s+)?{_ORDINAL}\b)*"
"""Which of a row, with commas too where each is plainly a place: a bare figure may be a length."""

_END = r"(?:the\s+)?end"

Found = dict[str, Any]


def _many(text: str) -> list[str]:
    return [re.sub(r"^the\s+", "", one) for one in re.split(rf"{_COMMA}|{_AND}", text)]


def _ends(first: str, last: str) -> Found:
    return {"from": first} if "end" in last.casefold() else {"from": first, "to": last}


_CLAUSES: tuple[tuple[str, Callable[..., Found]], ...] = (
    (r"\(([^()]*)\)", lambda text: {"note": text}),
    (
        rf"every\s+({_L})\s+from\s+({_L})(?:\s+to\s+({_L}|{_END}))?",
        lambda step, first, last: (
            {"spacing": step, "first": first}
            | ({} if last is None or "end" in last.casefold() else {"stop": last})
        ),
    ),
    (rf"({_L})\s+(?:up\s+)?to\s+({_L})\s+up\b", lambda low, high: {"ups": [low, high]}),
    (
        rf"({_LS})\s+from\s+(?:each|both|either)\s+edges?\b",
        lambda many: {"insets": _many(many)},
    ),
    (rf"({_LS})\s+(?:up\b|from\s+(?:the\s+)?lower\s+edge\b)", lambda many: {"up": _many(many)}),
    (
        rf"({_LS})\s+(?:down\b|from\s+(?:the\s+)?upper\s+edge\b)",
        lambda many: {"down": _many(many)},
    ),
    (r"(?:(?:in|along)\s+)?(?:the\s+)?middle\b", lambda: {"middle": True}),
    (
        rf"(?:not|missing|without)(?:\s+at)?\s+(?:the\s+)?({_PLACES})\b",
        lambda many: {"missing": _many(many)},
    ),
    (r"doubled\s+at\s+(?:the\s+)?butts\b", lambda: {"doubled": "butts"}),
    (rf"doubled\s+at\s+(?:the\s+)?({_PLACES})\b", lambda many: {"doubled": _many(many)}),
    (rf"({_L})\s+apart\b", lambda length: {"apart": length}),
    (r"(\d+)\s+of\s+them\b", lambda count: {"count": int(count)}),
    (rf"staggered\s+({_L})", lambda length: {"stagger": length}),
    (rf"({_L})\s+into\s+the\s+(?:face|wood)\b", lambda length: {"depth": length}),
    (rf"({_L})\s+deep\b", lambda length: {"deep": length}),
    (rf"({_L})\s+wide\b", lambda length: {"wide": length}),
    (rf"at\s+({_AT})", lambda many: {"at": _many(many)}),
    (rf"(?:the\s+)?last\s+({_L})", lambda length: {"last": length}),
    (rf"(?:the\s+)?first\s+({_L})", lambda length: {"from": "0", "to": length}),
    (rf"({_L})\s+to\s+({_L}|{_END}\b)", _ends),
    (r"all\s+along\b", lambda: {"from": "0"}),
    (r"(?:along\s+)?(?:the\s+)?(lower|upper)\s+edge\b", lambda edge: {"edge": edge.casefold()}),
    (r"(?:right\s+)?across\b", lambda: {"across": True}),
    (rf"({_L})", lambda length: {"diameter": length}),
)


@cache
def _readers() -> tuple[tuple[re.Pattern[str], Callable[..., Found]], ...]:
    """Return what reads each clause: made where a note is read, as that takes a while."""
    return tuple((re.compile(text, re.IGNORECASE), take) for text, take in _CLAUSES)


_BETWEEN = re.compile(r"[\s,]*")

WORDS = {
    "up": "how far up", "down": "how far down", "insets": "how far from each edge",
    "at": "at", "from": "from and to", "spacing": "every", "first": "every",
    "ups": "from and to, up",
    "deep": "deep", "wide": "wide", "diameter": "a diameter", "stop": "to", "last": "last",
}  # fmt: skip
"""What some findings are called where one is said twice or does not belong."""

ALONG_A_ROW = (
    "diameter", "spacing", "first", "stop", "count", "at", "insets", "up", "down", "middle",
    "missing", "doubled", "apart", "stagger", "depth", "deep", "note",
)  # fmt: skip
ALONG_A_STRETCH = (
    "from", "to", "last", "edge", "deep", "wide", "ups", "up", "across", "depth", "note",
)  # fmt: skip


def notes_in(given: Any) -> tuple[str, ...]:
    """Return the notes of one text, or of a list of them: none where it says none."""
    texts = given if isinstance(given, list | tuple) else [given]
    found = list[str]()
    for text in map(as_written, texts):
        if not isinstance(text, str):
            raise ShapeError(
                f"{quoted(text)} is no tape note; write for example (inches) {EXAMPLES[0]}"
            )
        if unseen := unseen_in(text.replace("\n", " ").replace("\r", " ")):
            raise ShapeError(f"{quoted(text)} holds {unseen}; write what can be seen")
        if len(text) > LONGEST_NOTES:
            raise ShapeError(f"{len(text):,} characters long; at most {LONGEST_NOTES:,}")
        found += [one.strip() for one in re.split(r"[;\r\n]+", text) if one.strip()]
    return () if [one.casefold() for one in found] == ["none"] else tuple(found)


TapeNotes = Annotated[
    tuple[str, ...],
    BeforeValidator(notes_in),
    WithJsonSchema(
        {
            "description": "tape notes, one text with ; between them or a list; none for none",
            "anyOf": [
                {"type": ["string", "number"]},
                {"type": "array", "items": {"type": ["string", "number"]}},
            ],
            "examples": list(EXAMPLES),
        }
    ),
]
"""Keep-outs of one kind in few words."""


@lru_cache(maxsize=4_000)
def read_note(kind: KeepOutKind, text: str) -> dict[str, Any]:
    """Return the keys of a keep-out that one tape note stands for.

    Raises
    ------
    ShapeError
        If it cannot be read; says from where on.

    Examples
    --------
    >>> read_note(KeepOutKind.ROT, "40 to 55 lower edge 2 deep")["stretch"]
    {'from': '40', 'to': '55', 'edge': 'lower', 'deep': '2'}
    >>> row = read_note(KeepOutKind.HOLE, "3/16 every 12 from 6, 1 from each edge, not the 4th")
    >>> row["diameter"], row["crossings"]["missing"]
    ('3/16', ['4th'])
    """
    found = _found(text)
    is_row = "at" in found or "spacing" in found
    if not is_row and not {"from", "last"} & found.keys():
        raise _unreadable(text, "it does not say where along the board: at, every ... from, or to")
    allowed = ALONG_A_ROW if is_row else ALONG_A_STRETCH
    for key in found:
        if key not in allowed:
            what = "a row of round ones" if is_row else "a stretch along the board"
            raise _unreadable(text, f"{WORDS.get(key, key)} does not go with {what}")
    keys = _row(found, text) if is_row else _stretch(found, text)
    return {"kind": kind.value, **keys, **({"note": found["note"]} if found.get("note") else {})}


def _found(text: str) -> Found:
    """Return what each clause of a note says."""
    found: Found = {}
    place = _BETWEEN.match(text).end()  # type: ignore[union-attr]
    while place < len(text):
        match, said = _clause(text, place)
        for key in said.keys() & found.keys():
            raise _unreadable(
                text, f"{WORDS.get(key, key)} is said twice, in {quoted(match[0])} too"
            )
        found |= said
        place = _BETWEEN.match(text, match.end()).end()  # type: ignore[union-attr]
    return found


def _clause(text: str, place: int) -> tuple[re.Match[str], Found]:
    """Return the clause of a note that begins at a place, and what it says."""
    for pattern, take in _readers():
        if match := pattern.match(text, place):
            return match, take(*match.groups())
    raise _unreadable(text, f"{quoted(text[place:])} is not understood")


def _row(found: Found, text: str) -> dict[str, Any]:
    if "diameter" not in found:
        raise _unreadable(text, "it does not begin with a diameter")
    if not {"insets", "up", "down", "middle"} & found.keys():
        raise _unreadable(
            text, "it does not say how far from the edges: up, from each edge, middle"
        )
    if "at" in found and ("spacing" in found or "count" in found):
        raise _unreadable(text, "give either at, or every")
    as_keys = {
        "at": "at", "first": "first", "spacing": "spacing", "stop": "to", "count": "count",
        "insets": "insets", "up": "offsets", "down": "upper_offsets", "middle": "middle",
        "missing": "missing", "doubled": "doubled", "apart": "apart", "stagger": "stagger",
    }  # fmt: skip
    crossings = {key: found[name] for name, key in as_keys.items() if name in found}
    depth = found.get("depth", found.get("deep"))
    return {"diameter": found["diameter"], "crossings": crossings} | _depth(depth)


def _stretch(found: Found, text: str) -> dict[str, Any]:
    stretch: dict[str, Any] = {key: found[key] for key in ("from", "to", "last") if key in found}
    depth = found.get("depth", found.get("deep"))
    if "edge" in found:
        deep = found.get("wide", found.get("deep"))
        if deep is None:
            raise _unreadable(text, f"say how far in from the {found['edge']} edge: 2 deep")
        stretch |= {"edge": found["edge"], "deep": deep}
        # With no width said, deep is how far in from the edge it goes, not into the face.
        depth = depth if "wide" in found else found.get("depth")
    elif "wide" in found:
        ups = found.get("ups") or 2 * found.get("up", [])
        if len(ups) != 2:
            raise _unreadable(text, "say how high its middle lies: 3 up, or 3 up to 3 1/2 up")
        stretch |= {"ups": ups, "width": found["wide"]}
    elif "ups" in found:
        stretch |= {"between": found["ups"]}
    elif "up" in found:
        raise _unreadable(text, "say how wide it is: 1/4 wide")
    return {"stretch": stretch} | _depth(depth)


def _depth(depth: str | None) -> dict[str, Any]:
    return {} if depth is None else {"depth": depth}


def _unreadable(text: str, why: str) -> ShapeError:
    return ShapeError(f"{quoted(text)}: {why}; write for example (inches) {'; '.join(EXAMPLES)}")
