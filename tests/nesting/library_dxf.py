"""A drawing as DXF by way of a drawing library: the slow twin of ``nesting.sheets.dxf``.

What the program writes must be this to the last byte; and the empty drawings that it writes into
are made here.
"""

from __future__ import annotations

import io
import logging
import re
from collections.abc import Iterator
from contextlib import contextmanager

from ezdxf import units
from ezdxf._options import options
from ezdxf.document import Drawing as Document
from ezdxf.entities.dxfgfx import DXFGraphic
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace, Paperspace

from nesting.sheets.drawing import (
    Anchor,
    Arrow,
    Circle,
    Drawing,
    Entity,
    PaperSheet,
    Polyline,
    Tag,
    Text,
    View,
    arrow_lines,
)
from nesting.sheets.dxf_terms import (
    APP_ID,
    COLOURS,
    FONTS,
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
from nesting.sheets.group_codes import FIRST_HANDLE
from nesting.sheets.pen import DASH_PAPER_MM, PENS

PLACES = {
    Anchor.LEFT: TextEntityAlignment.LEFT,
    Anchor.CENTRE: TextEntityAlignment.CENTER,
    Anchor.RIGHT: TextEntityAlignment.RIGHT,
}


def library_bytes(drawing: Drawing, version: Version) -> bytes:
    """Return a drawing as the library writes it, without dates, identities and chance."""
    with steady():
        document = document_of(drawing, version)
        auditor = document.audit()
        assert not auditor.errors and not auditor.fixes
        stream = io.StringIO()
        document.write(stream)
        return bytes(document.encode(in_order(stream.getvalue())))


def in_order(text: str) -> str:
    """Return a file with its classes by name: the library has them in another order each run."""
    begin, end, each = "  2\nCLASSES\n", "  0\nENDSEC\n", "  0\nCLASS\n"
    if begin not in text:
        return text
    before, after = text.split(begin)
    classes, after = after.split(end, 1)
    return before + begin + each.join(["", *sorted(classes.split(each)[1:])]) + end + after


@contextmanager
def steady() -> Iterator[None]:
    """Keep dates and identities out, and the warning that R12 has no units."""
    log = logging.getLogger("ezdxf")
    before, level = options.write_fixed_meta_data_for_testing, log.level
    options.write_fixed_meta_data_for_testing = True
    log.setLevel(logging.ERROR)
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before
        log.setLevel(level)


def document_of(drawing: Drawing, version: Version) -> Document:
    document = new(version, units=units.MM)
    document.appids.add(APP_ID)
    document.styles.add(
        TEXT_STYLE, font=FONTS[version], dxfattribs={"width": WIDTH_FACTORS[version]}
    )
    for dash, lengths in DASH_PAPER_MM.items():
        if lengths:
            pattern = [sum(abs(length) for length in lengths), *lengths]
            document.linetypes.add(LINE_TYPES[dash], pattern, description=dash.value)
    add_layers(document, drawing)
    document.header["$LTSCALE"] = float(drawing.scale)
    space = document.modelspace()
    for entity in drawing.entities:
        add(space, entity, version)
    if version != "R12":
        document.header["$PSLTSCALE"] = 0
        if drawing.sheet is not None:
            lay_on_paper(document, drawing.sheet)
    set_extents(document, drawing)
    return document


def lay_on_paper(document: Document, sheet: PaperSheet) -> None:
    name = f"{LAYOUT_NAME}{sheet.paper}"
    document.layouts.rename("Layout1", name)
    layout = document.paperspace(name)
    layout.page_setup(
        sheet.size_mm, (sheet.margin_mm,) * 4, "mm", name=sheet.paper, device="", scale=(1, 1)
    )
    layout.main_viewport().dxf.layer = UNPRINTED_LAYER
    for port in sheet.ports:
        height = port.size[1] * port.scale
        attributes = {"layer": UNPRINTED_LAYER}
        layout.add_viewport(port.middle, port.size, port.seen, height, dxfattribs=attributes)
    for entity in sheet.entities:
        add(layout, entity, "R2010")


def add_layers(document: Document, drawing: Drawing) -> None:
    used = {(entity.view, entity.role) for entity in drawing.entities}
    if drawing.sheet is not None and document.dxfversion != "AC1009":
        used |= {(entity.view, entity.role) for entity in drawing.sheet.entities}
    for view, role in ((view, role) for view in View for role in LAYERS if (view, role) in used):
        pen = PENS[role]
        document.layers.add(
            layer_name(role, view),
            color=COLOURS[pen.ink],
            linetype=LINE_TYPES[pen.dash],
            lineweight=round(100 * pen.width_mm),
        )


def add(space: Modelspace | Paperspace, entity: Entity, version: Version) -> None:
    if isinstance(entity, Arrow):
        for line in arrow_lines(entity):
            add_polyline(space, line, version)
    elif isinstance(entity, Circle):
        attributes = {"layer": layer_name(entity.role, entity.view)}
        made = space.add_circle(entity.centre, entity.radius_mm, dxfattribs=attributes)
        set_tag(made, entity.tag)
    elif isinstance(entity, Text):
        add_text(space, entity, version)
    else:
        set_tag(add_polyline(space, entity, version), entity.tag)


def add_polyline(space: Modelspace | Paperspace, line: Polyline, version: Version) -> DXFGraphic:
    attributes = {"layer": layer_name(line.role, line.view)}
    if len(line.points) == 2 and not line.bulges:
        return space.add_line(*line.points, dxfattribs=attributes)
    bulges = line.bulges or (0.0,) * len(line.points)
    vertices = [(x, y, bulge) for (x, y), bulge in zip(line.points, bulges, strict=True)]
    add_vertices = space.add_polyline2d if version == "R12" else space.add_lwpolyline
    return add_vertices(vertices, format="xyb", close=line.is_closed, dxfattribs=attributes)


def add_text(space: Modelspace | Paperspace, text: Text, version: Version) -> None:
    made = space.add_text(
        text_as_written(text.text),
        height=text.height_mm,
        dxfattribs={
            "layer": layer_name(text.role, text.view),
            "style": TEXT_STYLE,
            "width": WIDTH_FACTORS[version],
        },
    )
    made.set_placement(text.at, align=PLACES[text.anchor])


def set_tag(made: DXFGraphic, tag: Tag | None) -> None:
    if tag is not None:
        made.set_xdata(APP_ID, [(1000, text) for text in tag_as_written(tag)])


def set_extents(document: Document, drawing: Drawing) -> None:
    low_x, low_y, high_x, high_y = drawing.frame
    low, high = (low_x, low_y, 0.0), (high_x, high_y, 0.0)
    document.modelspace().reset_extents(low, high)
    document.header["$EXTMIN"], document.header["$EXTMAX"] = low, high
    width, height = drawing.size_mm
    document.set_modelspace_vport(
        height=max(height, width / 1.5) * 1.05, center=((low_x + high_x) / 2, (low_y + high_y) / 2)
    )


MARKED = Drawing("empty", (), (1000001.0, 1000002.0, 2000011.0, 1000052.0), 1000005.0)
"""An empty drawing, no figure of which is met elsewhere in a file."""


def empty(version: Version) -> str:
    """Return all that is the same in every file, with names where a drawing puts its own."""
    text = library_bytes(MARKED, version).decode("ascii").replace("@", "@@")
    low_x, low_y, high_x, high_y = MARKED.frame
    width, height = MARKED.size_mm
    figures = {
        "LOW_X": low_x,
        "LOW_Y": low_y,
        "HIGH_X": high_x,
        "HIGH_Y": high_y,
        "MIDDLE_X": (low_x + high_x) / 2,
        "MIDDLE_Y": (low_y + high_y) / 2,
        "SHOWN": max(height, width / 1.5) * 1.05,
        "SCALE": MARKED.scale,
    }
    assert len(set(figures.values())) == len(figures)
    for name, figure in figures.items():
        text = text.replace(f"\n{figure}\n", f"\n@{name}\n")
    first = FIRST_HANDLE[version]
    for number in range(5):
        pattern = rf"^(  5|350)\n{first + number:X}\n"
        text = re.sub(pattern, rf"\1\n@HANDLE_{number}\n", text, flags=re.MULTILINE)
    table, end = "  2\nLAYER\n", "  0\nENDTAB\n"
    before, layers = text.split(table)
    layers, after = layers.split(end, 1)
    layers = re.sub(r" 70\n2\n", " 70\n@LAYER_COUNT\n", layers, count=1) + "@LAYERS"
    text = f"{before}{table}{layers}{end}{after}"
    if version != "R12":
        text = with_layout_names(text)
    begin = "  2\nENTITIES\n"
    assert text.count(begin) == 1
    return text.replace(begin, f"{begin}@ENTITIES")


def with_layout_names(text: str) -> str:
    """Return an empty drawing with names where its paper layout puts its own."""
    before, layout, after = re.split(
        r"(?<=\n)(  0\nLAYOUT\n  5\n1E\n.*?)(?=  0\n)", text, flags=re.S
    )
    plot, own = layout.split("100\nAcDbLayout\n")
    for code, name in ((4, "PAPER"), (40, "MARGIN_0"), (41, "MARGIN_1"), (42, "MARGIN_2"),
                       (43, "MARGIN_3"), (44, "PAPER_WIDE"), (45, "PAPER_HIGH"),
                       (70, "PLOT_FLAGS")):  # fmt: skip
        plot = named(plot, code, name)
    limits = ((10, "LIMIT_LOW_X"), (20, "LIMIT_LOW_Y"), (11, "LIMIT_HIGH_X"), (21, "LIMIT_HIGH_Y"))
    for code, name in ((1, "LAYOUT"), *limits):
        own = named(own, code, name)
    text = f"{before}{plot}100\nAcDbLayout\n{own}@MAIN_PORT{after}"
    text = text.replace("\nLayout1\n", "\n@LAYOUT\n")
    for variable, names in (("$PLIMMIN", limits[:2]), ("$PLIMMAX", limits[2:])):
        start = text.index(f"{variable}\n")
        end = text.index("  9\n", start)
        part = text[start:end]
        for code, (_, name) in zip((10, 20), names, strict=True):
            part = named(part, code, name)
        text = text[:start] + part + text[end:]
    return text


def named(part: str, code: int, name: str) -> str:
    """Return a part of a file with a name for the first value of a group."""
    made, count = re.subn(rf"^({code:3d})\n.*$", rf"\1\n@{name}", part, count=1, flags=re.M)
    assert count == 1, (code, name)
    return made
