"""The entities that our drawings are made of, as a file has them: figures, words, what is odd.

Odd is whatever is neither among an entity's own figures nor as usual: a colour, a height above
the board, a group that is there twice. Codes and usual values: DXF reference, ENTITIES section
and "common group codes for entities" (from memory).
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from itertools import chain

from nesting.sheets.dxf_terms import APP_ID
from nesting.sheets.records import Pair, Pairs, Record, number_of, numbers_of

HANDLE, LAYER, IN_PAPER_SPACE, MARK, BRACKET, OWNER = 5, 8, 67, 100, 102, 330

EXTENDED, APPLICATION, SAID = 1000, 1001, 1000
"""From 1000 on: what programs hang on an entity; 1001 says which program, 1000 is a text."""

OUT_OF_PLANE = "extrusion"
"""How what is odd begins where an entity does not lie in the plane of the drawing."""

NAMES = {
    6: "line type", 30: "z", 31: "z", 38: "height", 39: "thickness", 40: "width", 41: "width",
    43: "width", 48: "line type scale", 50: "turned", 51: "slant", 60: "not visible", 62: "colour",
    91: "number", 210: OUT_OF_PLANE, 220: OUT_OF_PLANE, 230: OUT_OF_PLANE, 370: "line weight",
    410: "sheet", 420: "true colour",
}  # fmt: skip

USUAL: dict[int, str | float] = {
    6: "BYLAYER", 39: 0, 48: 1, 60: 0, 62: 256, IN_PAPER_SPACE: 0, 210: 0, 220: 0, 230: 1,
    370: -1, 410: "MODEL",
}  # fmt: skip
"""What any entity may say and means nothing by it."""


@dataclass(frozen=True)
class _Kind:
    """What a kind of entity is made of: group codes.

    ``own`` are read, each once; ``runs`` are read as often as they come; ``usual`` may be there
    with these values; ``marks`` name its classes, from R13 on.
    """

    own: frozenset[int]
    marks: frozenset[str]
    usual: dict[int, str | float] = field(default_factory=dict)
    runs: frozenset[int] = frozenset()

    @cached_property
    def read_once(self) -> frozenset[int]:
        """``own`` and the layer, which every entity has."""
        return self.own | {LAYER}

    @cached_property
    def all_usual(self) -> dict[int, str | float]:
        """What any entity may say and means nothing by it, and what this kind may."""
        return USUAL | self.usual


KINDS = {
    "LINE": _Kind(frozenset({10, 20, 11, 21}), frozenset({"AcDbLine"}), {30: 0, 31: 0}),
    "CIRCLE": _Kind(frozenset({10, 20, 40}), frozenset({"AcDbCircle"}), {30: 0}),
    "TEXT": _Kind(
        frozenset({10, 20, 11, 21, 40, 41, 1, 7, 72, 73}),
        frozenset({"AcDbText"}),
        {30: 0, 31: 0, 50: 0, 51: 0, 71: 0},
    ),
    "LWPOLYLINE": _Kind(
        frozenset({70, 90}), frozenset({"AcDbPolyline"}), {38: 0, 43: 0},
        frozenset({10, 20, 40, 41, 42, 91}),
    ),
    "POLYLINE": _Kind(
        frozenset({70}), frozenset({"AcDb2dPolyline"}),
        {10: 0, 20: 0, 30: 0, 40: 0, 41: 0, 66: 1, 71: 0, 72: 0, 73: 0, 74: 0, 75: 0},
    ),
    "VIEWPORT": _Kind(
        frozenset({10, 20, 40, 41, 68, 69, 12, 22, 45}), frozenset({"AcDbViewport"}),
        {30: 0, 13: 0, 23: 0, 14: 10, 24: 10, 15: 10, 25: 10, 16: 0, 26: 0, 36: 1, 17: 0, 27: 0,
         37: 0, 42: 50, 43: 0, 44: 0, 50: 0, 51: 0, 72: 100, 90: 0, 1: "", 281: 0, 71: 0, 74: 0,
         110: 0, 120: 0, 130: 0, 111: 1, 121: 0, 131: 0, 112: 0, 122: 1, 132: 0, 79: 0, 146: 0,
         282: 0},
    ),
    "VERTEX": _Kind(
        frozenset({10, 20, 42}), frozenset({"AcDbVertex", "AcDb2dVertex"}),
        {30: 0, 40: 0, 41: 0, 50: 0, 70: 0},
    ),
}  # fmt: skip


@dataclass
class _Groups:
    """The groups of one entity, sorted out."""

    layer: str = "0"
    own: dict[int, str] = field(default_factory=dict)
    runs: Pairs = field(default_factory=lambda: Pairs([], []))
    said: list[str] | None = None
    odd: list[str] = field(default_factory=list)

    def number(self, code: int, default: float | None = None) -> float:
        """Return a figure; an error if there must be one."""
        if code not in self.own and default is not None:
            return default
        return number_of(self.own[code])

    def numbers(self, *codes: int) -> list[float]:
        """Return figures that must be there."""
        return numbers_of([self.own[code] for code in codes])


@dataclass(frozen=True)
class Figures:
    """What an entity comes to; ``said`` is what our program hung on it, None if nothing."""

    kind: str
    layer: str
    numbers: list[float]
    words: tuple[str, ...]
    odd: list[str]
    said: list[str] | None


def plain(text: str) -> str:
    r"""Return text with the ``\U+6728`` that an old file has for a foreign letter resolved."""
    if "\\U+" not in text:
        return text
    return re.sub(r"\\U\+([0-9A-Fa-f]{4})", lambda match: chr(int(match[1], 16)), text)


def figures_of(entity: Record) -> Figures | None:
    """Return what an entity comes to; None where no drawing of ours has such a one.

    Raises
    ------
    ValueError
        If it lacks a figure, or one is no number.
    """
    reader = _READERS.get(entity.kind)
    if reader is None:
        return None
    groups = _sorted_out(entity)
    try:
        kind, numbers, words = reader(entity, groups)
    except LookupError as error:
        raise ValueError(f"a {entity.kind} has no group {error}") from error
    return Figures(kind, groups.layer, numbers, words, groups.odd, groups.said)


def _sorted_out(entity: Record) -> _Groups:
    kind, found = KINDS[entity.kind], _Groups()
    usual, own, runs = kind.all_usual, kind.read_once, kind.runs
    marks, is_bracketed, is_ours = set[str](), False, False
    found.runs, left = _corners_first(entity.pairs) if runs else (found.runs, entity.pairs)
    for code, value in left:
        if is_bracketed and code < EXTENDED and code != BRACKET:
            continue
        if code in own:
            if code in found.own:
                found.odd.append(f"group {code} twice")
            found.own[code] = value
        elif code in runs:
            found.runs.codes.append(code)
            found.runs.values.append(value)
        elif code in (HANDLE, OWNER):
            continue
        elif code == MARK:
            marks.add(value)
        elif code >= EXTENDED:
            if code == APPLICATION:
                is_ours = value == APP_ID
                found.said = [] if is_ours and found.said is None else found.said
            elif is_ours and found.said is not None:
                found.said.append(plain(value))
                found.odd += [f"group {code}"] if code != SAID else []
        elif code == BRACKET:
            is_bracketed = value.startswith("{")
        elif code not in usual or not _is(value, usual[code]):
            found.odd.append(f"{NAMES.get(code, f'group {code}')} {value.strip()}")
    if marks and marks != kind.marks | {"AcDbEntity"}:
        found.odd.append(f"marked as {' and '.join(sorted(marks))}")
    found.layer = found.own.get(LAYER, "0").upper()
    return found


def _corners_first(pairs: Pairs) -> tuple[Pairs, Iterable[Pair]]:
    """Return x and y of a line's corners where they stand in turn in one stretch, and the rest.

    No corners and all pairs where they stand otherwise, to be sorted out one by one: in brackets,
    say, where they would be no corners.
    """
    count = pairs.codes.count(10)
    start = pairs.codes.index(10) if count else 0
    stop = start + 2 * count
    if BRACKET in pairs.codes[:start] or pairs.codes[start:stop] != [10, 20] * count:
        return Pairs([], []), pairs
    return pairs.cut(start, stop), chain(pairs.cut(0, start), pairs.cut(stop))


@lru_cache(maxsize=1_000)
def _is(value: str, usual: str | float) -> bool:
    if isinstance(usual, str):
        return value.strip().upper() == usual
    try:
        return number_of(value) == usual
    except ValueError:
        return False


_Read = tuple[str, list[float], tuple[str, ...]]


def _line(entity: Record, groups: _Groups) -> _Read:
    return "line", groups.numbers(10, 20, 11, 21), ()


def _circle(entity: Record, groups: _Groups) -> _Read:
    return "circle", groups.numbers(10, 20, 40), ()


MAIN_PORT = "1"
"""Number of the viewport (group 69) that is the paper itself (DXF reference, VIEWPORT)."""


def _viewport(entity: Record, groups: _Groups) -> _Read:
    numbers = groups.numbers(10, 20, 40, 41, 12, 22, 45)
    return "viewport", numbers, ("off" if groups.number(68) <= 0 else "on",)


def _text(entity: Record, groups: _Groups) -> _Read:
    x, y, height = groups.numbers(10, 20, 40)
    if (11 in groups.own) != (21 in groups.own):
        raise ValueError("a TEXT has half a place: groups 11 and 21 belong together")
    at = groups.number(11, x), groups.number(21, y)
    numbers = [*at, x, y, height, groups.number(41, 1.0)]
    hung = f"{int(groups.number(72, 0))} {int(groups.number(73, 0))}"
    return "text", numbers, (plain(groups.own[1]), hung, groups.own.get(7, "STANDARD").upper())


CLOSED = 1


def _ends(groups: _Groups) -> tuple[str, ...]:
    flags = int(groups.number(70, 0))
    if flags & ~CLOSED:
        groups.odd.append(f"flags {flags}")
    return ("closed" if flags & CLOSED else "open",)


def _lwpolyline(entity: Record, groups: _Groups) -> _Read:
    codes = groups.runs.codes
    if codes == [10, 20] * (len(codes) // 2):
        return "polyline", _straight(groups.runs.values), _ends(groups)
    numbers = list[float]()
    for code, value in groups.runs:
        if code == 10:
            numbers += [number_of(value), math.nan, 0.0]
        elif not numbers:
            raise ValueError(f"a LWPOLYLINE has a group {code} before its first corner")
        elif code == 20 and math.isnan(numbers[-2]):
            numbers[-2] = number_of(value)
        elif code == 42 and not numbers[-1]:
            numbers[-1] = number_of(value)
        elif code != 91 and (code not in (40, 41) or number_of(value)):
            groups.odd.append(f"{NAMES.get(code, f'group {code}')} {value.strip()}")
    if any(map(math.isnan, numbers)):
        raise ValueError("a LWPOLYLINE has a corner without y")
    return "polyline", numbers, _ends(groups)


def _straight(figures: list[str]) -> list[float]:
    """Return x, y and a bulge of 0 for corners of which x and y are written in turn."""
    found, numbers = numbers_of(figures), [0.0] * (len(figures) // 2 * 3)
    numbers[::3], numbers[1::3] = found[::2], found[1::2]
    return numbers


def _polyline(entity: Record, groups: _Groups) -> _Read:
    numbers = list[float]()
    for corner in entity.corners:
        found = _sorted_out(corner)
        numbers += [found.number(10), found.number(20), found.number(42, 0.0)]
        groups.odd += found.odd
        if found.layer != groups.layer:
            groups.odd.append(f"a corner on layer {found.layer}")
    return "polyline", numbers, _ends(groups)


_READERS: dict[str, Callable[[Record, _Groups], _Read]] = {
    "LINE": _line,
    "CIRCLE": _circle,
    "TEXT": _text,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
    "VIEWPORT": _viewport,
}
