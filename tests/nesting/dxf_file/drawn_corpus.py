"""Drawings made by code: each kind of entity that DXF has, sound and then broken on purpose.

The kinds are those of the ENTITIES section in the DXF reference of AutoCAD 2012 (from memory);
each makes a mark about 20 x 10 mm large at a place, and says where it reaches.
"""

from __future__ import annotations

import io
import math
import random
from collections.abc import Callable
from dataclasses import dataclass

import ezdxf
from ezdxf import units
from ezdxf.document import Drawing

AT = (400.0, 45.0)
"""Where a mark lies."""

CORNERS = [(0.0, 0.0), (20.0, 0.0), (20.0, 10.0), (0.0, 10.0)]


@dataclass(frozen=True)
class Mark:
    """One kind of mark: how it is drawn, on which layer, and points that belong to it.

    ``draw`` gets the document and the attributes; the mark's own frame starts at ``AT``.
    ``is_read`` tells kinds that must be read, not refused; ``is_words`` what is no outline.
    """

    draw: Callable[[Drawing, dict], None]
    reaches: tuple[tuple[float, float], ...] = ()
    is_read: bool = False
    is_words: bool = False


def _at(points, z=None):
    moved = [(AT[0] + x, AT[1] + y, *rest) for x, y, *rest in points]
    return moved if z is None else [(x, y, z) for x, y, *_ in moved]


def _lines(doc, attribs):
    ring = _at(CORNERS)
    for start, end in zip(ring, ring[1:] + ring[:1], strict=True):
        doc.modelspace().add_line(start, end, attribs)


def _arcs(doc, attribs):
    doc.modelspace().add_arc(AT, 8, 0, 120, dxfattribs=attribs)
    doc.modelspace().add_arc(AT, 8, 120, 360, dxfattribs=attribs)


def _spline(doc, attribs):
    spline = doc.modelspace().add_spline(dxfattribs=attribs)
    angles = [i * math.pi / 6 for i in range(12)]
    spline.set_closed([(AT[0] + 12 * math.cos(a), AT[1] + 12 * math.sin(a), 0) for a in angles])


def _fit_spline(doc, attribs):
    angles = [i * math.pi / 4 for i in range(9)]
    doc.modelspace().add_spline(
        [(AT[0] + 9 * math.cos(a), AT[1] + 9 * math.sin(a), 0) for a in angles], dxfattribs=attribs
    )


def _donut(doc, attribs):
    x, y = AT
    doc.modelspace().add_lwpolyline(
        [(x - 1.5, y, 3, 3, 1), (x + 1.5, y, 3, 3, 1)], close=True, dxfattribs=attribs
    )


def _old_donut(doc, attribs):
    x, y = AT
    doc.modelspace().add_polyline2d(
        [(x - 4, y, 2, 2, 1), (x + 4, y, 2, 2, 1)], format="xyseb", close=True, dxfattribs=attribs
    )


def _hatch(doc, attribs):
    doc.modelspace().add_hatch(dxfattribs=attribs).paths.add_polyline_path(_at(CORNERS))


def _hatch_of_edges(doc, attribs):
    path = doc.modelspace().add_hatch(dxfattribs=attribs).paths.add_edge_path()
    x, y = AT
    path.add_line((x, y), (x + 20, y))
    path.add_line((x + 20, y), (x + 20, y + 10))
    path.add_ellipse((x + 10, y + 10), (10, 0), 0.3, 0, 180)
    path.add_line((x, y + 10), (x, y))


def _hatch_of_arcs(doc, attribs):
    path = doc.modelspace().add_hatch(dxfattribs=attribs).paths.add_edge_path()
    path.add_arc(AT, 7, 0, 180)
    path.add_arc(AT, 7, 180, 360, ccw=False)


def _hatch_of_splines(doc, attribs):
    path = doc.modelspace().add_hatch(dxfattribs=attribs).paths.add_edge_path()
    x, y = AT
    path.add_line((x, y), (x + 20, y))
    path.add_spline(
        control_points=[(x + 20, y), (x + 20, y + 12), (x, y + 12), (x, y)],
        knot_values=[0, 0, 0, 0, 1, 1, 1, 1],
        degree=3,
    )


def _block(doc, draw, name="NAIL", **inner):
    block = doc.blocks.new(name)
    draw(block, inner)
    return name


def _insert(layer=None, **insert):
    def draw(doc, attribs):
        inner = {} if layer is None else {"layer": layer}
        name = _block(doc, lambda block, _: block.add_circle((0, 0), 6, inner))
        doc.modelspace().add_blockref(name, AT, {**attribs, **insert})

    return draw


def _nested(doc, attribs):
    doc.blocks.new("INNER").add_circle((0, 0), 6, {"layer": "SYMBOLS"})
    doc.blocks.new("OUTER").add_blockref("INNER", (2, 0), {"layer": "OTHER", "rotation": 30})
    doc.modelspace().add_blockref("OUTER", AT, attribs)


def _attributed(doc, attribs):
    doc.blocks.new("NAIL").add_circle((0, 0), 6)
    doc.modelspace().add_blockref("NAIL", AT, attribs).add_attrib(
        "SIZE", "6", (AT[0] + 30, AT[1]), attribs
    )


def _only_words(doc, attribs):
    doc.blocks.new("NAIL").add_attdef("SIZE", (0, 0))
    doc.modelspace().add_blockref("NAIL", AT, attribs)


def _raw(*groups):
    """Return a mark of tags that the library does not write."""

    def draw(doc, attribs):
        kind, *rest = groups
        text = "".join(f"{code}\n{value}\n" for code, value in rest)
        doc.raw.append(f"0\n{kind}\n5\nFFF{len(doc.raw)}\n8\n{attribs['layer']}\n{text}")

    return draw


def _space(method, *args, **given):
    """Return a mark made by one method of the library's model space."""

    def draw(doc, attribs):
        getattr(doc.modelspace(), method)(*args, dxfattribs=attribs, **given)

    return draw


def _image(doc, attribs):
    image = doc.add_image_def("photo.png", (100, 50))
    doc.modelspace().add_image(image, AT, (20, 10), dxfattribs=attribs)


def _underlay(doc, attribs):
    under = doc.add_underlay_def("sheet.pdf", "pdf")
    doc.modelspace().add_underlay(under, AT, dxfattribs=attribs)


def _mesh(doc, attribs):
    with doc.modelspace().add_mesh(attribs).edit_data() as data:
        data.vertices = _at(CORNERS, 0)
        data.faces = [[0, 1, 2, 3]]


def _old_mesh(doc, attribs):
    mesh = doc.modelspace().add_polymesh((3, 2), attribs)
    for i in range(3):
        for j in range(2):
            mesh.set_mesh_vertex((i, j), (AT[0] + 10 * i, AT[1] + 10 * j, 0))


def _polyface(doc, attribs):
    doc.modelspace().add_polyface(attribs).append_face(_at(CORNERS, 0))


def _dimension(doc, attribs):
    doc.modelspace().add_linear_dim(
        base=(AT[0], AT[1] + 15), p1=AT, p2=(AT[0] + 20, AT[1]), dxfattribs=attribs
    ).render()


def _leader(doc, attribs):
    doc.modelspace().add_leader(_at(CORNERS[:3]), dxfattribs=attribs)


def _text(doc, attribs):
    doc.modelspace().add_text("x", height=8, dxfattribs=attribs).set_placement(AT)


def _long_text(doc, attribs):
    doc.modelspace().add_mtext("nail", attribs).set_location(AT)


def _cover(doc, attribs):
    doc.modelspace().add_wipeout(_at(CORNERS)).dxf.layer = attribs["layer"]


def _on_paper(doc, attribs):
    doc.paperspace().add_circle(AT, 6, attribs)


def _flat(mark):
    return tuple((AT[0] + x, AT[1] + y) for x, y in mark)


BOX = _flat([(0.2, 0.2), (19.8, 0.2), (19.8, 9.8), (0.2, 9.8), (10, 5)])


def _round(radius, x=0.0, y=0.0):
    return _flat([(x, y), (x + radius, y), (x, y + radius), (x - radius, y), (x, y - radius)])


_WORD = {"is_words": True}
_READ = {"is_read": True}

MARKS: dict[str, Mark] = {
    "lines": Mark(_lines, BOX, **_READ),
    "arcs": Mark(_arcs, _round(7.9), **_READ),
    "circle": Mark(_space("add_circle", AT, 6), _round(5.9), **_READ),
    "small circle": Mark(_space("add_circle", AT, 0.3), _round(0.2), **_READ),
    "circle seen from below": Mark(_space("add_circle", (-AT[0], AT[1]), 6), _round(5.9), **_READ),
    "ellipse": Mark(_space("add_ellipse", AT, (10, 0), 0.5), _flat([(9.8, 0), (0, 4.8)]), **_READ),
    "ellipse whose end wraps": Mark(
        _space("add_ellipse", AT, (10, 0), 0.5, 0.0, 4e-13), _flat([(9.8, 0), (0, 4.8)]), **_READ
    ),
    "spline": Mark(_spline, _round(10.5), **_READ),
    "spline through points": Mark(_fit_spline, _round(8.5), **_READ),
    "polyline": Mark(_space("add_lwpolyline", _at(CORNERS), close=True), BOX, **_READ),
    "polyline that meets itself": Mark(
        _space("add_lwpolyline", _at([*CORNERS, CORNERS[0]])), BOX, **_READ
    ),
    "old polyline": Mark(_space("add_polyline2d", _at(CORNERS), close=True), BOX, **_READ),
    "polyline in space": Mark(_space("add_polyline3d", _at(CORNERS, 3), close=True), BOX, **_READ),
    "donut": Mark(_donut, _round(2.95), **_READ),
    "old donut": Mark(_old_donut, _round(4.9), **_READ),
    "hatch": Mark(_hatch, BOX, **_READ),
    "hatch of edges": Mark(_hatch_of_edges, _flat([(0.2, 0.2), (10, 12.9)]), **_READ),
    "hatch of arcs": Mark(_hatch_of_arcs, _round(6.9), **_READ),
    "hatch of splines": Mark(_hatch_of_splines, _flat([(1, 0.2), (10, 8.9)]), **_READ),
    "solid": Mark(_space("add_solid", _at([CORNERS[i] for i in (0, 1, 3, 2)])), BOX, **_READ),
    "trace": Mark(_space("add_trace", _at([CORNERS[i] for i in (0, 1, 3, 2)])), BOX, **_READ),
    "face": Mark(_space("add_3dface", _at(CORNERS, 0)), BOX, **_READ),
    "insert": Mark(_insert(), _round(5.9), **_READ),
    "insert of another layer": Mark(_insert("SYMBOLS"), _round(5.9), **_READ),
    "insert turned and stretched": Mark(
        _insert(xscale=2, yscale=0.5, rotation=90), _flat([(0, 11.8), (2.9, 0)]), **_READ
    ),
    "insert mirrored": Mark(_insert("SYMBOLS", xscale=-1), _round(5.9), **_READ),
    "insert of an array": Mark(
        _insert(column_count=3, column_spacing=30), (*_round(5.9), *_round(5.9, 60)), **_READ
    ),
    "insert in an insert": Mark(_nested, _round(5.9, 2), **_READ),
    "insert with words": Mark(_attributed, _round(5.9)),
    "insert of words only": Mark(_only_words, is_words=True),
    "insert of nothing": Mark(lambda doc, a: _insert_empty(doc, a), is_words=True),
    "insert of a block that is not there": Mark(_space("add_blockref", "GONE", AT)),
    "point": Mark(_space("add_point", AT), _round(0.0), **_WORD),
    "text": Mark(_text, **_WORD),
    "long text": Mark(_long_text, **_WORD),
    "attribute": Mark(_space("add_attdef", "SIZE", AT, "6"), **_WORD),
    "mesh": Mark(_mesh),
    "old mesh": Mark(_old_mesh),
    "faces": Mark(_polyface),
    "multiple line": Mark(_space("add_mline", _at(CORNERS))),
    **{
        kind.lower(): Mark(_raw(kind, (100, "AcDbModelerGeometry"), (70, 1), (1, "400 0 1 0")))
        for kind in ("REGION", "3DSOLID", "BODY", "SURFACE", "PLANESURFACE", "EXTRUDEDSURFACE")
    },
    "ray": Mark(_space("add_ray", AT, (1, 0)), **_WORD),
    "construction line": Mark(_space("add_xline", AT, (1, 0)), **_WORD),
    "shape": Mark(_space("add_shape", "NAIL", AT, 8)),
    "helix": Mark(_space("add_helix", 5, 1, 2)),
    "polygon with holes": Mark(lambda doc, a: _mpolygon(doc, a)),
    "image": Mark(_image, **_WORD),
    "cover": Mark(_cover, **_WORD),
    "underlay": Mark(_underlay, **_WORD),
    "dimension": Mark(_dimension, **_WORD),
    "leader": Mark(_leader, **_WORD),
    "on paper": Mark(_on_paper, **_WORD),
    "line": Mark(_space("add_line", AT, (AT[0] + 20, AT[1]))),
    "line without length": Mark(_space("add_line", AT, AT), is_words=True),
    "very short line": Mark(_space("add_line", AT, (AT[0] + 0.05, AT[1])), is_words=True),
    "open bent line": Mark(_space("add_lwpolyline", _at(CORNERS[:3]))),
    "open arc": Mark(_space("add_arc", AT, 8, 0, 300)),
    "circle of radius 0": Mark(_space("add_circle", AT, 0)),
    "circle of radius -3": Mark(_space("add_circle", AT, -3)),
    "proxy": Mark(_raw("ACAD_PROXY_ENTITY", (100, "AcDbEntity"), (90, 498))),
    "kind of tomorrow": Mark(_raw("WIDGET", (10, AT[0]), (20, AT[1]), (40, 6.0))),
    "table": Mark(_raw("ACAD_TABLE", (10, AT[0]), (20, AT[1])), **_WORD),
    "tolerance": Mark(_raw("TOLERANCE", (10, AT[0]), (20, AT[1]), (1, "x")), **_WORD),
    "multiple leader": Mark(_raw("MULTILEADER", (10, AT[0]), (20, AT[1])), **_WORD),
    "old picture": Mark(_raw("OLE2FRAME", (10, AT[0]), (20, AT[1])), **_WORD),
    "vertex without a polyline": Mark(_raw("VERTEX", (10, AT[0]), (20, AT[1]))),
}
"""Every kind of entity, by name."""


def _insert_empty(doc, attribs):
    doc.blocks.new("NOTHING")
    doc.modelspace().add_blockref("NOTHING", AT, attribs)


def _mpolygon(doc, attribs):
    doc.modelspace().add_mpolygon(dxfattribs=attribs).paths.add_polyline_path(_at(CORNERS))


def drawing_with(name: str, layer: str, *, outline: bool = True, disc: bool = False) -> str:
    """Return the text of a drawing with one mark on a layer.

    The board's outline, 900 x 90 mm, is on EDGE; a disc of 60 mm on EDGE is a hole in it.
    """
    doc = ezdxf.new("R2010", units=units.MM)
    doc.raw = []
    if outline:
        doc.modelspace().add_lwpolyline(
            [(0, 0), (900, 0), (900, 90), (0, 90)], close=True, dxfattribs={"layer": "EDGE"}
        )
    if disc:
        doc.modelspace().add_circle((200, 45), 30, {"layer": "EDGE"})
    attribs = {"layer": layer}
    if name == "circle seen from below":
        attribs["extrusion"] = (0, 0, -1)
    MARKS[name].draw(doc, attribs)
    stream = io.StringIO()
    doc.write(stream)
    head, mark, tail = stream.getvalue().rpartition("  0\nENDSEC\n  0\nSECTION\n  2\nOBJECTS\n")
    return head + "".join(doc.raw) + mark + tail


VALUES = ("0", "-1", "-7.5", "nan", "inf", "1e20", "-1e20", "1e400", "1e-300", "500,9", "", "x",
          "9" * 400, "0x1F", "1_000", "1e9", "123456789", "\u0661", "1.0.0", "4e-13", "1e-15",
          "3.5e8")  # fmt: skip
"""What a number is broken to."""


def broken(text: str, chance: random.Random) -> str:
    """Return a drawing's text with one thing in its entities or blocks broken."""
    lines = text.split("\n")
    # From the second line of a section's name on: the tags between, two lines each.
    start = lines.index("BLOCKS") + 1
    stop = lines.index("OBJECTS") - 3
    tags = [(lines[i], lines[i + 1]) for i in range(start, stop - 1, 2)]
    numbers = [i for i, (code, _) in enumerate(tags) if _is_number(int(code))]
    entities = [i for i, (code, _) in enumerate(tags) if int(code) == 0]
    how = chance.choice(["number"] * 6 + ["drop"] * 4 + ["twice", "drop entity", "swap", "kind"])
    if how == "number":
        at = chance.choice(numbers)
        tags[at] = (tags[at][0], chance.choice(VALUES))
    elif how == "drop":
        del tags[chance.choice(numbers)]
    elif how == "twice":
        at = chance.choice(numbers)
        tags.insert(at, tags[at])
    elif how == "swap":
        at = chance.choice(numbers[:-1])
        tags[at], tags[at + 1] = tags[at + 1], tags[at]
    else:
        _break_entity(tags, entities, how, chance)
    made = [line for tag in tags for line in tag]
    return "\n".join([*lines[:start], *made, *lines[stop:]])


def _is_number(code: int) -> bool:
    return code in range(10, 60) or code in range(66, 100) or code in range(210, 240)


def _break_entity(tags, entities, how, chance):
    at = chance.randrange(len(entities) - 1)
    if how == "kind":
        tags[entities[at]] = ("0", chance.choice(["WIDGET", "", "LINE", "SEQEND", "VERTEX", "EOF"]))
    elif tags[entities[at]][1] not in ("SECTION", "ENDSEC"):
        del tags[entities[at] : entities[at + 1]]
