"""Path data of an SVG as lines of points: every command of SVG 1.1 and 2.

Commands and their grammar: W3C, "Scalable Vector Graphics (SVG) 2", section 9.3; arcs by appendix
B.2 ("elliptical arc implementation notes"), ellipses too small for their ends made larger as it
says.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from nesting.dxf_file.entities import BrokenError

Points = NDArray[np.float64]

MOST_STEPS = 2_000
"""Chords of one curve."""

MOST_POINTS = 500_000
"""Points of one path: fifty times a part drawn with thousands of corners."""

COUNTS = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}
"""How many numbers each command takes."""

NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")
BLANK = re.compile(r"[\s,]*")


@dataclass
class Line:
    """Points drawn without lifting the pen, and whether they were closed."""

    points: list[complex]
    is_closed: bool = False


def path_lines(data: str, within: float) -> list[Line]:
    """Return the lines of path data, their chords ``within`` so many units of the curves.

    Raises
    ------
    BrokenError
        If the data is not path data; says what, and where in it.
    """
    pen = _Pen(within)
    for command, figures in _commands(data):
        pen.draw(command, figures)
    # A point that is closed is a dot; a pen that is only put down draws nothing.
    return [line for line in pen.lines if line.is_closed or len(line.points) > 1]


def _commands(data: str) -> Iterator[tuple[str, list[float]]]:
    """Yield each command with its numbers; what repeats without a letter too."""
    at, command = _blank(data, 0), ""
    while at < len(data):
        letter = data[at]
        if letter.upper() in COUNTS:
            command = letter
            at = _blank(data, at + 1)
            if not COUNTS[letter.upper()]:
                yield command, []
                command = ""
                continue
        elif not command:
            raise BrokenError(f"has path data that cannot be read at {data[at : at + 12]!r}")
        figures, at = _figures(data, at, command)
        yield command, figures
        command = {"M": "L", "m": "l"}.get(command, command)


def _figures(data: str, at: int, command: str) -> tuple[list[float], int]:
    found = list[float]()
    for place in range(COUNTS[command.upper()]):
        if command in "Aa" and place in (3, 4):  # flags may stand without a space
            flag = data[at : at + 1]
            if flag not in ("0", "1"):
                raise BrokenError(f"has an arc whose flag is {flag!r}, 0 or 1 is allowed")
            found.append(float(flag))
            at = _blank(data, at + 1)
            continue
        number = NUMBER.match(data, at)
        if number is None:
            raise BrokenError(
                f"has path data in which {command} takes {COUNTS[command.upper()]} numbers, and "
                f"{data[at : at + 12]!r} is none"
            )
        value = float(number.group())
        if not math.isfinite(value):
            raise BrokenError(f"has a number that is none: {number.group()[:20]}")
        found.append(value)
        at = _blank(data, number.end())
    return found, at


def _blank(data: str, at: int) -> int:
    found = BLANK.match(data, at)
    return found.end() if found else at


@dataclass
class _Pen:
    """Where the pen is, and what it has drawn."""

    within: float
    lines: list[Line] = field(default_factory=list)
    at: complex = 0j
    start: complex = 0j
    handle: complex | None = None
    was: str = ""
    count: int = 0

    def draw(self, command: str, f: list[float]) -> None:
        base = self.at if command.islower() else 0j
        kind = command.upper()
        if kind != "M" and not self.lines:
            raise BrokenError("has path data that does not begin with M")
        if kind == "M":
            self.at = self.start = base + complex(*f)
            self.lines.append(Line([self.at]))
        elif kind == "Z":
            self._close()
        else:
            self._go(kind, base, f)
        if kind not in "CSQT":
            self.handle = None
        self.was = kind

    def _close(self) -> None:
        line = self._line()
        line.is_closed = True
        self.at = self.start

    def _line(self) -> Line:
        """Return the line that is drawn on; a new one after one that was closed."""
        if self.lines[-1].is_closed:
            self.lines.append(Line([self.at]))
        return self.lines[-1]

    def _go(self, kind: str, base: complex, f: list[float]) -> None:
        line = self._line()
        before = len(line.points)
        if kind in "LHV":
            line.points.append(self._straight_to(kind, base, f))
        elif kind == "A":
            end = base + complex(f[5], f[6])
            line.points += arc_points(self.at, end, f[:5], self.within)
        else:
            line.points += self._curve(
                kind, [base + complex(*f[i : i + 2]) for i in range(0, len(f), 2)]
            )
        self.at = line.points[-1]
        self.count += len(line.points) - before
        if self.count > MOST_POINTS:
            raise BrokenError(f"has more than {MOST_POINTS:,} points; save it plainer")

    def _straight_to(self, kind: str, base: complex, f: list[float]) -> complex:
        if kind == "H":
            return complex(base.real + f[0], self.at.imag)
        if kind == "V":
            return complex(self.at.real, base.imag + f[0])
        return base + complex(*f)

    def _curve(self, kind: str, given: list[complex]) -> list[complex]:
        smooth = {"S": "CS", "T": "QT"}.get(kind)
        if smooth:
            mirrored = (
                2 * self.at - self.handle
                if self.handle is not None and self.was in smooth
                else self.at
            )
            given = [mirrored, *given]
        self.handle = given[-2]
        return bezier_points([self.at, *given], self.within)


def bezier_points(control: list[complex], within: float) -> list[complex]:
    """Return points of a Bezier curve after its first, the chords so near to it."""
    p = np.array(control)
    degree = len(p) - 1
    # The chord of a step h is off by at most h^2/8 of the second derivative.
    bend = float(np.max(np.abs(np.diff(p, 2)))) * degree * (degree - 1)
    steps = _steps(math.sqrt(bend / (8 * within)))
    t = np.linspace(0, 1, steps + 1)[1:]
    rows = np.repeat(p[:, None], len(t), axis=1)
    while len(rows) > 1:
        rows = rows[:-1] * (1 - t) + rows[1:] * t
    found: list[complex] = rows[0].tolist()
    found[-1] = control[-1]
    return found


def arc_points(start: complex, end: complex, f: list[float], within: float) -> list[complex]:
    """Return points of an elliptical arc after its start (rx, ry, turn, large, sweep)."""
    rx, ry, turn = abs(f[0]), abs(f[1]), math.radians(f[2])
    if start == end:
        return [end]
    if rx == 0 or ry == 0:
        return [end]
    spin = complex(math.cos(turn), math.sin(turn))
    half = (start - end) / 2 / spin
    x, y = half.real / rx, half.imag / ry
    grown = math.hypot(x, y)
    if grown > 1:
        rx, ry, x, y = rx * grown, ry * grown, x / grown, y / grown
    square = x * x + y * y
    side = -1 if bool(f[3]) == bool(f[4]) else 1
    off = side * math.sqrt(max(0.0, (1 - square) / square))
    middle = complex(off * y, -off * x)
    first, last = complex(x, y) - middle, complex(-x, -y) - middle
    begin = math.atan2(first.imag, first.real)
    sweep = math.atan2(last.imag, last.real) - begin
    if f[4] and sweep < 0:
        sweep += 2 * math.pi
    elif not f[4] and sweep > 0:
        sweep -= 2 * math.pi
    steps = _steps(abs(sweep) * math.sqrt(max(rx, ry) / (8 * within)))
    angles = begin + sweep * np.linspace(0, 1, steps + 1)[1:]
    along, across = np.cos(angles) + middle.real, np.sin(angles) + middle.imag
    points = (rx * along + 1j * ry * across) * spin + (start + end) / 2
    found: list[complex] = points.tolist()
    found[-1] = end
    return found


def _steps(wanted: float) -> int:
    return max(1, min(MOST_STEPS, math.ceil(wanted))) if math.isfinite(wanted) else MOST_STEPS
