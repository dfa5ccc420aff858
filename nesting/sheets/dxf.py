"""Drawings as DXF: R2010 for drawing programs, R12 for old machines.

The layer table below is the whole of the convention: one layer for each role, named in the
trade's words, everything drawn by layer. Layers beginning with ``COPY_`` hold what is drawn
again for reading; a machine takes ``CUT_INSIDE``, then ``CUT_OUTSIDE``, and nothing else.
"""

from __future__ import annotations

import io
import logging
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from nesting.sheets.drawing import (
    Anchor,
    Arrow,
    Circle,
    Drawing,
    Entity,
    Polyline,
    Role,
    Tag,
    Text,
    View,
    arrow_lines,
)
from nesting.sheets.pen import DASH_PAPER_MM, PENS, Dash, Ink
from nesting.sheets.whole_file import write_whole

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document
    from ezdxf.entities.dxfgfx import DXFGraphic
    from ezdxf.layouts.layout import Modelspace

Version = Literal["R2010", "R12"]

LAYERS: dict[Role, str] = {
    Role.CUT_INSIDE: "CUT_INSIDE",
    Role.CUT_OUTSIDE: "CUT_OUTSIDE",
    Role.BOARD: "BOARD_EDGE",
    Role.METAL: "METAL",
    Role.HOLE: "OLD_HOLE",
    Role.RECESS: "RECESS",
    Role.GROOVE: "GROOVE",
    Role.ROT: "ROT",
    Role.SPLIT: "SPLIT",
    Role.KNOT: "KNOT",
    Role.STAIN: "STAIN",
    Role.WORN_EDGE: "WORN_EDGE",
    Role.BUNG: "BUNG",
    Role.OFFCUT: "OFFCUT_KEPT",
    Role.MARK_CENTRELINE: "SCRIBE_CENTRELINE",
    Role.MARK_FRAME: "SCRIBE_FRAME",
    Role.MARK_BOLT: "SCRIBE_BOLT",
    Role.MARK_FACE: "SCRIBE_FACE",
    Role.MARK_REFERENCE: "SCRIBE_REFERENCE",
    Role.PART: "PART_IN_BOAT",
    Role.GRAIN: "GRAIN",
    Role.PART_NAME: "PART_NAME",
    Role.NOTE: "NOTE",
    Role.RULER: "RULER",
    Role.BREAK: "BREAK_LINE",
    Role.TABLE: "LISTS",
    Role.LEGEND: "SIGNS",
    Role.TITLE: "TITLE",
    Role.CAUTION: "CAUTION",
    Role.FRAME: "SHEET_FRAME",
}
"""Names fit R12: 31 characters of A-Z 0-9 _ - at most, the prefix counted."""

COPY_PREFIX = "COPY_"

COLOURS: dict[Ink, int] = {
    Ink.BLACK: 7,
    Ink.RED: 1,
    Ink.BLUE: 150,
    Ink.GREEN: 94,
    Ink.BROWN: 34,
    Ink.VIOLET: 202,
    Ink.GREY: 8,
}
"""Numbers of the DXF colour index; 7 is black on white and white on black."""

LINE_TYPES: dict[Dash, str] = {
    Dash.SOLID: "CONTINUOUS",
    Dash.DASHED: "SHEET_DASHED",
    Dash.CHAIN: "SHEET_CHAIN",
    Dash.DOTTED: "SHEET_DOTTED",
}

APP_ID = "SALVAGE_NEST"
"""Under this name entities carry what they stand for; ``sheets.read_back`` reads it."""

TEXT_STYLE = "SHEET"
FONTS: dict[Version, str] = {"R2010": "arial.ttf", "R12": "txt"}
"""Found everywhere, or replaced by one as wide; R12 knows no other kind than ``txt``."""

WIDTH_FACTORS: dict[Version, float] = {"R2010": 1.0, "R12": 0.8}
"""``txt`` is set narrower, since its letters are wider than the room reckoned for them."""

INSERT_UNITS_MM = 4
"""$INSUNITS for millimetres (DXF reference, HEADER section)."""


def layer_name(role: Role, view: View = View.FULL_SIZE) -> str:
    """Return the layer of a role."""
    return f"{COPY_PREFIX if view is View.COPY else ''}{LAYERS[role]}"


def write_dxf(
    drawing: Drawing, path: Path | str, *, version: Version = "R2010", overwrite: bool = False
) -> Path:
    """Write a drawing as DXF and return the path; a drawing gives the same bytes in one run.

    Parameters
    ----------
    version
        ``R2010``, or ``R12`` for machines that read nothing newer.

    Raises
    ------
    OutputError
        If the file is there and may not be overwritten, or the folder cannot be written.
    """
    with _fixed_dates():
        content = _content(drawing, version)
    return write_whole(Path(path), content, overwrite=overwrite)


@contextmanager
def _fixed_dates() -> Iterator[None]:
    """Keep dates and random identities out of the file, so that it can be compared."""
    from ezdxf._options import options

    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


def _content(drawing: Drawing, version: Version) -> bytes:
    document = _document(drawing, version)
    space = document.modelspace()
    for entity in drawing.entities:
        _add(space, entity, version)
    _set_extents(document, drawing)
    auditor = document.audit()
    assert not auditor.errors and not auditor.fixes, [str(e) for e in auditor.errors]
    stream = io.StringIO()
    document.write(stream)
    return bytes(document.encode(stream.getvalue()))


@contextmanager
def _unit_warning_off() -> Iterator[None]:
    """Keep ezdxf from warning that R12 has no units: the title of the sheet says them."""
    log = logging.getLogger("ezdxf")
    before = log.level
    log.setLevel(logging.ERROR)
    try:
        yield
    finally:
        log.setLevel(before)


def _document(drawing: Drawing, version: Version) -> Document:
    """Return an empty document with units, layers, line types and the text style."""
    from ezdxf import units
    from ezdxf.filemanagement import new

    with _unit_warning_off():
        document = new(version, units=units.MM)
    document.appids.add(APP_ID)
    document.styles.add(
        TEXT_STYLE, font=FONTS[version], dxfattribs={"width": WIDTH_FACTORS[version]}
    )
    _add_line_types(document)
    _add_layers(document, drawing)
    # Dashes are given in mm of paper, and the drawing is that many times larger.
    document.header["$LTSCALE"] = float(drawing.scale)
    return document


def _add_line_types(document: Document) -> None:
    for dash, lengths in DASH_PAPER_MM.items():
        if lengths:
            pattern = [sum(abs(length) for length in lengths), *lengths]
            document.linetypes.add(LINE_TYPES[dash], pattern, description=dash.value)


def _add_layers(document: Document, drawing: Drawing) -> None:
    """Add the layers that the drawing uses, in the order of the table."""
    from ezdxf.lldxf.const import VALID_DXF_LINEWEIGHTS

    used = {(entity.view, entity.role) for entity in drawing.entities}
    for view, role in ((view, role) for view in View for role in LAYERS if (view, role) in used):
        pen = PENS[role]
        weight = round(100 * pen.width_mm)
        assert weight in VALID_DXF_LINEWEIGHTS, f"{role}: no DXF line is {pen.width_mm} mm"
        document.layers.add(
            layer_name(role, view),
            color=COLOURS[pen.ink],
            linetype=LINE_TYPES[pen.dash],
            lineweight=weight,
        )


def _add(space: Modelspace, entity: Entity, version: Version) -> None:
    if isinstance(entity, Arrow):
        for line in arrow_lines(entity):
            _add_polyline(space, line, version)
    elif isinstance(entity, Circle):
        attributes = {"layer": layer_name(entity.role, entity.view)}
        made = space.add_circle(entity.centre, entity.radius_mm, dxfattribs=attributes)
        _set_tag(made, entity.tag)
    elif isinstance(entity, Text):
        _add_text(space, entity)
    else:
        _set_tag(_add_polyline(space, entity, version), entity.tag)


def _add_polyline(space: Modelspace, line: Polyline, version: Version) -> DXFGraphic:
    attributes = {"layer": layer_name(line.role, line.view)}
    if len(line.points) == 2 and not line.bulges:
        return space.add_line(*line.points, dxfattribs=attributes)
    bulges = line.bulges or (0.0,) * len(line.points)
    vertices = [(x, y, bulge) for (x, y), bulge in zip(line.points, bulges, strict=True)]
    if version == "R12":
        return space.add_polyline2d(
            vertices, format="xyb", close=line.is_closed, dxfattribs=attributes
        )
    return space.add_lwpolyline(vertices, format="xyb", close=line.is_closed, dxfattribs=attributes)


def _add_text(space: Modelspace, text: Text) -> None:
    from ezdxf.enums import TextEntityAlignment

    places = {
        Anchor.LEFT: TextEntityAlignment.LEFT,
        Anchor.CENTRE: TextEntityAlignment.CENTER,
        Anchor.RIGHT: TextEntityAlignment.RIGHT,
    }
    made = space.add_text(
        text_as_written(text.text),
        height=text.height_mm,
        dxfattribs={
            "layer": layer_name(text.role, text.view),
            "style": TEXT_STYLE,
            "width": space.doc.styles.get(TEXT_STYLE).dxf.width,
        },
    )
    made.set_placement(text.at, align=places[text.anchor])


def text_as_written(text: str) -> str:
    """Return lettering as a file has it, where some signs mean others."""
    return _one_line(text).replace("^", "^ ").replace("%%", "% %").replace("Ø", "%%c")


def _one_line(text: str) -> str:
    return "".join(letter if letter.isprintable() else " " for letter in text)


LONGEST_TAG = 200
"""Characters of one piece of a tag: below the 255 bytes that a DXF string may have."""


def _set_tag(made: DXFGraphic, tag: Tag | None) -> None:
    """Write a tag as extended data: its subject, then ``name=value`` in turn."""
    if tag is None:
        return
    made.set_xdata(APP_ID, [(1000, text) for text in tag_as_written(tag)])


def tag_as_written(tag: Tag) -> tuple[str, ...]:
    """Return the texts that a file holds for a tag."""
    fields = (f"{name}={_one_line(value)}"[:LONGEST_TAG] for name, value in tag.fields)
    return (tag.subject, *fields)


def _set_extents(document: Document, drawing: Drawing) -> None:
    low_x, low_y, high_x, high_y = drawing.frame
    low, high = (low_x, low_y, 0.0), (high_x, high_y, 0.0)
    document.modelspace().reset_extents(low, high)
    # Set again: the layout keeps 1e20 in the header where a corner is the origin itself.
    document.header["$EXTMIN"], document.header["$EXTMAX"] = low, high
    width, height = drawing.size_mm
    document.set_modelspace_vport(
        height=max(height, width / 1.5) * 1.05, center=((low_x + high_x) / 2, (low_y + high_y) / 2)
    )
