"""Curves out of an SVG, flattened, in mm, y upward: paths, and all basic shapes.

A layer is the name of the nearest group that has one (its label or id); the names of other groups
about it, of the element itself and its classes count as layers too. What is hidden is told as
unread: a nail on a layer that somebody turned off is in the wood all the same.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from nesting.dxf_file.curves import FARTHEST_MM, MOST_CURVES, Curves, PointsCounted
from nesting.dxf_file.entities import BrokenError
from nesting.dxf_file.flat import SAGITTA_MM
from nesting.dxf_file.rings import Curve
from nesting.dxf_file.svg_elements import (
    LENGTH,
    MM,
    PIXELS_AN_INCH,
    Matrix,
    length,
    lines_of,
    matrix_of,
    moved,
    numbers_in,
    radii,
    require_read,
    transform_of,
)
from nesting.dxf_file.svg_path import Line
from nesting.dxf_file.svg_tree import LABEL, LINK, MOST_ELEMENTS, Element, read_tree
from nesting.dxf_file.unread import Unread
from nesting.errors import DrawingError
from nesting.units import Unit
from nesting.unseen import quoted

DEEPEST_USE = 12
GROUPS = {"g", "svg", "a", "switch"}
NOT_DRAWN = {
    "defs", "symbol", "clipPath", "mask", "pattern", "marker", "linearGradient", "radialGradient",
    "filter", "style", "script", "metadata", "title", "desc", "view", "animate", "animateTransform",
    "set", "font", "cursor",
}  # fmt: skip
WORDS = {"text", "image", "foreignObject", "video", "audio", "canvas", "iframe"}

CUT_MM = 0.01
"""A clip path that leaves out no more of what it clips leaves out nothing."""


@dataclass(frozen=True)
class _Where:
    """How an element lies in the drawing, by what names it goes, and whether it is hidden."""

    matrix: Matrix
    layer: str
    layers: tuple[str, ...]
    uses: int = 0
    is_hidden: bool = False


@dataclass
class _Found:
    path: Path
    ids: dict[str, Element]
    twice: frozenset[str]
    curves: list[Curve] = field(default_factory=list)
    unread: list[Unread] = field(default_factory=list)
    elements: int = 0
    """Drawn or shown so far, each as often as it is shown."""
    points: PointsCounted = field(default_factory=PointsCounted)


def read_svg(path: Path, *, unit: Unit | None) -> Curves:
    """Read the curves of an SVG.

    Parameters
    ----------
    unit
        What one unit of the drawing is, in place of the size that it states.

    Raises
    ------
    DrawingError
        If the file is no SVG, states no size and no unit is given, or holds what is no shape.
    """
    top = read_tree(path)
    times = _mm_a_unit(top, path, unit)
    named = [element for element in top.walk() if "id" in element.attributes]
    counts = Counter(element.attributes["id"] for element in named)
    found = _Found(
        path,
        {element.attributes["id"]: element for element in named},
        frozenset(name for name, count in counts.items() if count > 1),
    )
    flip = np.array([[times, 0, 0], [0, -times, 0], [0, 0, 1.0]])
    where = _Where(flip, "drawing", (), is_hidden=_is_hidden(top))
    # Figures past all numbers are refused by the shape that they move.
    with np.errstate(over="ignore", invalid="ignore"):
        _inside(top, where, found)
    # Without a unit of its own a number is a millimetre here: it has been made one.
    return Curves(tuple(found.curves), (), tuple(found.unread), unit or Unit.MM, unit is None)


def _mm_a_unit(top: Element, path: Path, unit: Unit | None) -> float:
    """Return mm in a unit of the outermost element's inside."""
    if top.get("transform").strip() not in ("", "none"):
        raise DrawingError(f"{path}:{top.line}: is turned or scaled as a whole; save it plain")
    if unit is not None:
        return unit.mm
    try:
        box = numbers_in(top.get("viewBox"))
    except BrokenError as error:
        raise DrawingError(f"{path}:{top.line}: its viewBox {error}") from error
    if box and len(box) != 4:
        raise DrawingError(f"{path}:{top.line}: its viewBox has {len(box)} numbers, 4 are needed")
    sizes = []
    for place, side in ((2, "width"), (3, "height")):
        match = LENGTH.fullmatch(top.get(side))
        if match and (match[2] or "").casefold() in MM:
            mm = float(match[1]) * MM[match[2].casefold()]
            wide = box[place] if len(box) == 4 else mm / 25.4 * PIXELS_AN_INCH
            if not 0 < wide < 1e12 or not 0 < mm < FARTHEST_MM:
                raise DrawingError(f"{path}:{top.line}: its {side} or viewBox is no size")
            sizes.append(mm / wide)
    if not sizes:
        raise DrawingError(
            f"{path}: states no size in millimetres or inches; say what one unit of it is with "
            "unit:, or save it with width and height in millimetres"
        )
    fitted = top.get("preserveAspectRatio").split()
    if max(sizes) > 1.001 * min(sizes) and ("none" in fitted or "slice" in fitted):
        raise DrawingError(
            f"{path}:{top.line}: its box is stretched or cut to another shape; save it with one "
            "scale"
        )
    return min(sizes)


def _inside(element: Element, where: _Where, found: _Found) -> None:
    for child in element.children:
        _element(child, where, found)


def _element(element: Element, where: _Where, found: _Found) -> None:
    name = element.name
    if name in NOT_DRAWN or ":" in name:
        return
    found.elements += 1
    if found.elements > MOST_ELEMENTS:
        raise DrawingError(f"{found.path}: shows more than {MOST_ELEMENTS:,} elements")
    try:
        require_read(element)
        where = replace(
            where,
            matrix=where.matrix @ transform_of(element),
            is_hidden=where.is_hidden or _is_hidden(element),
        )
        where = _named(element, where, name in GROUPS)
        before = len(found.curves)
        _drawn(element, where, found)
        _require_unclipped(element, where, found, before)
    except BrokenError as error:
        raise DrawingError(f"{found.path}:{element.line}: a {name} {error}") from error


def _is_hidden(element: Element) -> bool:
    return element.get("display") == "none"


def _drawn(element: Element, where: _Where, found: _Found) -> None:
    name = element.name
    if name in GROUPS:
        _inside(element, _nested(element, where) if name == "svg" else where, found)
    elif name == "use":
        _use(element, where, found)
    elif name in WORDS:
        at = moved(np.array([[length(element, "x"), length(element, "y")]]), where.matrix)[0]
        _note(element, where, found, "is no outline", at=at)
    else:
        _shape(element, where, found)


def _note(
    element: Element,
    where: _Where,
    found: _Found,
    why: str,
    *,
    at: Matrix | None = None,
    is_shape: bool = False,
) -> None:
    """Note something that is not read as a curve, and where it stands if that is known."""
    place = None if at is None else (float(at[0]), float(at[1]))
    name = f"{element.name} (line {element.line})"
    found.unread.append(Unread(name, _all(where), place, why, is_shape))


def _require_unclipped(element: Element, where: _Where, found: _Found, before: int) -> None:
    """Raise BrokenError if a clip path leaves out some of what an element draws."""
    given = element.get("clip-path")
    if given in ("", "none"):
        return
    clip = found.ids.get(given.removeprefix("url(#").removesuffix(")").strip("'\""))
    if clip is None or clip.name != "clipPath" or clip.get("clipPathUnits") == "objectBoundingBox":
        raise BrokenError(f"is clipped by {quoted(given)}, which is not read here; save it plain")
    seen = _Found(found.path, found.ids, found.twice)
    _inside(clip, replace(where, matrix=where.matrix @ transform_of(clip)), seen)
    shapes = [Polygon(curve.points) for curve in seen.curves if len(curve.points) > 2]
    whole = shapely.union_all([shapely.make_valid(shape) for shape in shapes]).buffer(CUT_MM)
    if not all(whole.covers(LineString(curve.points)) for curve in found.curves[before:]):
        raise BrokenError(
            f"is cut off by the clip path {quoted(given)}: save what is seen as plain paths"
        )


def _named(element: Element, where: _Where, is_group: bool) -> _Where:
    names = [element.attributes.get(LABEL, ""), element.attributes.get("id", "")]
    names += element.attributes.get("class", "").split()
    names = [name for name in names if name.strip()]
    layer = names[0] if is_group and names else where.layer
    return replace(where, layer=layer, layers=(*where.layers, *names))


def _all(where: _Where) -> tuple[str, ...]:
    return (where.layer, *where.layers)


def _nested(element: Element, where: _Where) -> _Where:
    """Return where the inside of an svg in an svg lies: at its x and y, its box made to fit."""
    shift = matrix_of(1, 0, 0, 1, length(element, "x"), length(element, "y"))
    box = numbers_in(element.get("viewBox"))
    if box:
        wide, high = length(element, "width"), length(element, "height")
        if len(box) != 4 or not (wide > 0 and high > 0 and box[2] > 0 and box[3] > 0):
            raise BrokenError("has a viewBox, and no width and height for it; save it plain")
        if not math.isclose(wide / box[2], high / box[3], rel_tol=1e-3):
            raise BrokenError("is in a box of another shape than its own; save it plain")
        times = wide / box[2]
        shift = shift @ matrix_of(times, 0, 0, times, -box[0] * times, -box[1] * times)
    return replace(where, matrix=where.matrix @ shift)


def _use(element: Element, where: _Where, found: _Found) -> None:
    link = element.attributes.get("href", element.attributes.get(LINK, ""))
    target = found.ids.get(link[1:]) if link.startswith("#") else None
    if target is None:
        raise BrokenError(f"shows {quoted(link)}, which is not in this file")
    if link[1:] in found.twice:
        raise BrokenError(f"shows {quoted(link)}, which is in this file twice")
    if where.uses >= DEEPEST_USE:
        raise BrokenError("shows what shows it: it has no end")
    shift = matrix_of(1, 0, 0, 1, length(element, "x"), length(element, "y"))
    shown = replace(where, matrix=where.matrix @ shift, uses=where.uses + 1)
    if target.name in ("symbol", "svg") and target.get("viewBox"):
        raise BrokenError("shows a symbol with a box of its own; save it with paths alone")
    if target.name == "symbol":
        _inside(target, _named(target, shown, True), found)
    else:
        _element(target, shown, found)


def _shape(element: Element, where: _Where, found: _Found) -> None:
    scale = float(np.sqrt(abs(np.linalg.det(where.matrix[:2, :2]))))
    if not math.isfinite(scale) or scale < 1e-9:
        raise BrokenError("is drawn at a scale of nothing")
    lines = lines_of(element, SAGITTA_MM / max(scale, float(np.abs(where.matrix[:2, :2]).max())))
    if lines is None:
        _note(element, where, found, "is of a kind not known here", is_shape=True)
    elif not lines:
        _note(element, where, found, "has no size")
    for line in lines or ():
        points = moved(np.array([(p.real, p.imag) for p in line.points]), where.matrix)
        if not np.isfinite(points).all() or np.abs(points).max() > FARTHEST_MM:
            raise BrokenError("lies farther off than any shop draws")
        if len(found.curves) >= MOST_CURVES:
            raise BrokenError(f"is one more than the {MOST_CURVES:,} curves that are read")
        found.points.add(len(points), found.path)
        _add(element, line, points, where, found)


def _add(element: Element, line: Line, points: Matrix, where: _Where, found: _Found) -> None:
    """Add a line as a curve, unless it is hidden or has no length."""
    keep = np.concatenate([[True], np.any(np.diff(points, axis=0) != 0, axis=1)])
    points = points[keep]
    if where.is_hidden or len(points) < 2:
        why = "is hidden (display: none)" if where.is_hidden else "has no length"
        _note(element, where, found, why, at=points[0])
        return
    ends_meet = np.array_equal(points[0], points[-1])
    is_closed = line.is_closed or (len(points) > 3 and ends_meet)
    if is_closed and ends_meet:
        points = points[:-1]
    name = f"{element.name} (line {element.line})"
    circle = _circle(element, where.matrix) if element.name in ("circle", "ellipse") else None
    is_ring = is_closed and len(points) > 2
    found.curves.append(Curve(points, where.layer, is_ring, circle, _all(where), name=name))


def _circle(element: Element, matrix: Matrix) -> tuple[float, float, float] | None:
    """Return middle and diameter, mm, of what is a true circle where it lies."""
    one, other = matrix[:2, 0], matrix[:2, 1]
    rx, ry = radii(element)
    long, wide = float(np.hypot(*one)) * rx, float(np.hypot(*other)) * ry
    if not math.isclose(long, wide, rel_tol=1e-6) or abs(one @ other) > 1e-6 * np.hypot(
        *one
    ) * np.hypot(*other):
        return None
    x, y = moved(np.array([[length(element, "cx"), length(element, "cy")]]), matrix)[0]
    return float(x), float(y), 2 * long
