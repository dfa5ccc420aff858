"""A drawing as the lines of a DXF file: group codes and their values in turn.

What is the same in every file (header, tables, blocks, objects) stands in two text files beside
this one: an empty drawing as the library ezdxf writes it, with a name (``@LOW_X``) wherever a
drawing puts its own. Entities (`entity_codes`) are written as that library writes them; a test
holds all that is written so against it, byte for byte, and renews the two files if asked to.

Group codes: DXF reference, sections HEADER, TABLES (from memory).
"""

from __future__ import annotations

import codecs
from functools import cache
from pathlib import Path
from string import Template

from nesting.sheets.drawing import (
    Drawing,
    PaperSheet,
    Role,
    View,
)
from nesting.sheets.dxf_terms import (
    COLOURS,
    LAYERS,
    LAYOUT_NAME,
    LINE_TYPES,
    Version,
    layer_name,
)
from nesting.sheets.entity_codes import EntityWriter, figure, paper_limits
from nesting.sheets.pen import PENS

FIRST_HANDLE: dict[Version, int] = {"R2010": 0x35, "R12": 0x33}
"""The first that an empty drawing leaves free: layers, then entities, then some of its own."""

LAYERS_OF_ALL = 2
"""Layers that every file has: 0, and one of the library's."""


SHOWN_TIMES = 1.05
"""So many times the sheet is what a program shows when it opens the file."""

SCREEN = 1.5
"""Width over height of the screen that it is shown on."""


ENCODINGS: dict[Version, str] = {"R2010": "utf-8", "R12": "cp1252"}


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
    writer = EntityWriter(version, first + len(layers))
    for entity in drawing.entities:
        writer.add(entity)
    main_port = writer.add_sheet(sheet) if sheet else ""
    low_x, low_y, high_x, high_y = drawing.frame
    width, height = drawing.size_mm
    text = _empty(version).substitute(
        LOW_X=figure(low_x),
        LOW_Y=figure(low_y),
        HIGH_X=figure(high_x),
        HIGH_Y=figure(high_y),
        MIDDLE_X=figure((low_x + high_x) / 2),
        MIDDLE_Y=figure((low_y + high_y) / 2),
        SHOWN=figure(max(height, width / SCREEN) * SHOWN_TIMES),
        SCALE=figure(drawing.scale),
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
        low, high = paper_limits(sheet)
        margins = (sheet.margin_mm,) * 4
        name, flags, port = f"{LAYOUT_NAME}{sheet.paper}", PLOT_FLAGS, f"331\n{main_port}\n"
        paper = f"{sheet.paper}_({size[0]:.2f}_x_{size[1]:.2f}_MM)"
    return {
        "LAYOUT": name, "PAPER": paper, "PLOT_FLAGS": flags, "MAIN_PORT": port,
        "PAPER_WIDE": figure(size[0]), "PAPER_HIGH": figure(size[1]),
        **{f"MARGIN_{side}": figure(margin) for side, margin in enumerate(margins)},
        "LIMIT_LOW_X": figure(low[0]), "LIMIT_LOW_Y": figure(low[1]),
        "LIMIT_HIGH_X": figure(high[0]), "LIMIT_HIGH_Y": figure(high[1]),
    }  # fmt: skip


PLOT_FLAGS = 32 | 128 | 512
"""By styles, with line widths, what is seen through viewports first (DXF reference, PLOTSETTINGS,
group 70)."""


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


_ESCAPED = "salvage_nest_dxf"


def _escaped(error: UnicodeError) -> tuple[str, int]:
    r"""Return letters that the code page has not as ``\U+6728``."""
    assert isinstance(error, UnicodeEncodeError)
    letters = error.object[error.start : error.end]
    return "".join(
        f"\\U+{ord(x):04x}" if ord(x) < 0x10000 else f"\\U+{ord(x):08x}" for x in letters
    ), error.end


codecs.register_error(_ESCAPED, _escaped)
