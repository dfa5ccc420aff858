"""A written file against the drawing that it should be: every entity, layer and setting.

This asks whether a file is still what was drawn, whatever the drawing may be worth. Whether the
lines lie where the plan has them is measured apart, by :mod:`nesting.read_back.sheet`, from the
file alone.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from nesting.referee.fault import Fault
from nesting.sheets.drawing import (
    Anchor,
    Area,
    Arrow,
    Circle,
    Drawing,
    Entity,
    PaperSheet,
    Polyline,
    Role,
    Tag,
    Text,
    arrow_lines,
)
from nesting.sheets.dxf_terms import (
    COLOURS,
    FONTS,
    INSERT_UNITS_MM,
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
from nesting.sheets.entities import plain
from nesting.sheets.pen import DASH_PAPER_MM, PENS
from nesting.sheets.written import Drawn, Layer, Written

AGREE = 1e-5
"""Figures of a file agree with the drawing's to this, mm or not: all digits are written, and of a
bulge of a metre's chord this moves the arc by 0.005 mm."""

MANY_FIGURES = 60
"""So many are compared all at once, fewer sooner one by one."""

MOST_NAMED = 5
"""So many entities of a sheet are named one by one; the rest are counted."""

VERSIONS: dict[str, Version] = {"AC1009": "R12", "AC1024": "R2010"}
"""By what a file calls its version ($ACADVER, DXF reference)."""

STEADY: dict[str, Any] = {
    "$DWGCODEPAGE": "ANSI_1252",
    "$INSBASE": (0.0, 0.0, 0.0),
    "$AUNITS": 0,
    "$ANGBASE": 0.0,
    "$ANGDIR": 0,
    "$LUNITS": 2,
    "$FILLMODE": 1,
    "$QTEXTMODE": 0,
    "$TILEMODE": 1,
}
"""What every sheet's header says: no base point, decimal lengths and degrees anticlockwise from
the x axis, lettering shown as such, and the drawing itself in view (DXF reference, HEADER)."""

METRIC: dict[str, Any] = {"$INSUNITS": INSERT_UNITS_MM, "$MEASUREMENT": 1, "$PSLTSCALE": 0}
"""That it is in mm, and that lines seen through a viewport are broken as they are drawn; R12 knows
neither unit nor viewports of ours."""


def check_drawing(written: Written, drawing: Drawing, name: str = "") -> tuple[Fault, ...]:
    """Return every difference between a file and the drawing it should be.

    ``name`` is that of the board; none for a file that shows several.
    """
    what = "sheet" if name else "overview"
    said = written.header.get("$ACADVER")
    version = VERSIONS.get(str(said))
    if version is None:
        ours = " or ".join(VERSIONS)
        return (Fault(f"{what}: version", name, f"it is DXF {said}, {ours} are written"),)
    return tuple(
        Fault(f"{what}: {rule}", name, words)
        for rule, words in (
            *_check_header(written.header, drawing, version),
            *_check_layers(written.layers, drawing, version),
            *_check_pens(written, version),
            *(("strays", stray) for stray in written.strays),
            *_check_entities(written.drawn, drawing, version),
            *_check_paper(written, drawing.sheet, version),
        )
    )


_Found = Iterator[tuple[str, str]]


def _check_header(header: dict[str, Any], drawing: Drawing, version: Version) -> _Found:
    low_x, low_y, high_x, high_y = drawing.frame
    wanted = {
        **STEADY,
        **(METRIC if version != "R12" else {}),
        "$LTSCALE": drawing.scale,
        "$EXTMIN": (low_x, low_y, 0.0),
        "$EXTMAX": (high_x, high_y, 0.0),
    }
    for variable, value in wanted.items():
        given = header.get(variable, value if version == "R12" and variable in OPTIONAL else None)
        is_unknown = version == "R12" and given in UNKNOWN
        if not is_unknown and not _same_value(given, value):
            yield "header", f"{variable} is {given}, must be {value}"
    if version == "R12" and not _same_value(header.get("$MEASUREMENT", 1), 1):
        yield "header", f"$MEASUREMENT is {header['$MEASUREMENT']}, must be 1"


PLOT_FLAGS = 32 | 128 | 512
"""By styles, with line widths, what is seen through viewports first (DXF reference, PLOTSETTINGS,
group 70)."""

OPTIONAL = {"$LUNITS", "$AUNITS", "$ANGBASE", "$ANGDIR", "$TILEMODE", "$DWGCODEPAGE"}
"""What an R12 file need not say, since it is usual there."""


UNKNOWN = ((1e20, 1e20, 1e20), (-1e20, -1e20, -1e20))
"""Extents that nobody measured: what a library may make of those of an R12 file it saves again."""


def _same_value(given: Any, wanted: Any) -> bool:
    if isinstance(wanted, str):
        return str(given).upper() == wanted
    try:
        one, other = ([float(x) for x in (v if _many(v) else (v,))] for v in (given, wanted))
    except (TypeError, ValueError):
        return False
    return _agree(one, other)


def _many(value: Any) -> bool:
    return hasattr(value, "__iter__")


def _agree(one: Sequence[float], other: Sequence[float]) -> bool:
    if one == other:
        return True
    if len(one) == len(other) > MANY_FIGURES:
        return bool(np.abs(np.subtract(one, other)).max() <= AGREE)
    return len(one) == len(other) and all(
        abs(a - b) <= AGREE for a, b in zip(one, other, strict=True)
    )


def _check_layers(layers: dict[str, Layer], drawing: Drawing, version: Version) -> _Found:
    used = {(entity.role, entity.view) for entity in drawing.entities}
    if drawing.sheet and version != "R12":
        used |= {(entity.role, entity.view) for entity in drawing.sheet.entities}
    for role, view in sorted(used):
        name, pen = layer_name(role, view), PENS[role]
        weight = -3 if version == "R12" else round(100 * pen.width_mm)
        wanted = Layer(COLOURS[pen.ink], LINE_TYPES[pen.dash], weight, False, False)
        given = layers.get(name)
        if given is None:
            yield "layers", f"{name} is not in the table of layers"
        elif given.is_hidden:
            yield "layers", f"{name} is off, frozen or not printed: what is on it is not seen"
        elif given != wanted:
            yield "layers", f"{name} is drawn or guarded otherwise than it was written"


def _check_pens(written: Written, version: Version) -> _Found:
    for dash, lengths in DASH_PAPER_MM.items():
        wanted_dashes = (len(lengths), sum(map(abs, lengths)), *lengths)
        if lengths and not _agree(written.dashes.get(LINE_TYPES[dash], ()), wanted_dashes):
            yield "line types", f"{LINE_TYPES[dash]} is not as it was written"
    wanted = (FONTS[version], 0.0, WIDTH_FACTORS[version], 0.0, 0, 0)
    if written.lettering != wanted:
        yield "lettering", f"text style {TEXT_STYLE} is not as it was written"


def drawn_from(drawing: Drawing, version: Version) -> list[Drawn]:
    """Return what a file should hold of a drawing, in its order."""
    return [drawn for entity in drawing.entities for drawn in _drawn_from(entity, version)]


def _drawn_from(entity: Entity, version: Version) -> Iterator[Drawn]:
    layer = layer_name(entity.role, entity.view)
    if isinstance(entity, Arrow):
        for line in arrow_lines(entity):
            yield from _drawn_from(line, version)
    elif isinstance(entity, Circle):
        yield Drawn("circle", layer, (*entity.centre, entity.radius_mm), _said(entity.tag))
    elif isinstance(entity, Text):
        numbers = (*entity.at, *entity.at, entity.height_mm, WIDTH_FACTORS[version])
        words = (plain(text_as_written(entity.text)), f"{HANGING[entity.anchor]} 0", TEXT_STYLE)
        yield Drawn("text", layer, numbers, words)
    elif isinstance(entity, Area):
        raise AssertionError("a filled area is for paper: no cut sheet has any")
    else:
        yield _line_from(entity, layer)


HANGING = {Anchor.LEFT: 0, Anchor.CENTRE: 1, Anchor.RIGHT: 2}
"""Group code 72 of TEXT (DXF reference)."""


def _line_from(line: Polyline, layer: str) -> Drawn:
    if len(line.points) == 2 and not line.bulges:
        return Drawn("line", layer, (*line.points[0], *line.points[1]), _said(line.tag))
    bulges = line.bulges or (0.0,) * len(line.points)
    numbers = [n for point, bulge in zip(line.points, bulges, strict=True) for n in (*point, bulge)]
    ends = "closed" if line.is_closed else "open"
    return Drawn("polyline", layer, tuple(numbers), (ends, *_said(line.tag)))


def _said(tag: Tag | None) -> tuple[str, ...]:
    return tuple(plain(text) for text in tag_as_written(tag)) if tag else ()


def _check_entities(given: Sequence[Drawn], drawing: Drawing, version: Version) -> _Found:
    wanted = drawn_from(drawing, version)
    if len(wanted) == len(given) and all(map(_same, given, wanted)):
        return
    missing, left = _unmatched(given, wanted)
    yield from _named("missing or changed", missing)
    yield from _named("not of this plan", left)
    if not missing and not left and not _is_inside_first(given):
        yield "order", "an outer cut stands before an inner one: the piece moves when it is freed"


def _check_paper(written: Written, sheet: PaperSheet | None, version: Version) -> _Found:
    """Yield what differs of the paper layout; an old file has none."""
    if sheet is None or version == "R12":
        if written.layout:
            yield "paper", f"a layout {written.layout[0]!r} is not of this plan"
        return
    name, paper, *figures = written.layout or ("", "")
    if name != f"{LAYOUT_NAME}{sheet.paper}":
        yield "paper", f"its layout is called {name!r}, must be '{LAYOUT_NAME}{sheet.paper}'"
        return
    wide, high = sheet.size_mm
    if paper != f"{sheet.paper}_({wide:.2f}_x_{high:.2f}_MM)" or not _agree(
        figures, _layout_figures(sheet)
    ):
        yield "paper", f"its layout for {sheet.paper} is set up otherwise than it was written"
    wanted = [
        Drawn(
            "viewport",
            UNPRINTED_LAYER.upper(),
            (*port.middle, *port.size, *port.seen, port.size[1] * port.scale),
            ("on",),
        )
        for port in sheet.ports
    ]
    wanted += [drawn for entity in sheet.entities for drawn in _drawn_from(entity, version)]
    missing, left = _unmatched(written.on_paper, wanted)
    for what, entities in (("missing or changed", missing), ("not of this plan", left)):
        yield from (("paper", words) for _, words in _named(what, entities))


def _layout_figures(sheet: PaperSheet) -> tuple[float, ...]:
    """Return margins, size, print at 1:1 in mm, flags, and the corners of the paper."""
    (wide, high), edge = sheet.size_mm, sheet.margin_mm
    plot = (*(edge,) * 4, wide, high, 0.0, 0.0, 1.0, 1.0, 1.0, PLOT_FLAGS, 1, 0, 5, 16)
    return (*map(float, plot), -edge, -edge, wide - edge, high - edge)


def _same(given: Drawn, wanted: Drawn) -> bool:
    return (
        (given.kind, given.layer, given.words, given.odd)
        == (wanted.kind, wanted.layer, wanted.words, wanted.odd)
    ) and _agree(given.numbers, wanted.numbers)


def _unmatched(given: Sequence[Drawn], wanted: Sequence[Drawn]) -> tuple[list[Drawn], list[Drawn]]:
    """Return what is wanted and not there, and what is there and not wanted."""
    alike: dict[tuple[Any, ...], list[Drawn]] = defaultdict(list)
    for one in given:
        alike[one.kind, one.layer, one.words].append(one)
    missing = []
    for other in wanted:
        held = alike[other.kind, other.layer, other.words]
        found = next((at for at, one in enumerate(held) if _same(one, other)), None)
        if found is None:
            missing.append(other)
        else:
            del held[found]
    return missing, [one for held in alike.values() for one in held]


def _named(what: str, entities: Sequence[Drawn]) -> _Found:
    for entity in entities[:MOST_NAMED]:
        yield "entities", f"{_described(entity)} is {what}"
    if len(entities) > MOST_NAMED:
        yield "entities", f"{len(entities) - MOST_NAMED} more are {what}"


def _described(entity: Drawn) -> str:
    where = ""
    if len(entity.numbers) >= 2:
        x, y = entity.numbers[:2]
        where = f" at ({x:.1f}, {y:.1f}) mm"
    says = f" {entity.words[0]!r}" if entity.kind == "text" else ""
    odd = f" ({', '.join(entity.odd)})" if entity.odd else ""
    return f"a {entity.kind}{says} on {entity.layer}{where}{odd}"


def _is_inside_first(given: Sequence[Drawn]) -> bool:
    inside, outside = LAYERS[Role.SAW_OPENING], LAYERS[Role.SAW_OUTLINE]
    last = max((at for at, one in enumerate(given) if one.layer == inside), default=-1)
    first = min((at for at, one in enumerate(given) if one.layer == outside), default=len(given))
    return last < first
