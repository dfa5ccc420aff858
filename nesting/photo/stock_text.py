"""Photographed boards as a stock file that a person could have written."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence

from shapely.geometry import Polygon

from nesting.photo.edge_doubts import doubtful_ends
from nesting.photo.photographed import NoBoard, Photographed
from nesting.photo.round_finds import LISTED, SURE, Find
from nesting.told import told_in
from nesting.units import Unit
from nesting.unseen import is_seen
from nesting.words import counted

KINDS = {"hole": "hole", "recess": "recess", "bung": "recess"}
"""Kind of keep-out for each kind of find: where a bung is there was a recess."""

FINEST = {Unit.MM: 1, Unit.CM: 2, Unit.M: 4, Unit.INCH: 2, Unit.FOOT: 4}
"""Digits behind the point: a tenth of a millimetre or a hundredth of an inch."""

HEAD = """\
# Boards measured from photographs. Hold each against its picture before you trust it: outline,
# holes, and what is marked doubtful. A photograph does not see metal below the face: go over
# every board with a detector, and record it as metal.
# Figures in {unit}. confidence is from 0 to 1; under {sure:g} a find is doubtful: look at the
# wood, then delete the line, or its confidence. A bung is recorded as the recess that it fills.
"""


def stock_text(
    results: Sequence[Photographed | NoBoard], *, unit: Unit, species: str, thickness: str
) -> str:
    """Return a stock file of the boards that were found, with the reasons for those that were
    not.
    """
    lines = [HEAD.format(unit=unit.value, sure=SURE).rstrip("\n")]
    for result in results:
        if isinstance(result, NoBoard):
            lines.append(
                f"# No board from {', '.join(map(_comment, result.pictures))}: "
                f"{_comment(told_in(result.reason, unit))}"
            )
    lines += ["version: 1", f"unit: {unit.value}", "defaults:"]
    lines += [
        f"  species: {quoted_text(species)}",
        f"  thickness: {quoted_text(thickness)}",
        "boards:",
    ]
    for result in results:
        if isinstance(result, Photographed):
            lines += _board(result, unit)
    return "\n".join(lines) + "\n"


def _board(board: Photographed, unit: Unit) -> Iterator[str]:
    yield f"  - board: {quoted_text(board.name)}"
    note = "; ".join(
        (f"photographs {', '.join(board.pictures)}", length_known(board), *board.notes)
    )
    yield f"    note: {quoted_text(told_in(note, unit))}"
    yield "    outline:"
    ring = list(board.outline.exterior.coords)[:-1]
    for at in range(0, len(ring), 8):
        corners = ", ".join(_place(x, y, unit) for x, y in ring[at : at + 8])
        yield f"      {'[' if at == 0 else ' '}{corners}{',' if at + 8 < len(ring) else ']'}"
    listed = [(number, find) for number, find in numbered(board.finds) if find.confidence >= LISTED]
    if listed or board.bites or board.blind:
        yield "    keep_outs:"
    for number, find in listed:
        yield _keep_out(number, find, unit)
    for number, bite in enumerate(board.bites, len(board.finds) + 1):
        yield _patch(number, "worn edge", bite, "notch or stain, looks like the ground", unit)
    for number, blind in enumerate(board.blind, len(board.finds) + len(board.bites) + 1):
        yield _patch(number, "stain", blind.shape, f"{blind.why}, holes would not show", unit)
    rest = [(number, find) for number, find in numbered(board.finds) if find.confidence < LISTED]
    if rest:
        yield f"    # {counted(len(rest), 'spot')} taken for nothing; look at them if in doubt:"
    for number, find in rest:
        place = _place(find.x, find.y, unit)
        yield (
            f"    # {number}: perhaps a {find.kind} at {place}, diameter "
            f"{figure(find.diameter, unit)}, confidence {find.confidence:.2f}"
        )


def length_known(board: Photographed) -> str:
    """Return how well a board's length is known, in words."""
    known = f"length known to {board.doubt_mm:.1f} mm"
    ends = doubtful_ends(board.stretches, board.outline)
    return f"{known} but for its {' and '.join(ends)} end, which is doubtful" if ends else known


def numbered(finds: Sequence[Find]) -> list[tuple[int, Find]]:
    """Return finds with the numbers that they have in file and overlay: along the board."""
    return list(enumerate(sorted(finds, key=lambda find: (find.x, find.y)), 1))


def _keep_out(number: int, find: Find, unit: Unit) -> str:
    sure = find.confidence >= SURE
    words = [f"{number}", *([find.kind] if find.kind != KINDS[find.kind] else [])]
    words += [] if sure else ["doubtful, look at the wood"]
    note = ": ".join(words)
    return (
        f"      - {{kind: {KINDS[find.kind]}, at: {_place(find.x, find.y, unit)}, "
        f"diameter: {figure(find.diameter, unit)}, source: photograph, "
        f"confidence: {find.confidence:.2f}, note: {quoted_text(note)}}}"
    )


def _patch(number: int, kind: str, shape: Polygon, why: str, unit: Unit) -> str:
    ring = ", ".join(_place(x, y, unit) for x, y in list(shape.exterior.coords)[:-1])
    return (
        f"      - {{kind: {kind}, outline: [{ring}], source: photograph, confidence: 0.50, "
        f"note: {quoted_text(f'{number}: doubtful, {why}')}}}"
    )


def _place(x: float, y: float, unit: Unit) -> str:
    return f"[{figure(x, unit)}, {figure(y, unit)}]"


def figure(mm: float, unit: Unit) -> str:
    """Return a length as a bare number of a unit."""
    text = f"{max(0.0, mm) / unit.mm:.{FINEST[unit]}f}"
    return (text.rstrip("0").rstrip(".") or "0") if "." in text else text


PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9._ -]*[A-Za-z0-9]")
NO_PLAIN = {"yes", "no", "on", "off", "true", "false", "null", "y", "n"}


def quoted_text(text: str) -> str:
    """Return a text as YAML reads it back: as it stands, or in quotes.

    >>> quoted_text("deck-07"), quoted_text("12"), quoted_text("no")
    ('deck-07', '"12"', '"no"')
    """
    if PLAIN.fullmatch(text) and text.casefold() not in NO_PLAIN:
        return text
    return json.dumps(text, ensure_ascii=False)


def _comment(text: str) -> str:
    return "".join(letter if is_seen(letter) else "?" for letter in text)
