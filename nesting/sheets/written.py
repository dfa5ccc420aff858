"""All that a written DXF holds, as plain words and figures, to be held against a drawing.

Nothing is left out: what no drawing of ours has, comes as it is named in the file, and what an
entity has beyond its own figures (a colour, a height above the board) is put down as odd.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from nesting.errors import DrawingError
from nesting.plain_file import plain_bytes
from nesting.sheets.drawing import Tag
from nesting.sheets.dxf_terms import LAYOUT_NAME, LINE_TYPES, TEXT_STYLE, tag_of
from nesting.sheets.entities import HANDLE, IN_PAPER_SPACE, MAIN_PORT, figures_of
from nesting.sheets.pen import Dash
from nesting.sheets.records import (
    NAME,
    NONE,
    Pairs,
    Record,
    entities_of,
    number_of,
    records_of,
    sections_of,
)
from nesting.sheets.spaces import (
    IN_MODEL,
    OF_LAYOUT,
    Place,
    halves,
    in_blocks,
    place_of,
    said_elsewhere,
    spaces_of,
)

LARGEST_BYTES = 200_000_000
"""No sheet that is written has so many: 20,000 keep-outs come to a tenth."""

MAIN_PORT_CODE = 69
"""Group code of a viewport's number (DXF reference, VIEWPORT)."""

HEADER = (
    "$ACADVER", "$DWGCODEPAGE", "$INSBASE", "$EXTMIN", "$EXTMAX", "$LTSCALE", "$LUNITS",
    "$AUNITS", "$ANGBASE", "$ANGDIR", "$FILLMODE", "$QTEXTMODE", "$TILEMODE",
    "$INSUNITS", "$MEASUREMENT", "$PSLTSCALE",
)  # fmt: skip
"""What of a header says how the rest is to be read: version, letters, base point, extents,
lengths and angles, what is shown (DXF reference, HEADER section; the choice from memory)."""


@dataclass(frozen=True)
class Drawn:
    """One entity as it stands in a file.

    Attributes
    ----------
    kind
        ``line``, ``polyline``, ``circle`` or ``text``; else what the file calls it.
    numbers
        Its figures in turn, mm, places first.
    words
        What it says, how it hangs, what it stands for.
    odd
        Whatever else it has that is not as usual.
    tag
        What it stands for, if it says so; the words have it too.
    """

    kind: str
    layer: str
    numbers: tuple[float, ...]
    words: tuple[str, ...] = ()
    odd: tuple[str, ...] = ()
    tag: Tag | None = field(default=None, compare=False)


@dataclass(frozen=True)
class Layer:
    """How a layer stands: its pen, and whether it is seen."""

    colour: int
    line_type: str
    lineweight: int
    is_hidden: bool
    is_locked: bool


@dataclass(frozen=True)
class Written:
    """All that a file holds.

    Attributes
    ----------
    header
        The variables of ``HEADER`` that the file has.
    layers
        By name, in capitals.
    dashes
        Each of our line types: how many strokes and gaps, their sum, each of them.
    lettering
        Font, height, width, slant and flags of our text style.
    strays
        What stands elsewhere than in the drawing itself, in words.
    layout
        Name and paper of our paper layout, then its figures; nothing where there is none.
    on_paper
        What stands on it; the view that is the paper itself is left out.
    """

    header: dict[str, Any]
    layers: dict[str, Layer]
    dashes: dict[str, tuple[float, ...]]
    lettering: tuple[Any, ...]
    drawn: tuple[Drawn, ...]
    strays: tuple[str, ...]
    layout: tuple[Any, ...] = ()
    on_paper: tuple[Drawn, ...] = ()


def read_written(path: Path | str) -> Written:
    """Return all that a DXF holds.

    Raises
    ------
    DrawingError
        If it cannot be read, in one sentence.
    """
    try:
        return _written(sections_of(plain_bytes(Path(path), LARGEST_BYTES)))
    except OSError as error:
        reason = error.strerror or str(error)
    except (ValueError, LookupError) as error:
        reason = f"it has no {error}" if isinstance(error, LookupError) else str(error)
    raise DrawingError(f"{path} cannot be read as DXF: {reason}")


def _written(sections: dict[str, Pairs]) -> Written:
    header = {record.kind: record for record in records_of(sections["HEADER"], VARIABLE)}
    tables = list(records_of(sections["TABLES"]))
    layers = [record for record in tables if record.kind == "LAYER"]
    types = {r.text(NAME).upper(): r for r in tables if r.kind == "LTYPE"}
    entities = list(entities_of(sections["ENTITIES"]))
    spaces = spaces_of(tables, sections)
    places = [place_of(entity, spaces) for entity in entities]
    layout = _layout(sections)
    ours: Place = (layout[0] if layout else "", True)
    return Written(
        {name: _value(header[name]) for name in HEADER if name in header},
        {record.text(NAME).upper(): _layer(record) for record in layers},
        dict(_dashes(types)),
        _lettering(tables),
        tuple(
            _drawn(entity)
            for entity, place in zip(entities, places, strict=True)
            if place == IN_MODEL
        ),
        (
            *(
                stray
                for entity, place in zip(entities, places, strict=True)
                if place not in (IN_MODEL, ours)
                for stray in said_elsewhere(entity, place)
            ),
            *in_blocks(sections, spaces),
            *_twice(sections, layers, entities),
        ),
        layout,
        tuple(
            _drawn(_off_paper(entity))
            for entity, place in zip(entities, places, strict=True)
            if place == ours and not _is_main_port(entity)
        ),
    )


def _is_main_port(entity: Record) -> bool:
    return entity.kind == "VIEWPORT" and entity.text(MAIN_PORT_CODE).strip() == MAIN_PORT


def _off_paper(entity: Record) -> Record:
    """Return an entity without the word that it is on paper, which is looked at already."""
    said = [(code, value.strip()) for code, value in entity.pairs if code == IN_PAPER_SPACE]
    # Said otherwise or more than once it stays, and is odd: readers disagree then.
    pairs = entity.pairs
    if said == [(IN_PAPER_SPACE, "1")]:
        pairs = pairs.without(IN_PAPER_SPACE)
    return Record(entity.kind, pairs, entity.corners)


PLOT_FIGURES = (40, 41, 42, 43, 44, 45, 46, 47, 142, 143, 147, 70, 72, 73, 74, 75)
"""Of how a layout is plotted: margins, size of the paper, where on it and how large the print is;
flags, unit, turn, what is plotted, a usual scale (DXF reference, PLOTSETTINGS)."""

LIMIT_FIGURES = (10, 20, 11, 21)
"""The corners of a layout's paper (DXF reference, LAYOUT)."""


def _layout(sections: dict[str, Pairs]) -> tuple[Any, ...]:
    """Return name, paper and figures of our paper layout; nothing where a file has none."""
    for record in records_of(sections.get("OBJECTS", NONE)):
        if record.kind != "LAYOUT" or OF_LAYOUT not in record.pairs:
            continue
        plot, own = halves(record)
        if own.text(1).startswith(LAYOUT_NAME):
            figures = (*map(plot.number, PLOT_FIGURES), *map(own.number, LIMIT_FIGURES))
            return (own.text(1), plot.text(4), *figures)
    return ()


VARIABLE = 9
"""Group code that each variable of a header begins with (DXF reference, HEADER)."""


def _value(variable: Record) -> Any:
    """Return the value of a header's variable: a place, a number or a text."""
    codes = variable.pairs.codes
    if codes and codes[0] in range(10, 60):
        numbers = tuple(map(number_of, variable.pairs.values))
        return numbers if len(numbers) > 1 else numbers[0]
    if len(codes) != 1:
        raise ValueError(f"{variable.kind} has {len(codes)} values")
    (value,) = variable.pairs.values
    return value if codes[0] in range(10) else int(number_of(value))


FROZEN, LOCKED = 1 | 2, 4
"""Of a layer's flags: frozen, also in new views, and locked (DXF reference, LAYER)."""


def _layer(record: Record) -> Layer:
    colour, flags = int(record.number(62)), int(record.number(70, 0))
    return Layer(
        abs(colour) if not record.text(420) else -1,
        record.text(6).upper(),
        int(record.number(370, -3)),
        colour < 0 or bool(flags & FROZEN) or not record.number(290, 1),
        bool(flags & LOCKED),
    )


def _dashes(types: dict[str, Record]) -> Iterator[tuple[str, tuple[float, ...]]]:
    for dash, name in LINE_TYPES.items():
        if dash is not Dash.SOLID and name in types:
            pairs = types[name].pairs
            yield name, tuple(number_of(value) for code, value in pairs if code in (40, 49, 73))


REFERRED = 16 | 32 | 64
"""Of a style's flags: whether another file or an entity refers to it (DXF reference, STYLE)."""


def _lettering(tables: Iterable[Record]) -> tuple[Any, ...]:
    styles = [r for r in tables if r.kind == "STYLE" and r.text(NAME).upper() == TEXT_STYLE]
    if len(styles) != 1:
        return ()
    (style,) = styles
    figures = style.number(40, 0.0), style.number(41, 1.0), style.number(50, 0.0)
    flags = int(style.number(70, 0)) & ~REFERRED, int(style.number(71, 0))
    return (style.text(3).lower(), *figures, *flags)


def _twice(
    sections: dict[str, Pairs], layers: list[Record], entities: list[Record]
) -> Iterator[str]:
    """Yield what is there twice, and how many corners a line has that says another number."""
    corners = [corner for entity in entities for corner in entity.corners]
    for what, names in (
        ("layer", [layer.text(NAME).upper() for layer in layers]),
        ("handle", [one.text(HANDLE) for one in (*entities, *corners)]),
        ("", [record.kind for record in records_of(sections["HEADER"], VARIABLE)]),
    ):
        for name, count in Counter(names).items():
            if name and count > 1:
                yield f"{what} {name} is there {count} times".strip()
    for entity in entities:
        if entity.kind == "LWPOLYLINE":
            said, count = entity.text(90), entity.pairs.codes.count(10)
            if said.strip() != str(count):
                yield f"a LWPOLYLINE that is said to have {said} corners and has {count}"


def _drawn(entity: Record) -> Drawn:
    found = figures_of(entity)
    if found is None:
        return Drawn(entity.kind, entity.text(8, "0").upper(), ())
    tag = None
    said: tuple[str, ...] = ()
    if found.said is not None:
        said = tuple(found.said) or ("",)
        tag = tag_of(said)
    words = (*found.words, *said)
    return Drawn(found.kind, found.layer, tuple(found.numbers), words, tuple(found.odd), tag)
