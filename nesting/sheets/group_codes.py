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
    PaperSheet,
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
    LAYOUT_NAME,
    LINE_TYPES,
    TEXT_STYLE,
    UNPRINTED_LAYER,
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

PAPER_SPACE = "1B"
"""Handle of what owns those on paper."""

SHOWN_TIMES = 1.05
"""So many times the sheet is what a program shows when it opens the file."""

SCREEN = 1.5
"""Width over height of the screen that it is shown on."""

HANGING = {Anchor.LEFT: "", Anchor.CENTRE: " 72\n1\n", Anchor.RIGHT: " 72\n2\n"}
"""How a text hangs on its place; on the left if nothing is said."""

ENCODINGS: dict[Version, str] = {"R2010": "utf-8", "R12": "cp1252"}


BEYOND_PAPER = 1.1
"""So many times the paper is what a program shows of it."""

MAIN_FLAGS = 557088
"""What the view of the paper itself says of itself, as the library has it."""

VIEWPORT_SET = "".join(f"{axis:3d}\n{value}.0\n" for axis, value in (
    (13, 0), (23, 0), (14, 10), (24, 10), (15, 10), (25, 10), (16, 0), (26, 0), (36, 1),
    (17, 0), (27, 0), (37, 0), (42, 50), (43, 0), (44, 0),
))  # fmt: skip
"""Grid, the way of looking, lens and clipping: seen straight from above."""

VIEWPORT_END = (
    "  1\n\n281\n0\n 71\n0\n 74\n0\n"
    + "".join(f"{code}\n{float(code in (111, 122))}\n" for code in (
        110, 120, 130, 111, 121, 131, 112, 122, 132,
    ))
    + " 79\n0\n146\n0.0\n282\n0\n"
)  # fmt: skip
"""Style, rendering, and axes of its own that are those of the drawing."""


class _Empty(Template):
    delimiter = "@"


@cache
def _empty(version: Version) -> _Empty:
    path = Path(__file__).with_name(f"empty_{version}.txt")
    return _Empty(path.read_text(encoding="ascii"))


def content_of(drawing: Drawing, version: Version) -> bytes:
    """Return what a file holds of a drawing."""
    sheet = None if version == "R12" else drawing.sheet
    layers = _used_layers(drawing, sheet)
    first = FIRST_HANDLE[version]
    writer = _Writer(version, first + len(layers))
    for entity in drawing.entities:
        writer.add(entity)
    main_port = writer.add_sheet(sheet) if sheet else ""
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
        **(_layout(sheet, main_port) if version != "R12" else {}),
        **{f"HANDLE_{number}": f"{writer.handle + number:X}" for number in range(5)},
    )
    return text.encode(ENCODINGS[version], errors=_ESCAPED)


def _layout(sheet: PaperSheet | None, main_port: str) -> dict[str, object]:
    """Return what the one paper layout of a file says: ours, or the library's own without any."""
    if sheet is None:
        margins, size = (7.5, 20.0, 7.5, 20.0), (420.0, 297.0)
        low, high, name, paper, flags, port = (0.0, 0.0), size, "Layout1", "A3", 0, ""
    else:
        size = sheet.size_mm
        low, high = _limits(sheet)
        margins = (sheet.margin_mm,) * 4
        name, flags, port = f"{LAYOUT_NAME}{sheet.paper}", PLOT_FLAGS, f"331\n{main_port}\n"
        paper = f"{sheet.paper}_({size[0]:.2f}_x_{size[1]:.2f}_MM)"
    return {
        "LAYOUT": name, "PAPER": paper, "PLOT_FLAGS": flags, "MAIN_PORT": port,
        "PAPER_WIDE": _figure(size[0]), "PAPER_HIGH": _figure(size[1]),
        **{f"MARGIN_{side}": _figure(margin) for side, margin in enumerate(margins)},
        "LIMIT_LOW_X": _figure(low[0]), "LIMIT_LOW_Y": _figure(low[1]),
        "LIMIT_HIGH_X": _figure(high[0]), "LIMIT_HIGH_Y": _figure(high[1]),
    }  # fmt: skip


PLOT_FLAGS = 32 | 128 | 512
"""By styles, with line widths, what is seen through viewports first (DXF reference, PLOTSETTINGS,
group 70)."""


def _limits(sheet: PaperSheet) -> tuple[Point, Point]:
    """Return the paper's own corners, counted from the corner inside its margin."""
    (wide, high), margin = sheet.size_mm, sheet.margin_mm
    return (-margin, -margin), (wide - margin, high - margin)


def _figure(value: float) -> str:
    return str(float(value))


def _used_layers(drawing: Drawing, sheet: PaperSheet | None) -> list[tuple[Role, View]]:
    """Return the layers that a drawing uses, in the order of the table."""
    used = {(entity.role, entity.view) for entity in drawing.entities}
    used |= {(entity.role, entity.view) for entity in sheet.entities} if sheet else set()
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
        self.owner, self.where = MODEL_SPACE, ""

    def add_sheet(self, sheet: PaperSheet) -> str:
        """Write what stands on paper, and return the handle of the view of the paper itself."""
        self.owner, self.where = PAPER_SPACE, " 67\n1\n"
        main = f"{self.handle:X}"
        (low_x, low_y), (high_x, high_y) = _limits(sheet)
        middle = (low_x + high_x) / 2, (low_y + high_y) / 2
        wide, high = (side * BEYOND_PAPER for side in sheet.size_mm)
        self._port(middle, (wide, high), middle, high, 1)
        # Numbers of viewports leave one out, as the library's do.
        for number, port in enumerate(sheet.ports, start=3):
            self._port(port.middle, port.size, port.seen, port.size[1] * port.scale, number)
        for entity in sheet.entities:
            self.add(entity)
        return main

    def _port(self, middle: Point, size: Point, seen: Point, high: float, number: int) -> None:
        """Write a viewport: where it stands, how large, which place of the drawing is shown."""
        begun = self._begun("VIEWPORT", UNPRINTED_LAYER, "AcDbViewport")
        wide, tall = map(_figure, size)
        is_main = number == 1
        (x, y), high_seen = map(_figure, seen), _figure(high)
        self.pieces.append(
            f"{begun}{_place(middle)} 40\n{wide}\n 41\n{tall}\n 68\n{1 if is_main else 2}\n"
            f" 69\n{number}\n 12\n{x}\n 22\n{y}\n{VIEWPORT_SET} 45\n{high_seen}\n"
            f" 50\n0.0\n 51\n0.0\n 72\n100\n 90\n{MAIN_FLAGS if is_main else 0}\n{VIEWPORT_END}"
        )

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
            f"  0\n{kind}\n  5\n{handle:X}\n330\n{self.owner}\n100\nAcDbEntity\n{self.where}"
            f"  8\n{layer}\n100\n{name}\n"
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
