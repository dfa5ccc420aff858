"""A written DXF as a drawing library reads it: the slow twin of ``nesting.sheets.written``.

Whatever this one finds changed in a file, the program's own reader must find too.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from ezdxf.document import Drawing as Document
from ezdxf.entities.dxfgfx import DXFGraphic
from ezdxf.filemanagement import readfile

from nesting.errors import DrawingError
from nesting.sheets.drawing import Tag
from nesting.sheets.dxf_terms import APP_ID, LAYOUT_NAME, LINE_TYPES, TEXT_STYLE
from nesting.sheets.entities import plain
from nesting.sheets.pen import Dash
from nesting.sheets.written import HEADER, REFERRED, Drawn, Layer, Written


def library_written(path: Path) -> Written:
    """Return all that a file holds; raises DrawingError if the library cannot read it."""
    try:
        document = readfile(path)
    except Exception as error:  # a broken file makes the library raise whatever it meets
        raise DrawingError(f"{path} cannot be read as DXF: {error!r}") from error
    return written_in(document, path)


def written_in(document: Document, path: Path | str) -> Written:
    """Return all that a document holds that was read from a file."""
    try:
        header = {name: document.header[name] for name in HEADER if name in document.header}
        return Written(
            {**header, "$ACADVER": _version_said(Path(path))},
            {layer.dxf.name.upper(): _layer(layer) for layer in document.layers},
            {name: _dashes(document, name) for name in _line_types(document)},
            _lettering(document),
            tuple(_drawn(entity) for entity in document.modelspace()),
            tuple(_strays(document, Path(path))),
            _layout(document),
            tuple(_on_paper(document)),
        )
    except (ValueError, TypeError, AttributeError, KeyError, IndexError) as error:
        raise DrawingError(f"{path} cannot be read as DXF: {error!r}") from error


PLOT = (
    "left_margin", "bottom_margin", "right_margin", "top_margin", "paper_width", "paper_height",
    "plot_origin_x_offset", "plot_origin_y_offset", "scale_numerator", "scale_denominator",
    "unit_factor", "plot_layout_flags", "plot_paper_units", "plot_rotation", "plot_type",
    "standard_scale_type",
)  # fmt: skip


def _ours(document: Document) -> list[str]:
    if document.dxfversion == "AC1009":
        return []
    return [name for name in document.layout_names() if name.startswith(LAYOUT_NAME)]


def _layout(document: Document) -> tuple[Any, ...]:
    for name in _ours(document):
        dxf = document.layout(name).dxf_layout.dxf
        limits = (dxf.limmin.x, dxf.limmin.y, dxf.limmax.x, dxf.limmax.y)
        return (name, dxf.paper_size, *(float(dxf.get(one)) for one in PLOT), *limits)
    return ()


def _on_paper(document: Document) -> Iterator[Drawn]:
    for name in _ours(document):
        for entity in document.layout(name):
            if entity.dxftype() != "VIEWPORT" or entity.dxf.id != 1:
                entity.dxf.discard("paperspace")
                yield _drawn(entity)


def tag_of(entity: DXFGraphic) -> Tag | None:
    """Return what an entity stands for, if it says so."""
    if not entity.has_xdata(APP_ID):
        return None
    subject, *fields = [plain(str(item.value)) for item in entity.get_xdata(APP_ID)] or [""]
    return Tag(subject, tuple((n, v) for n, _, v in (field.partition("=") for field in fields)))


FROZEN = 1 | 2
"""Of a layer's flags: frozen, and frozen in new views (DXF reference, LAYER)."""


def _layer(layer: Any) -> Layer:
    dxf = layer.dxf
    return Layer(
        abs(int(dxf.color)) if not dxf.hasattr("true_color") else -1,
        str(dxf.linetype).upper(),
        int(dxf.get("lineweight", -3)),
        layer.is_off() or bool(dxf.get("flags", 0) & FROZEN) or not dxf.get("plot", 1),
        layer.is_locked(),
    )


def _line_types(document: Document) -> Iterator[str]:
    for dash, name in LINE_TYPES.items():
        if dash is not Dash.SOLID and name in document.linetypes:
            yield name


def _dashes(document: Document, name: str) -> tuple[float, ...]:
    tags = document.linetypes.get(name).pattern_tags.tags
    return tuple(float(tag.value) for tag in tags if tag.code in (40, 49, 73))


def _lettering(document: Document) -> tuple[Any, ...]:
    if TEXT_STYLE not in document.styles:
        return ()
    dxf = document.styles.get(TEXT_STYLE).dxf
    flags = dxf.get("flags", 0) & ~REFERRED, dxf.get("generation_flags", 0)
    return (str(dxf.font).lower(), dxf.height, dxf.width, dxf.get("oblique", 0.0), *flags)


def _version_said(path: Path) -> str:
    """Return what a file calls its version: the library takes a name it does not know for R12."""
    said = re.search(rb"\$ACADVER\s+1\s+(\S+)", path.read_bytes())
    return said[1].decode("ascii", "replace") if said else ""


def _strays(document: Document, path: Path) -> Iterator[str]:
    """Yield what stands in paper space, and how much a reader leaves out of the file."""
    read = 0
    for name in document.layout_names():
        space: list[DXFGraphic] = list(document.layout(name))
        read += len(space)
        if name != "Model" and name not in _ours(document):
            kinds = [entity.dxftype() for entity in space if entity.dxftype() != "VIEWPORT"]
            yield from (f"a {kind} on paper {name!r}" for kind in kinds)
    held = list(_records(path))
    if len(held) != read:
        yield f"{len(held)} entities, of which {read} can be read"
    for kind, codes in held:
        if codes[67] and kind != "VIEWPORT" and not _ours(document):
            yield f"a {kind} that is said to be on paper"
        if kind == "LWPOLYLINE" and codes[90] != codes[10]:
            yield f"a {kind} that is said to have {codes[90]} corners and has {codes[10]}"


PARTS_OF_OTHERS = {b"VERTEX", b"SEQEND", b"ATTRIB", b"ENDSEC", b"SECTION", b"EOF"}


def _records(path: Path) -> Iterator[tuple[str, Counter[int]]]:
    """Yield the kind of each entity in a file, read as what it is: a code and a value in turn.

    With it comes what the library keeps to itself: how many corners (code 10) there are, and what
    the file says of their number (90) and of paper space (67).
    """
    lines = path.read_bytes().splitlines()
    section, kind, codes = b"", "", Counter[int]()
    for code, value in zip(
        map(bytes.strip, lines[::2]), map(bytes.strip, lines[1::2]), strict=False
    ):
        if code == b"0":
            if kind:
                yield kind, codes
            is_one = section == b"ENTITIES" and value not in PARTS_OF_OTHERS
            kind, codes = value.decode("ascii", "replace") if is_one else "", Counter()
            if value in (b"SECTION", b"ENDSEC"):
                section = b"?" if value == b"SECTION" else b""
        elif code == b"2" and section == b"?":
            section = value
        elif code == b"10":
            codes[10] += 1
        elif kind and code in (b"67", b"90"):
            codes[int(code)] = int(value)


BOOKKEEPING = {"handle", "owner", "layer", "count"}
"""What every entity has and nobody draws by, and its layer, which is told apart."""


def _odd(entity: Any, known: set[str]) -> tuple[str, ...]:
    """Return what an entity has that is neither among its own figures nor as usual."""
    given = entity.dxf.all_existing_dxf_attribs()
    return tuple(
        f"{name} {value}"
        for name, value in given.items()
        if name not in BOOKKEEPING | known and value != entity.dxf.dxf_default_value(name)
    )


def _drawn(entity: DXFGraphic) -> Drawn:
    reader = _READERS.get(entity.dxftype())
    if reader is None:
        return Drawn(entity.dxftype(), entity.dxf.get("layer", "0").upper(), ())
    kind, numbers, words, odd = reader(entity)
    tag = tag_of(entity)
    said = (tag.subject, *(f"{name}={value}" for name, value in tag.fields)) if tag else ()
    return Drawn(
        kind,
        entity.dxf.layer.upper(),
        tuple(map(float, numbers)),
        (*words, *said),
        odd,
    )


_Read = tuple[str, list[float], tuple[str, ...], tuple[str, ...]]


def _flat(*points: Any) -> tuple[str, ...]:
    """Return what is odd of points: that they do not lie in the plane of the drawing."""
    return tuple(f"z {point.z}" for point in points if point.z)


def _line(entity: Any) -> _Read:
    start, end = entity.dxf.start, entity.dxf.end
    odd = (*_odd(entity, {"start", "end"}), *_flat(start, end))
    return "line", [start.x, start.y, end.x, end.y], (), odd


def _circle(entity: Any) -> _Read:
    centre = entity.dxf.center
    odd = (*_odd(entity, {"center", "radius"}), *_flat(centre))
    return "circle", [centre.x, centre.y, entity.dxf.radius], (), odd


def _viewport(entity: Any) -> _Read:
    dxf, known = entity.dxf, {"center", "width", "height", "status", "id", "view_center_point"}
    seen, centre = dxf.view_center_point, dxf.center
    numbers = [centre.x, centre.y, dxf.width, dxf.height, seen.x, seen.y, dxf.view_height]
    usual = {"snap_spacing", "grid_spacing", "view_height"} | known
    return "viewport", numbers, ("off" if dxf.status <= 0 else "on",), _odd(entity, usual)


def _text(entity: Any) -> _Read:
    dxf = entity.dxf
    insert, at = dxf.insert, dxf.get("align_point", dxf.insert)
    known = {"insert", "align_point", "height", "width", "text", "halign", "valign", "style"}
    numbers = [at.x, at.y, insert.x, insert.y, dxf.height, dxf.width]
    words = (plain(dxf.text), f"{dxf.halign} {dxf.valign}", dxf.style.upper())
    return "text", numbers, words, (*_odd(entity, known), *_flat(insert, at))


def _lwpolyline(entity: Any) -> _Read:
    numbers, odd = [], list(_odd(entity, {"flags"}))
    for x, y, start, end, bulge in entity.get_points("xyseb"):
        numbers += [x, y, bulge]
        odd += [f"width {width}" for width in (start, end) if width]
    if entity.dxf.flags & ~1:
        odd.append(f"flags {entity.dxf.flags}")
    return "polyline", numbers, (_ends(is_closed=entity.closed),), tuple(odd)


def _polyline(entity: Any) -> _Read:
    numbers, odd = list[float](), list(_odd(entity, {"flags"}))
    for vertex in entity.vertices:
        at = vertex.dxf.location
        numbers += [at.x, at.y, vertex.dxf.get("bulge", 0.0)]
        odd += [*_odd(vertex, {"location", "bulge"}), *_flat(at)]
        if vertex.dxf.layer.upper() != entity.dxf.layer.upper():
            odd.append(f"a corner on layer {vertex.dxf.layer}")
    if entity.dxf.flags & ~1:
        odd.append(f"flags {entity.dxf.flags}")
    return "polyline", numbers, (_ends(is_closed=entity.is_closed),), tuple(odd)


def _ends(*, is_closed: bool) -> str:
    return "closed" if is_closed else "open"


_READERS: dict[str, Callable[[Any], _Read]] = {
    "LINE": _line,
    "CIRCLE": _circle,
    "TEXT": _text,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
    "VIEWPORT": _viewport,
}
