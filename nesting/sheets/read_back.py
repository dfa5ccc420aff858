"""Reading a written cut sheet back into numbers, for the referee to compare with the plan.

Only what the saw and the drill follow, and what is kept, is read, from the geometry in the file
itself; the tags say no more than which line is which.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from shapely.geometry import Polygon

from nesting.errors import DrawingError
from nesting.nest import Bung
from nesting.sheets.drawing import Tag
from nesting.sheets.dxf import APP_ID
from nesting.stock.keep_out import KeepOut, KeepOutKind, circle, region, slot

if TYPE_CHECKING:
    from ezdxf.entities.dxfgfx import DXFGraphic

Ring = tuple[tuple[float, float, float], ...]


@dataclass(frozen=True)
class CutRecord:
    """One part's cut as it stands in a file, in the board's frame."""

    label: str
    part: str
    copy: int
    is_turned_over: bool
    polygon: Polygon


@dataclass(frozen=True)
class SheetRecord:
    """What a written cut sheet says, mm, in the board's frame.

    ``units`` is the file's $INSUNITS: 4 for mm, and None in an R12 file, which has none.
    """

    board_name: str
    thickness_mm: float
    outline: Polygon
    keep_outs: tuple[KeepOut, ...]
    cuts: tuple[CutRecord, ...]
    bungs: tuple[Bung, ...]
    offcuts: tuple[Polygon, ...]
    units: int | None


@dataclass(frozen=True)
class _Found:
    """A tagged entity: a ring of x, y, bulge, or a circle's centre and radius."""

    tag: Tag
    ring: Ring = ()
    circle: tuple[float, float, float] | None = None


def read_back(path: Path | str) -> SheetRecord:
    """Return what a cut sheet written by :func:`nesting.sheets.write_dxf` says.

    Raises
    ------
    DrawingError
        If the file cannot be read, or is no cut sheet of ours.
    """
    from ezdxf.filemanagement import readfile
    from ezdxf.lldxf.const import DXFError

    try:
        document = readfile(path)
    except (OSError, DXFError) as error:
        raise DrawingError(f"{path} cannot be read as DXF: {error}") from error
    found = [item for entity in document.modelspace() if (item := _found(entity))]
    groups: dict[str, list[_Found]] = defaultdict(list)
    for item in found:
        groups[item.tag.subject].append(item)
    if len(groups["board"]) != 1:
        raise DrawingError(
            f"{path} is no cut sheet of ours: it holds {len(groups['board'])} tagged board edges, "
            "must hold one; an overview or a drawing saved by another program has none"
        )
    board = groups["board"][0]
    has_units = document.dxfversion > "AC1009"
    return SheetRecord(
        board.tag.get("name"),
        float(board.tag.get("thickness_mm")),
        Polygon(_corners(board.ring)),
        tuple(_keep_outs(groups["keep-out"])),
        tuple(_cuts(groups["part"])),
        tuple(_bungs(groups["bung"])),
        tuple(_polygon(group) for group in _numbered(groups["offcut"])),
        int(document.header.get("$INSUNITS", 0)) if has_units else None,
    )


def _found(entity: DXFGraphic) -> _Found | None:
    if not entity.has_xdata(APP_ID):
        return None
    subject, *fields = (_plain(item.value) for item in entity.get_xdata(APP_ID))
    pairs = tuple((name, value) for name, _, value in (field.partition("=") for field in fields))
    tag = Tag(subject, pairs)
    if entity.dxftype() == "CIRCLE":
        x, y, _ = entity.dxf.center
        return _Found(tag, circle=(float(x), float(y), float(entity.dxf.radius)))
    return _Found(tag, ring=_ring(entity))


def _plain(text: str) -> str:
    r"""Return text with the ``\U+6728`` that an old file has for a foreign letter resolved."""
    return re.sub(r"\\U\+([0-9A-Fa-f]{4})", lambda match: chr(int(match[1], 16)), text)


def _ring(entity: DXFGraphic) -> Ring:
    from ezdxf.entities.lwpolyline import LWPolyline
    from ezdxf.entities.polyline import Polyline

    if isinstance(entity, LWPolyline) and entity.closed:
        return tuple((x, y, bulge) for x, y, bulge in entity.get_points("xyb"))
    if isinstance(entity, Polyline) and entity.is_closed:
        vertices = (vertex.dxf for vertex in entity.vertices)
        return tuple((v.location.x, v.location.y, v.get("bulge", 0.0)) for v in vertices)
    raise DrawingError(
        f"{entity.dxftype()} on {entity.dxf.layer} is tagged as an edge but is not closed"
    )


def _corners(ring: Ring) -> list[tuple[float, float]]:
    return [(x, y) for x, y, _ in ring]


def _polygon(items: Iterable[_Found]) -> Polygon:
    """Return the polygon of rings; ring 0 is the outer one."""
    rings = {int(item.tag.get("ring", "0")): _corners(item.ring) for item in items}
    return Polygon(rings.pop(0), [rings[number] for number in sorted(rings)])


def _grouped(items: list[_Found], field: str) -> Iterator[list[_Found]]:
    groups: dict[str, list[_Found]] = defaultdict(list)
    for item in items:
        groups[item.tag.get(field)].append(item)
    yield from groups.values()


def _cuts(items: list[_Found]) -> Iterator[CutRecord]:
    for group in _grouped(items, "label"):
        tag = group[0].tag
        yield CutRecord(
            tag.get("label"),
            tag.get("part"),
            int(tag.get("copy")),
            tag.get("turned_over") == "yes",
            _polygon(group),
        )


def _keep_outs(items: list[_Found]) -> Iterator[KeepOut]:
    for group in sorted(_grouped(items, "index"), key=lambda g: int(g[0].tag.get("index"))):
        yield _keep_out(group)


def _keep_out(group: list[_Found]) -> KeepOut:
    first = group[0]
    kind = KeepOutKind(first.tag.get("kind"))
    depth = first.tag.get("depth_mm")
    if first.circle:
        x, y, radius = first.circle
        made = circle(kind, x, y, 2 * radius)
    elif any(bulge for _, _, bulge in first.ring):
        made = _slot(kind, first.ring)
    else:
        polygon = _polygon(group)
        made = replace(region(kind, _corners(first.ring)), core=polygon)
    return replace(made, depth_mm=float(depth) if depth else None, source="cut sheet")


def _slot(kind: KeepOutKind, ring: Ring) -> KeepOut:
    """Return the slot whose long sides start at corners 1 and 3 and end in half circles."""
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = _corners(ring)
    width = ((dx - ax) ** 2 + (dy - ay) ** 2) ** 0.5
    start, end = ((ax + dx) / 2, (ay + dy) / 2), ((bx + cx) / 2, (by + cy) / 2)
    return slot(kind, start, end, width)


def _numbered(items: list[_Found]) -> Iterator[list[_Found]]:
    """Yield the entities of each numbered thing, in the order of their numbers."""
    yield from sorted(_grouped(items, "number"), key=lambda g: int(g[0].tag.get("number")))


def _bungs(items: list[_Found]) -> Iterator[Bung]:
    for item in sorted(items, key=lambda item: int(item.tag.get("number"))):
        assert item.circle is not None
        x, y, radius = item.circle
        yield Bung(x, y, 2 * radius, item.tag.get("part"))
