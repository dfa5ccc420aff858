"""What one element of an SVG says: its lengths, its transform, and a basic shape as lines."""

from __future__ import annotations

import math
import re

import numpy as np
from numpy.typing import NDArray

from nesting.dxf_file.entities import BrokenError
from nesting.dxf_file.svg_path import NUMBER, Line, path_lines
from nesting.dxf_file.svg_tree import Element
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

NOT_READ = {
    "transform-origin": (),
    "transform-box": (),
    "mask": ("none",),
    "rotate": ("none",),
    "scale": ("none", "1"),
    "translate": ("none",),
    "offset-path": ("none",),
    "zoom": ("1", "normal"),
}
"""Properties that move or cut what is drawn and are not reckoned with here, each with the values
that do nothing (W3C, "CSS Transforms Module Level 2", "CSS Masking Module Level 1", from memory).
"""

OF_STYLE_ALONE = {"rotate", "scale", "translate", "offset-path", "zoom"}
"""Of these what means something as a property; an attribute of that name means something else."""


def require_read(element: Element) -> None:
    """Raise BrokenError if an element is moved or cut in a way that is not reckoned with here."""
    for name, harmless in NOT_READ.items():
        given = element.style(name) if name in OF_STYLE_ALONE else element.get(name)
        if given and given not in harmless:
            raise BrokenError(
                f"has {name} {quoted(given)}, which is not read here; save the drawing with plain "
                "paths"
            )


def lines_of(element: Element, within: float) -> list[Line] | None:
    """Return the lines that an element draws, in its own units; None for a kind not known."""
    name = element.name
    if name == "path":
        return path_lines(element.get("d"), within)
    if name in ("polyline", "polygon"):
        flat = numbers_in(element.get("points"))
        if len(flat) % 2:
            raise BrokenError("has an odd number of figures in its points")
        points = [complex(x, y) for x, y in zip(flat[::2], flat[1::2], strict=True)]
        return [Line(points, name == "polygon")] if points else []
    if name == "line":
        ends = [complex(length(element, f"x{i}"), length(element, f"y{i}")) for i in (1, 2)]
        return [Line(ends)]
    if name == "rect":
        return _rect(element, within)
    if name in ("circle", "ellipse"):
        return _ellipse(length(element, "cx"), length(element, "cy"), *radii(element), within)
    return None


def radii(element: Element) -> tuple[float, float]:
    """Return the half axes of a circle or an ellipse; one that is not given is as the other."""
    if element.name == "circle":
        return length(element, "r"), length(element, "r")
    rx, ry = (_own(element, key) for key in ("rx", "ry"))
    return rx if rx is not None else ry or 0.0, ry if ry is not None else rx or 0.0


def _own(element: Element, key: str) -> float | None:
    """Return a length, None where the element leaves it to another."""
    return None if element.get(key) in ("", "auto") else length(element, key)


def _rect(element: Element, within: float) -> list[Line]:
    x, y = length(element, "x"), length(element, "y")
    wide, high = length(element, "width"), length(element, "height")
    if wide < 0 or high < 0:
        raise BrokenError("has a side of less than nothing")
    if not wide or not high:
        return []
    given = [_own(element, key) for key in ("rx", "ry")]
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


def length(element: Element, key: str) -> float:
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


def numbers_in(text: str) -> list[float]:
    """Return the numbers of a list; blanks and commas may be left out where a sign parts them."""
    words = NUMBER.findall(text)
    if re.sub(r"[\s,]", "", text) != "".join(words):
        raise BrokenError(f"has {quoted(text[:40])} where numbers should be")
    found = [float(word) for word in words]
    if not all(map(math.isfinite, found)):
        raise BrokenError("has a number that is none")
    return found


def matrix_of(a: float, b: float, c: float, d: float, e: float, f: float) -> Matrix:
    """Return a transform as a matrix of points (x, y, 1)."""
    return np.array([[a, c, e], [b, d, f], [0, 0, 1.0]])


def transform_of(element: Element) -> Matrix:
    """Return what an element's transform does (SVG 2, chapter 8; CSS Transforms 1, section 12)."""
    text, made, at = element.get("transform"), np.eye(3), 0
    if text.strip() in ("", "none"):
        return made
    while at < len(text):
        match = CALL.match(text, at)
        if match is None:
            raise BrokenError(f"has a transform that cannot be read at {text[at : at + 20]!r}")
        made = made @ _called(match[1], numbers_in(match[2]))
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
        return matrix_of(*f)
    if name == "translate":
        return matrix_of(1, 0, 0, 1, f[0], f[1] if len(f) > 1 else 0.0)
    if name == "scale":
        return matrix_of(f[0], 0, 0, f[-1], 0, 0)
    turn = math.radians(f[0])
    if name == "skewX":
        return matrix_of(1, 0, math.tan(turn), 1, 0, 0)
    if name == "skewY":
        return matrix_of(1, math.tan(turn), 0, 1, 0, 0)
    spin = matrix_of(math.cos(turn), math.sin(turn), -math.sin(turn), math.cos(turn), 0, 0)
    if len(f) == 1:
        return spin
    return matrix_of(1, 0, 0, 1, f[1], f[2]) @ spin @ matrix_of(1, 0, 0, 1, -f[1], -f[2])


def moved(points: Matrix, matrix: Matrix) -> Matrix:
    """Return (n, 2) points where a transform puts them."""
    made: Matrix = points @ matrix[:2, :2].T + matrix[:2, 2]
    return made
