"""Reading a written cut sheet back into numbers, for the referee to compare with the plan.

Only what the saw and the drill follow, and what is kept, is read, from the geometry in the file
itself; the tags say no more than which line is which.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely.errors import ShapelyError
from shapely.geometry import Polygon

from nesting.break_down.cuts import BreakDownCut, CutKind
from nesting.errors import DrawingError
from nesting.flat_geometry.overlay import why_invalid
from nesting.nest import Bung
from nesting.sheets.board_tag import board_told, keep_out_told
from nesting.sheets.drawing import Role, Tag
from nesting.sheets.dxf_terms import LAYERS
from nesting.sheets.entities import OUT_OF_PLANE
from nesting.sheets.rings import Ring, is_slot, ring_places, ring_points, slot_of
from nesting.sheets.written import Drawn, Written, read_written
from nesting.stock.keep_out import KeepOut, KeepOutKind, circle, region

MARKED = {LAYERS[role] for role in (Role.SAW_OPENING, Role.SAW_OUTLINE, Role.BOARD, Role.OFFCUT)}
"""On these layers every line is one of the plan's, and says which."""


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

    ``told`` is what else it says of its board, by the names that a :class:`Board` has for it.
    ``units`` is the file's $INSUNITS: 4 for mm, and None in an R12 file, which has none.
    ``strays`` are lines that are none of the plan's, or do not lie as one: in words.
    ``written`` is all that the file holds, lettering, lists and signs too.
    """

    board_name: str
    thickness_mm: float
    told: Mapping[str, Any]
    outline: Polygon
    keep_outs: tuple[KeepOut, ...]
    cuts: tuple[CutRecord, ...]
    bungs: tuple[Bung, ...]
    offcuts: tuple[Polygon, ...]
    break_down: tuple[BreakDownCut, ...]
    units: int | None
    strays: tuple[str, ...]
    written: Written


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
    written = read_written(path)
    try:
        return _record(written, path)
    except (ValueError, TypeError, LookupError, ShapelyError) as error:
        if isinstance(error, DrawingError):
            raise
        raise DrawingError(f"{path} cannot be read as a cut sheet: {error}") from error


def _record(written: Written, path: Path | str) -> SheetRecord:
    found, strays = _sorted_out(written)
    groups: dict[str, list[_Found]] = defaultdict(list)
    for item in found:
        groups[item.tag.subject].append(item)
    if len(groups["board"]) != 1:
        raise DrawingError(
            f"{path} is no cut sheet of ours: it holds {len(groups['board'])} tagged board edges, "
            "must hold one; an overview or a drawing saved by another program has none"
        )
    board = groups["board"][0]
    has_units = str(written.header["$ACADVER"]) > "AC1009"
    return SheetRecord(
        board.tag.get("name"),
        float(board.tag.get("thickness_mm")),
        board_told(board.tag),
        Polygon(ring_points(board.ring)),
        tuple(_keep_outs(groups["keep-out"])),
        tuple(_cuts(groups["part"])),
        tuple(_bungs(groups["bung"])),
        tuple(_kept(group) for group in _numbered(groups["offcut"])),
        tuple(_break_down_cuts(groups["break-down cut"])),
        int(written.header.get("$INSUNITS", 0)) if has_units else None,
        strays,
        written,
    )


def _sorted_out(written: Written) -> tuple[list[_Found], tuple[str, ...]]:
    """Return what is tagged, and in words what is amiss with it or with what should be."""
    found, strays = list[_Found](), list[str]()
    for entity in written.drawn:
        item = _found(entity)
        if item is not None:
            found.append(item)
            strays += _astray(entity, item)
        elif entity.layer in MARKED:
            strays.append(f"a {entity.kind.upper()} on {entity.layer} is no line of the plan")
    times = Counter(item.tag for item in found)
    strays += [f"{_named(tag)} is drawn {count} times" for tag, count in times.items() if count > 1]
    unseen = {name for name, layer in written.layers.items() if layer.is_hidden}
    layers = {layer for item in found for layer in _layers_of(item.tag)}
    return found, (*strays, *(f"layer {name} is not seen" for name in sorted(unseen & layers)))


def _astray(entity: Drawn, item: _Found) -> Iterator[str]:
    """Yield what is wrong with where a tagged line lies: its layer, its plane."""
    wanted = _layers_of(item.tag)
    if entity.layer not in wanted:
        yield f"{_named(item.tag)} lies on {entity.layer}, must lie on {' or '.join(wanted)}"
    # A mirrored extrusion turns what the file says of x about: DXF reference, object coordinates.
    if any(odd.startswith(OUT_OF_PLANE) for odd in entity.odd):
        yield f"{_named(item.tag)} is turned out of the plane of the board"


def _layers_of(tag: Tag) -> tuple[str, ...]:
    """Return the layers on which a tagged line belongs."""
    if tag.subject == "part":
        return (LAYERS[Role.SAW_OUTLINE if tag.get("ring") == "0" else Role.SAW_OPENING],)
    if tag.subject == "keep-out":
        return (LAYERS[Role(tag.get("kind"))],)
    role = {
        "board": Role.BOARD,
        "bung": Role.BUNG,
        "offcut": Role.OFFCUT,
        "break-down cut": Role.BREAK_DOWN,
    }.get(tag.subject)
    return (LAYERS[role],) if role else ()


def _named(tag: Tag) -> str:
    return " ".join((tag.subject, *(value for _, value in tag.fields[:1])))


def _found(entity: Drawn) -> _Found | None:
    tag = entity.tag
    if tag is None or tag.subject == "plan":
        return None
    if entity.kind == "circle":
        x, y, radius = entity.numbers
        return _Found(tag, circle=(x, y, radius))
    if entity.kind == "polyline" and entity.words[0] == "closed":
        figures = entity.numbers
        return _Found(tag, tuple(zip(figures[::3], figures[1::3], figures[2::3], strict=True)))
    if entity.kind == "line" and tag.subject == "break-down cut":
        x, y, u, v = entity.numbers
        return _Found(tag, ((x, y, 0.0), (u, v, 0.0)))
    raise DrawingError(f"a {entity.kind} on {entity.layer} is tagged as an edge but is not closed")


def _kept(items: Sequence[_Found]) -> Polygon:
    """Return an offcut, which must not cross itself: what it covers is measured."""
    shape = _polygon(items)
    if not shape.is_valid:
        raise ValueError(f"the edge of {_named(items[0].tag)} is not usable: {why_invalid(shape)}")
    return shape


def _polygon(items: Iterable[_Found]) -> Polygon:
    """Return the polygon of rings; ring 0 is the outer one."""
    rings = dict[int, NDArray[np.float64]]()
    for item in items:
        rings.setdefault(int(item.tag.get("ring", "0")), ring_points(item.ring))  # not a copy of it
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
    if first.circle:
        x, y, radius = first.circle
        made = circle(kind, x, y, 2 * radius)
    elif is_slot(first.ring):
        made = slot_of(kind, first.ring)
    else:
        polygon = _polygon(group)
        made = replace(region(kind, ring_points(first.ring).tolist()), core=polygon)
    return replace(made, **keep_out_told(first.tag))


def _numbered(items: list[_Found]) -> Iterator[list[_Found]]:
    """Yield the entities of each numbered thing, in the order of their numbers."""
    yield from sorted(_grouped(items, "number"), key=lambda g: int(g[0].tag.get("number")))


def _break_down_cuts(items: list[_Found]) -> Iterator[BreakDownCut]:
    for item in sorted(items, key=lambda item: int(item.tag.get("number"))):
        start, end = ring_places(item.ring)
        stops = item.tag.get("stops").split()
        yield BreakDownCut(
            CutKind(item.tag.get("kind")),
            start,
            end,
            stops=("start" in stops, "end" in stops),
            by_hand="hand" in stops,
        )


def _bungs(items: list[_Found]) -> Iterator[Bung]:
    for item in sorted(items, key=lambda item: int(item.tag.get("number"))):
        if item.circle is None:
            raise DrawingError(f"{_named(item.tag)} is drawn as no circle")
        x, y, radius = item.circle
        yield Bung(x, y, 2 * radius, item.tag.get("part"))
