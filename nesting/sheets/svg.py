"""Drawings as SVG: for a browser, a tablet in the shop, or a printer without a CAD program.

The page has the size of its paper; within it one unit is a millimetre of the drawing, so that
coordinates read as in the DXF, but for y, which runs down.
"""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

from nesting.faces import lacking
from nesting.sheets.drawing import (
    Anchor,
    Area,
    Arrow,
    Circle,
    Drawing,
    Entity,
    Point,
    Role,
    Text,
    arrow_lines,
)
from nesting.sheets.dxf_terms import layer_name
from nesting.sheets.lettering import text_width
from nesting.sheets.pen import DASH_PAPER_MM, PENS, shaded
from nesting.sheets.picture import CAPITAL_SHARE, flattened
from nesting.sheets.whole_file import write_whole

MARGIN_PAPER_MM = 10.0
"""White around the frame."""

FACES = "'DejaVu Sans', Verdana, Arial, sans-serif"
"""The first is the one that the room for lettering is reckoned for."""

HANGING = {Anchor.LEFT: "start", Anchor.CENTRE: "middle", Anchor.RIGHT: "end"}


def write_svg(drawing: Drawing, path: Path, *, overwrite: bool = False) -> Path:
    """Write a drawing as SVG at the size of its paper and return the path.

    Raises
    ------
    OutputError
        If the file is there and may not be overwritten, or the folder cannot be written.
    """
    return write_whole(path, svg_text(drawing).encode(), overwrite=overwrite)


def svg_text(drawing: Drawing) -> str:
    """Return a drawing as the text of an SVG file; a group for each role, named as its layer."""
    margin = MARGIN_PAPER_MM * drawing.scale
    low_x, low_y, high_x, high_y = drawing.frame
    wide, high = high_x - low_x + 2 * margin, high_y - low_y + 2 * margin
    box = f"{_n(low_x - margin)} {_n(-high_y - margin)} {_n(wide)} {_n(high)}"
    groups: dict[Role, list[Entity]] = defaultdict(list)
    for entity in drawing.entities:
        groups[entity.role].append(entity)
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_n(wide / drawing.scale)}mm" '
        f'height="{_n(high / drawing.scale)}mm" viewBox="{box}">',
        f"<title>{escape(drawing.title)}</title>",
        f'<rect x="{_n(low_x - margin)}" y="{_n(-high_y - margin)}" width="{_n(wide)}" '
        f'height="{_n(high)}" fill="#ffffff"/>',
    ]
    for role, entities in groups.items():
        lines += _group(role, entities, drawing.scale)
    return "\n".join([*lines, "</svg>", ""])


def _group(role: Role, entities: list[Entity], scale: float) -> list[str]:
    pen = PENS[role]
    dashes = [_n(abs(length) * scale) for length in DASH_PAPER_MM[pen.dash]]
    dashed = f' stroke-dasharray="{" ".join(dashes)}"' if dashes else ""
    head = (
        f'<g id={quoteattr(layer_name(role))} fill="none" stroke="{pen.ink.value}" '
        f'stroke-width="{_n(pen.width_mm * scale)}" stroke-linejoin="round" '
        f'stroke-linecap="{"butt" if dashes else "round"}"{dashed}>'
    )
    return [head, *(line for entity in entities for line in _drawn(entity)), "</g>"]


def _drawn(entity: Entity) -> list[str]:
    if isinstance(entity, Text):
        return [_text(entity)]
    if isinstance(entity, Circle):
        x, y = entity.centre
        return [f'<circle cx="{_n(x)}" cy="{_n(-y)}" r="{_n(entity.radius_mm)}"/>']
    if isinstance(entity, Area):
        rings = " ".join(f"M{_points(ring)}Z" for ring in entity.rings)
        colour = shaded(PENS[entity.role].ink, entity.shade)
        return [f'<path d="{rings}" fill="{colour}" fill-rule="evenodd" stroke="none"/>']
    lines = arrow_lines(entity) if isinstance(entity, Arrow) else (entity,)
    return [f'<polyline points="{_points(flattened(line))}"/>' for line in lines]


def _text(text: Text) -> str:
    x, y = text.at
    size = text.height_mm / CAPITAL_SHARE
    fitted = ""
    # A browser has faces of its own for letters that ours lack: they are as wide as they come.
    if not lacking(text.text):
        width = _n(text_width(text.text, text.height_mm))
        fitted = f'textLength="{width}" lengthAdjust="spacingAndGlyphs" '
    return (
        f'<text x="{_n(x)}" y="{_n(-y)}" font-family="{FACES}" font-size="{_n(size)}" '
        f'text-anchor="{HANGING[text.anchor]}" {fitted}'
        f'fill="{PENS[text.role].ink.value}" stroke="none">{escape(text.text)}</text>'
    )


def _points(points: tuple[Point, ...]) -> str:
    return " ".join(f"{_n(x)},{_n(-y)}" for x, y in points)


def _n(value: float) -> str:
    """Return a number to a hundredth of a mm, as short as it goes."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
