"""A drawing as the lines of a DXF file: group codes and their values in turn.

What is the same in every file (header, tables, blocks, objects) stands in two text files beside
this one: an empty drawing as the library ezdxf writes it, with a name (``@LOW_X``) wherever a
drawing puts its own. Entities are written as that library writes them; a test holds all that is
written here against it, byte for byte, and renews the two files if asked to.

Group codes: DXF reference, sections HEADER, TABLES, ENTITIES (from memory).
"""

from __future__ import annotations

import codecs
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from string import Template

from nesting.sheets.drawing import (
    Anchor,
    Area,
    Arrow,
    Circle,
    Drawing,
    Entity,
    Point,
    Polyline,
    Role,
    Tag,
    Text,
    View,
    arrow_lines,
)
from nesting.sheets.dxf_terms import (
    APP_ID,
    COLOURS,
    LAYERS,
    LINE_TYPES,
    TEXT_STYLE,
    WIDTH_FACTORS,
    Version,
    layer_name,
    tag_as_written,
    text_as_written,
)
from nesting.sheets.pen import PENS

FIRST_HANDLE: dict[Version, int] = {"R2010": 0x35, "R12": 0x33}
"""The first that an empty drawing leaves free: layers, then entities, then some of its own."""

LAYERS_OF_ALL = 2
"""Layers that every file has: 0, and one of the library's."""

MODEL_SPACE = "17"
"""Handle of what owns all entities, in R2010."""

SHOWN_TIMES = 1.05
"""So many times the sheet is what a program shows when it opens the file."""

SCREEN = 1.5
"""Width over height of the screen that it is shown on."""

HANGING = {Anchor.LEFT: "", Anchor.CENTRE: " 72\n1\n", Anchor.RIGHT: " 72\n2\n"}
"""How a text hangs on its place; on the left if nothing is said."""

ENCODINGS: dict[Version, str] = {"R2010": "utf-8", "R12": "cp1252"}


class _Empty(Template):
    delimiter = "@"


@cache
def _empty(version: Version) -> _Empty:
    path = Path(__file__).with_name(f"empty_{version}.txt")
    return _Empty(path.read_text(encoding="ascii"))


def content_of(drawing: Drawing, version: Version) -> bytes:
    """Return what a file holds of a drawing."""
    layers = _used_layers(drawing)
    first = FIRST_HANDLE[version]
    writer = _Writer(version, first + len(layers))
    for entity in drawing.entities:
        writer.add(entity)
    low_x, low_y, high_x, high_y = drawing.frame
    width, height = drawing.size_mm
    text = _empty(version).substitute(
        LOW_X=_figure(low_x),
        LOW_Y=_figure(low_y),
        HIGH_X=_figure(high_x),
        HIGH_Y=_figure(high_y),
        MIDDLE_X=_figure((low_x + high_x) / 2),
        MIDDLE_Y=_figure((low_y + high_y) / 2),
        SHOWN=_figure(max(height, width / SCREEN) * SHOWN_TIMES),
        SCALE=_figure(drawing.scale),
        LAYER_COUNT=len(layers) + LAYERS_OF_ALL,
        LAYERS="".join(
            _layer(role, view, handle, version) for handle, (role, view) in enumerate(layers, first)
        ),
        ENTITIES="".join(writer.pieces),
        **{f"HANDLE_{number}": f"{writer.handle + number:X}" for number in range(5)},
    )
    return text.encode(ENCODINGS[version], errors=_ESCAPED)


def _figure(value: float) -> str:
    return str(float(value))


def _used_layers(drawing: Drawing) -> list[tuple[Role, View]]:
    """Return the layers that a drawing uses, in the order of the table."""
    used = {(entity.role, entity.view) for entity in drawing.entities}
    return [(role, view) for view in View for role in LAYERS if (role, view) in used]


WEIGHTS = (
    0, 5, 9, 13, 15, 18, 20, 25, 30, 35, 40, 50, 53, 60, 70, 80, 90, 100, 106, 120, 140, 158, 200,
    211,
)  # fmt: skip
"""Widths of lines that there are, hundredths of a mm (DXF reference, group code 370)."""


def _layer(role: Role, view: View, handle: int, version: Version) -> str:
    pen, name = PENS[role], layer_name(role, view)
    weight = round(100 * pen.width_mm)
    assert weight in WEIGHTS, f"{role}: no DXF line is {pen.width_mm} mm"
    begin, end = f"  0\nLAYER\n  5\n{handle:X}\n", ""
    if version != "R12":
        begin += "330\n1\n100\nAcDbSymbolTableRecord\n100\nAcDbLayerTableRecord\n"
        end = f"370\n{weight}\n390\n13\n347\n21\n"
    colour, line_type = COLOURS[pen.ink], LINE_TYPES[pen.dash]
    return f"{begin}  2\n{name}\n 70\n0\n 62\n{colour}\n  6\n{line_type}\n{end}"


class _Writer:
    """Entities one after another, each under the next handle."""

    def __init__(self, version: Version, handle: int) -> None:
        self.is_old = version == "R12"
        self.width = WIDTH_FACTORS[version]
        self.handle = handle
        self.pieces: list[str] = []

    def add(self, entity: Entity) -> None:
        """Write an entity."""
        if isinstance(entity, Arrow):
            for line in arrow_lines(entity):
                self._line(line)
        elif isinstance(entity, Circle):
            self._circle(entity)
        elif isinstance(entity, Text):
            self._text(entity)
        elif isinstance(entity, Area):
            raise AssertionError("a filled area is for paper: no cut sheet has any")
        else:
            self._line(entity)

    def _begun(self, kind: str, layer: str, name: str = "") -> str:
        """Return the first groups of an entity; ``name`` is that of its class since R13."""
        handle, self.handle = self.handle, self.handle + 1
        if self.is_old:
            return f"  0\n{kind}\n  5\n{handle:X}\n  8\n{layer}\n"
        return (
            f"  0\n{kind}\n  5\n{handle:X}\n330\n{MODEL_SPACE}\n100\nAcDbEntity\n  8\n{layer}\n"
            f"100\n{name}\n"
        )

    def _circle(self, circle: Circle) -> None:
        begun = self._begun("CIRCLE", layer_name(circle.role, circle.view), "AcDbCircle")
        radius = _figure(circle.radius_mm)
        self.pieces.append(f"{begun}{_place(circle.centre)} 40\n{radius}\n{_said(circle.tag)}")

    def _text(self, text: Text) -> None:
        begun = self._begun("TEXT", layer_name(text.role, text.view), "AcDbText")
        width = "" if self.width == 1.0 else f" 41\n{_figure(self.width)}\n"
        self.pieces.append(
            f"{begun}{_place(text.at)} 40\n{_figure(text.height_mm)}\n"
            f"  1\n{text_as_written(text.text)}\n  7\n{TEXT_STYLE}\n{width}{HANGING[text.anchor]}"
            f"{_place(text.at, 11)}" + ("" if self.is_old else "100\nAcDbText\n")
        )

    def _line(self, line: Polyline) -> None:
        if len(line.points) == 2 and not line.bulges:
            begun = self._begun("LINE", layer_name(line.role, line.view), "AcDbLine")
            start, end = line.points
            self.pieces.append(f"{begun}{_place(start)}{_place(end, 11)}{_said(line.tag)}")
        elif self.is_old:
            self._old_polyline(line)
        else:
            self._polyline(line)

    def _polyline(self, line: Polyline) -> None:
        begun = self._begun("LWPOLYLINE", layer_name(line.role, line.view), "AcDbPolyline")
        if line.bulges:
            corners = "".join(
                f" 10\n{_figure(x)}\n 20\n{_figure(y)}\n{_bulge(bulge)}"
                for (x, y), bulge in zip(line.points, line.bulges, strict=True)
            )
        else:
            corners = "".join([f" 10\n{float(x)}\n 20\n{float(y)}\n" for x, y in line.points])
        counted = f" 90\n{len(line.points)}\n 70\n{int(line.is_closed)}\n"
        self.pieces.append(f"{begun}{counted}{corners}{_said(line.tag)}")

    def _old_polyline(self, line: Polyline) -> None:
        """Write a polyline, its end mark and its corners; the end mark has the second handle."""
        layer = layer_name(line.role, line.view)
        begun, end = self._begun("POLYLINE", layer), self._begun("SEQEND", layer)
        flags = f" 66\n1\n{_place((0.0, 0.0))} 70\n{int(line.is_closed)}\n"
        self.pieces.append(f"{begun}{flags}{_said(line.tag)}")
        for point, bulge in zip(line.points, _bulges(line), strict=True):
            corner = self._begun("VERTEX", layer)
            self.pieces.append(f"{corner}{_place(point)}{_bulge(bulge)} 70\n0\n")
        self.pieces.append(end)


def _place(point: Point, code: int = 10) -> str:
    x, y = point
    return f" {code}\n{_figure(x)}\n {code + 10}\n{_figure(y)}\n {code + 20}\n0.0\n"


def _bulges(line: Polyline) -> Sequence[float]:
    return line.bulges or (0.0,) * len(line.points)


def _bulge(bulge: float) -> str:
    return f" 42\n{_figure(bulge)}\n" if bulge else ""


def _said(tag: Tag | None) -> str:
    """Return a tag as extended data."""
    if tag is None:
        return ""
    return f"1001\n{APP_ID}\n" + "".join(f"1000\n{text}\n" for text in tag_as_written(tag))


_ESCAPED = "salvage_nest_dxf"


def _escaped(error: UnicodeError) -> tuple[str, int]:
    r"""Return letters that the code page has not as ``\U+6728``."""
    assert isinstance(error, UnicodeEncodeError)
    letters = error.object[error.start : error.end]
    return "".join(
        f"\\U+{ord(x):04x}" if ord(x) < 0x10000 else f"\\U+{ord(x):08x}" for x in letters
    ), error.end


codecs.register_error(_ESCAPED, _escaped)
