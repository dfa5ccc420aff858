"""Curves out of an SVG, flattened, in mm, y upward: paths, and all basic shapes.

A layer is the name of the nearest group that has one (its label or id); the names of other groups
about it, of the element itself and its classes count as layers too.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from nesting.dxf_file.curves import FARTHEST_MM, MOST_CURVES, Curves
from nesting.dxf_file.entities import BrokenError
from nesting.dxf_file.flat import SAGITTA_MM
from nesting.dxf_file.rings import Curve
from nesting.dxf_file.svg_path import Line, path_lines
from nesting.dxf_file.svg_tree import LABEL, LINK, Element, read_tree
from nesting.dxf_file.unread import Unread
from nesting.errors import DrawingError
from nesting.units import Unit
from nesting.unseen import quoted

Matrix = NDArray[np.float64]

MM = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6, "q": 0.25}
"""Absolute units (W3C, "CSS Values and Units Module Level 4", section 6.2)."""

PIXELS_AN_INCH = 96.0
"""The same section: 1in is 96px."""

LENGTH = re.compile(
    r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(px|mm|cm|in|pt|pc|Q|q|%|em|ex)?\s*"
)
CALL = re.compile(
    r"\s*,?\s*(matrix|translate|scale|rotate|skewX|skewY)\s*\(([^()]*)\)\s*", re.ASCII
)

DEEPEST_USE = 12
GROUPS = {"g", "svg", "a", "switch"}
NOT_DRAWN = {
    "defs", "symbol", "clipPath", "mask", "pattern", "marker", "linearGradient", "radialGradient",
    "filter", "style", "script", "metadata", "title", "desc", "view", "animate", "animateTransform",
    "set", "font", "cursor",
}  # fmt: skip
WORDS = {"text", "image", "foreignObject", "video", "audio", "canvas", "iframe"}


@dataclass(frozen=True)
class _Where:
    """How an element lies in the drawing, and by what names it goes."""

    matrix: Matrix
    layer: str
    layers: tuple[str, ...]
    uses: int = 0


@dataclass
class _Found:
    path: Path
    ids: dict[str, Element]
    curves: list[Curve] = field(default_factory=list)
    unread: list[Unread] = field(default_factory=list)


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
    ids = {
        element.attributes["id"]: element for element in top.walk() if "id" in element.attributes
    }
    found = _Found(path, ids)
    flip = np.array([[times, 0, 0], [0, -times, 0], [0, 0, 1.0]])
    where = _Where(flip, "drawing", ())
    _inside(top, where, found)
    # Without a unit of its own a number is a millimetre here: it has been made one.
    return Curves(tuple(found.curves), (), tuple(found.unread), unit or Unit.MM, unit is None)


def _mm_a_unit(top: Element, path: Path, unit: Unit | None) -> float:
    """Return mm in a unit of the outermost element's inside."""
    if unit is not None:
        return unit.mm
    sizes = []
    try:
        box = _numbers(top.get("viewBox"))
    except BrokenError as error:
        raise DrawingError(f"{path}:{top.line}: its viewBox {error}") from error
    if box and len(box) != 4:
        raise DrawingError(f"{path}:{top.line}: its viewBox has {len(box)} numbers, 4 are needed")
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
    if max(sizes) > 1.001 * min(sizes) and top.get("preserveAspectRatio").strip() == "none":
        raise DrawingError(f"{path}:{top.line}: is stretched one way; save it with one scale")
    return min(sizes)


def _inside(element: Element, where: _Where, found: _Found) -> None:
    for child in element.children:
        _element(child, where, found)


def _element(element: Element, where: _Where, found: _Found) -> None:
    name = element.name
    if name in NOT_DRAWN or ":" in name or element.get("display") == "none":
        return
    at = f"{found.path}:{element.line}"
    try:
        where = _named(
            element, replace(where, matrix=where.matrix @ _transform(element)), name in GROUPS
        )
        if name in GROUPS:
            _inside(element, _nested(element, where) if name == "svg" else where, found)
        elif name == "use":
            _use(element, where, found)
        elif name in WORDS:
            place = _moved(
                np.array([[_length(element, "x"), _length(element, "y")]]), where.matrix
            )[0]
            found.unread.append(
                Unread(
                    f"{name} (line {element.line})",
                    _all(where),
                    tuple(place.tolist()),
                    "is no outline",
                    False,
                )
            )
        else:
            _shape(element, where, found)
    except BrokenError as error:
        raise DrawingError(f"{at}: a {name} {error}") from error


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
    shift = _matrix(1, 0, 0, 1, _length(element, "x"), _length(element, "y"))
    box = _numbers(element.get("viewBox"))
    wide, high = _length(element, "width"), _length(element, "height")
    if len(box) == 4 and wide > 0 and high > 0 and box[2] > 0 and box[3] > 0:
        if not math.isclose(wide / box[2], high / box[3], rel_tol=1e-3):
            raise BrokenError("is in a box of another shape than its own; save it plain")
        times = wide / box[2]
        shift = shift @ _matrix(times, 0, 0, times, -box[0] * times, -box[1] * times)
    return replace(where, matrix=where.matrix @ shift)


def _use(element: Element, where: _Where, found: _Found) -> None:
    link = element.attributes.get("href", element.attributes.get(LINK, ""))
    target = found.ids.get(link[1:]) if link.startswith("#") else None
    if target is None:
        raise BrokenError(f"shows {quoted(link)}, which is not in this file")
    if where.uses >= DEEPEST_USE:
        raise BrokenError("shows what shows it: it has no end")
    shift = _matrix(1, 0, 0, 1, _length(element, "x"), _length(element, "y"))
    moved = replace(where, matrix=where.matrix @ shift, uses=where.uses + 1)
    if target.name == "symbol":
        if target.get("viewBox"):
            raise BrokenError("shows a symbol with a box of its own; save it with paths alone")
        _inside(target, _named(target, moved, True), found)
    else:
        _element(target, moved, found)


def _shape(element: Element, where: _Where, found: _Found) -> None:
    scale = float(np.sqrt(abs(np.linalg.det(where.matrix[:2, :2]))))
    if not math.isfinite(scale) or scale < 1e-9:
        raise BrokenError("is drawn at a scale of nothing")
    lines = _lines(element, SAGITTA_MM / max(scale, float(np.abs(where.matrix[:2, :2]).max())))
    if lines is None:
        found.unread.append(
            Unread(
                f"{element.name} (line {element.line})",
                _all(where),
                None,
                "is of a kind not known here",
                True,
            )
        )
        return
    for line in lines:
        points = _moved(np.array([(p.real, p.imag) for p in line.points]), where.matrix)
        if not np.isfinite(points).all() or np.abs(points).max() > FARTHEST_MM:
            raise BrokenError("lies farther off than any shop draws")
        if len(found.curves) >= MOST_CURVES:
            raise BrokenError(f"is one more than the {MOST_CURVES:,} curves that are read")
        found.curves.append(_curve(element, line, points, where))


def _curve(element: Element, line: Line, points: Matrix, where: _Where) -> Curve:
    keep = np.concatenate([[True], np.any(np.diff(points, axis=0) != 0, axis=1)])
    points = points[keep]
    if line.is_closed and len(points) > 1 and np.array_equal(points[0], points[-1]):
        points = points[:-1]
    if not line.is_closed and len(points) > 3 and np.array_equal(points[0], points[-1]):
        points, line = points[:-1], Line(line.points, True)
    name = f"{element.name} (line {element.line})"
    circle = _circle(element, where.matrix) if element.name in ("circle", "ellipse") else None
    is_closed = line.is_closed and len(points) > 2
    return Curve(points, where.layer, is_closed, circle, _all(where), name=name)


def _circle(element: Element, matrix: Matrix) -> tuple[float, float, float] | None:
    """Return middle and diameter, mm, of what is a true circle where it lies."""
    one, other = matrix[:2, 0], matrix[:2, 1]
    rx = _length(element, "r") or _length(element, "rx")
    ry = _length(element, "r") or _length(element, "ry")
    long, wide = float(np.hypot(*one)) * rx, float(np.hypot(*other)) * ry
    if not math.isclose(long, wide, rel_tol=1e-6) or abs(one @ other) > 1e-6 * np.hypot(
        *one
    ) * np.hypot(*other):
        return None
    x, y = _moved(np.array([[_length(element, "cx"), _length(element, "cy")]]), matrix)[0]
    return float(x), float(y), 2 * long


def _lines(element: Element, within: float) -> list[Line] | None:
    """Return the lines that an element draws, in its own units; None for a kind not known."""
    name = element.name
    if name == "path":
        return path_lines(element.get("d"), within)
    if name in ("polyline", "polygon"):
        flat = _numbers(element.get("points"))
        if len(flat) % 2:
            raise BrokenError("has an odd number of figures in its points")
        points = [complex(x, y) for x, y in zip(flat[::2], flat[1::2], strict=True)]
        return [Line(points, name == "polygon")] if len(points) > 1 else []
    if name == "line":
        ends = [complex(_length(element, f"x{i}"), _length(element, f"y{i}")) for i in (1, 2)]
        return [Line(ends)]
    if name == "rect":
        return _rect(element, within)
    if name in ("circle", "ellipse"):
        rx = _length(element, "r") or _length(element, "rx")
        ry = _length(element, "r") or _length(element, "ry")
        return _ellipse(_length(element, "cx"), _length(element, "cy"), rx, ry, within)
    return None


def _rect(element: Element, within: float) -> list[Line]:
    x, y = _length(element, "x"), _length(element, "y")
    wide, high = _length(element, "width"), _length(element, "height")
    if wide < 0 or high < 0:
        raise BrokenError("has a side of less than nothing")
    if not wide or not high:
        return []
    given = [
        _length(element, key) if element.get(key) not in ("", "auto") else None
        for key in ("rx", "ry")
    ]
    rx, ry = (own if own is not None else other or 0.0 for own, other in (given, given[::-1]))
    rx, ry = min(abs(rx), wide / 2), min(abs(ry), high / 2)
    if not rx or not ry:
        return path_lines(f"M{x!r} {y!r}h{wide!r}v{high!r}h{-wide!r}z", within)
    corner = f"a{rx!r} {ry!r} 0 0 1 "
    return path_lines(
        f"M{x + rx!r} {y!r}h{wide - 2 * rx!r}{corner}{rx!r} {ry!r}"
        f"v{high - 2 * ry!r}{corner}{-rx!r} {ry!r}"
        f"h{2 * rx - wide!r}{corner}{-rx!r} {-ry!r}v{2 * ry - high!r}{corner}{rx!r} {-ry!r}z",
        within,
    )


def _ellipse(x: float, y: float, rx: float, ry: float, within: float) -> list[Line]:
    if rx <= 0 or ry <= 0:
        return []
    arc = f"A{rx!r} {ry!r} 0 0 1 "
    return path_lines(f"M{x + rx!r} {y!r}{arc}{x - rx!r} {y!r}{arc}{x + rx!r} {y!r}z", within)


def _length(element: Element, key: str) -> float:
    """Return a length in user units; 0 where none is given."""
    text = element.get(key)
    if not text:
        return 0.0
    match = LENGTH.fullmatch(text)
    unit = (match[2] or "px").casefold() if match else ""
    if match is None or unit in ("%", "em", "ex") or not math.isfinite(float(match[1])):
        raise BrokenError(
            f"has {key} {quoted(text)}, which is no length here; save it with plain numbers"
        )
    return float(match[1]) * (1.0 if unit == "px" else MM[unit] / 25.4 * PIXELS_AN_INCH)


def _numbers(text: str) -> list[float]:
    words = [word for word in re.split(r"[\s,]+", text.strip()) if word]
    try:
        found = [float(word) for word in words]
    except ValueError:
        tried = re.findall(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?", text)
        if re.sub(r"[\s,]", "", text) != "".join(tried):
            raise BrokenError(f"has {quoted(text[:40])} where numbers should be") from None
        found = [float(word) for word in tried]
    if not all(map(math.isfinite, found)):
        raise BrokenError("has a number that is none")
    return found


def _matrix(a: float, b: float, c: float, d: float, e: float, f: float) -> Matrix:
    return np.array([[a, c, e], [b, d, f], [0, 0, 1.0]])


def _transform(element: Element) -> Matrix:
    """Return what an element's transform does (SVG 2, chapter 8; CSS Transforms 1, section 12)."""
    text, made, at = element.get("transform"), np.eye(3), 0
    if text.strip() in ("", "none"):
        return made
    while at < len(text):
        match = CALL.match(text, at)
        if match is None:
            raise BrokenError(f"has a transform that cannot be read at {text[at : at + 20]!r}")
        made = made @ _called(match[1], _numbers(match[2]))
        at = match.end()
    return made


ARGUMENTS = {
    "matrix": (6,),
    "translate": (1, 2),
    "scale": (1, 2),
    "rotate": (1, 3),
    "skewX": (1,),
    "skewY": (1,),
}


def _called(name: str, f: list[float]) -> Matrix:
    if len(f) not in ARGUMENTS[name]:
        raise BrokenError(f"has a {name}() of {len(f)} numbers")
    if name == "matrix":
        return _matrix(*f)
    if name == "translate":
        return _matrix(1, 0, 0, 1, f[0], f[1] if len(f) > 1 else 0.0)
    if name == "scale":
        return _matrix(f[0], 0, 0, f[-1], 0, 0)
    turn = math.radians(f[0])
    if name == "skewX":
        return _matrix(1, 0, math.tan(turn), 1, 0, 0)
    if name == "skewY":
        return _matrix(1, math.tan(turn), 0, 1, 0, 0)
    spin = _matrix(math.cos(turn), math.sin(turn), -math.sin(turn), math.cos(turn), 0, 0)
    if len(f) == 1:
        return spin
    return _matrix(1, 0, 0, 1, f[1], f[2]) @ spin @ _matrix(1, 0, 0, 1, -f[1], -f[2])


def _moved(points: Matrix, matrix: Matrix) -> Matrix:
    made: Matrix = points @ matrix[:2, :2].T + matrix[:2, 2]
    return made
