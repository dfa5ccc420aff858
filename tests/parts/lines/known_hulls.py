"""Hulls whose shape is known everywhere, by formulas of our own, and tables of offsets of them.

Each is one function of the place along the boat and of the way up a section, from the rabbet to
the sheer: half-breadth and height come of it exactly, normals by differences of a thousandth of a
millimetre. Tables take their figures from it, rounded as a builder writes them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from nesting.units import Unit
from parts.lines.notation import written_like
from parts.lines.table import (
    Line,
    LineKind,
    Measure,
    Offset,
    OffsetTable,
    Station,
    buttock,
    diagonal,
    measured,
    waterline,
)

FINE = np.linspace(0.0, 1.0, 4001)
"""Ways up a section at which it is looked up for a table."""


@dataclass(frozen=True)
class Known:
    """A hull by a formula.

    Attributes
    ----------
    at
        Half-breadth and height at places along the boat and ways up the section, 0 to 1.
    length
        She runs from 0 to here.
    stem, stern
        Where along the boat the table gives points of the rabbet beyond its stations, from the
        very end inward; none where she ends at a station.
    chines
        Ways up the section at which it is broken.
    """

    name: str
    at: Callable[[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray]]
    length: float
    stem: tuple[float, ...] = ()
    stern: tuple[float, ...] = ()
    chines: tuple[float, ...] = ()
    first: float = 0.08
    last: float = 0.92

    def section(self, x, shares=FINE):
        """Return a section, (n, 2)."""
        return np.column_stack(np.broadcast_arrays(*self.at(np.asarray(float(x)), shares)))

    def point(self, x, share):
        y, z = self.at(np.asarray(float(x)), np.asarray(float(share)))
        return np.array([x, float(y), float(z)])

    def normal(self, x, share):
        """Return the outward unit normal, (3,); beside an end or a break, of the inner side."""
        step, up = 1e-3, 1e-6
        x = np.clip(x, 2 * step, self.length - 2 * step)
        share = np.clip(share, 2 * up, 1 - 2 * up)
        along = self.point(x + step, share) - self.point(x - step, share)
        across = self.point(x, share + up) - self.point(x, share - up)
        normal = -np.cross(along, across)
        return normal / np.linalg.norm(normal)

    def stations(self, count):
        """Return where so many stations stand."""
        low = self.first if self.stem else 0.0
        high = self.last if self.stern else 1.0
        return np.linspace(low, high, count) * self.length


def along(x, length):
    """Return the place along a boat, -1 to 1."""
    return 2.0 * np.asarray(x) / length - 1.0


def _raised(low, high, half, form, rabbet=25.0):
    """Return a hull's function: heights straight up the section, its half-breadths by a form."""

    def at(x, share):
        z = low(x) + (high(x) - low(x)) * share
        return rabbet + (half(x) - rabbet) * form(share, x), z

    return at


def _round(low, high, half, power=2.0, rabbet=0.0):
    """Return the function of a hull whose sections are quarters of an ellipse of some power."""

    def at(x, share):
        turn = share * np.pi / 2
        y = np.sin(turn) ** (2 / power)
        z = 1 - np.cos(turn) ** (2 / power)
        return rabbet + (half(x) - rabbet) * y, low(x) + (high(x) - low(x)) * z

    return at


ENDS = (0.0, 60.0, 150.0, 300.0)


def _both(length, ends=ENDS):
    return {"stem": ends, "stern": tuple(length - x for x in reversed(ends))}


def double_ender(length=8000.0, half=1125.0, power=6):
    """Return a double-ender: the rabbet rises with a power of the way from amidships."""

    def low(x):
        return 250.0 + 1400.0 * np.abs(along(x, length)) ** power

    def high(x):
        return 1500.0 + 150.0 * along(x, length) ** 2

    def wide(x):
        return 25.0 + (half - 25.0) * (1 - along(x, length) ** 2)

    at = _raised(low, high, wide, lambda share, x: 1 - (1 - share) ** 2)
    return Known("double-ender", at, length, **_both(length))


def quartic(length=6000.0, half=800.0, power=4.0):
    """Return plumb closed ends, waterlines and sections by the fourth power."""
    at = _round(
        lambda x: 0.0 * x + 100.0,
        lambda x: 0.0 * x + 800.0,
        lambda x: half * (1 - along(x, length) ** power),
        power,
    )
    return Known("quartic ellipse", at, length)


def spheroid(length=6000.0, half=900.0, depth=700.0):
    """Return the lower half of an ellipsoid: every section a quarter ellipse."""

    def size(x):
        return np.sqrt(np.maximum(1 - along(x, length) ** 2, 0.0))

    at = _round(
        lambda x: 900.0 - depth * size(x), lambda x: 0 * x + 900.0, lambda x: half * size(x)
    )
    ends = (0.0, 20.0, 80.0, 200.0)
    return Known("spheroid", at, length, **_both(length, ends))


def raked_stem(length=7000.0, rake=900.0, half=1050.0):
    """Return a straight raked stem that meets a straight keel in a knuckle; an open transom."""
    top, foot = 1500.0, 300.0

    def low(x):
        return np.maximum(foot, top - (top - foot) * np.asarray(x) / rake) + 0.0 * x

    def at(x, share):
        z = low(x) + (top + 80.0 * (1 + along(x, length)) * np.asarray(x) / length - low(x)) * share
        h = np.clip((z - foot) / (top - foot), 0.0, 1.2)
        begun = rake * (1 - np.minimum(h, 1.0)) - 0.0
        part = np.clip((x - begun) / (length - begun), 0.0, 1.0)
        body = np.sin(0.72 * np.pi * part) * (1 - (1 - np.minimum(h, 1.2) / 1.25) ** 1.9)
        return 30.0 + half * body, z

    return Known("raked stem", at, length, stem=(0.0, 300.0, 600.0, rake), first=0.17)


def _sheer(x, length, least=1300.0, rise=300.0):
    return least + rise * (along(x, length) - 0.15) ** 2


def _keel(x, length, least=200.0, rise=1050.0):
    xi = along(x, length)
    return least + rise * np.where(xi < 0, xi**6, 0.45 * np.abs(xi) ** 3)


def _plan(x, length, half, stern=0.62):
    """Return half-breadths that close at the stem and end at a transom."""
    part = np.asarray(x) / length
    reach = np.pi - np.arcsin(stern)
    return half * np.sin(reach * part)


def _transom_boat(name, form, length=7000.0, half=1100.0, rabbet=25.0, **more):
    low, high = (lambda x: _keel(x, length)), (lambda x: _sheer(x, length))
    wide = lambda x: rabbet + _plan(x, length, half)  # noqa: E731
    head = float(high(0.0))

    def lifted(x):
        # The rabbet runs up to the sheer at the stem's head.
        return low(x) + (head - float(low(0.0))) * np.exp(-np.asarray(x) / 90.0)

    at = _raised(lifted, high, wide, form, rabbet)
    ends = (0.0, 40.0, 100.0, 180.0, 300.0)
    return Known(name, at, length, stem=ends, first=0.09, **more)


def wineglass(length=7000.0, half=1100.0):
    """Return hollow garboards amidships and aft, flaring at the bow."""

    def form(h, x):
        part = np.asarray(x) / length
        hollow = 0.85 * np.sin(np.pi / 2 * part) ** 2
        glass = h**2 * (3 - 2 * h)
        return hollow * glass + (1 - hollow) * (1 - (1 - h) ** 1.6)

    return _transom_boat("wineglass", form, length, half)


def v_bow(length=7000.0, half=1100.0, roundest=2.6):
    """Return V sections at the bow that grow round amidships."""

    def form(h, x):
        part = np.asarray(x) / length
        power = 1.05 + (roundest - 1.05) * np.sin(np.pi / 2 * np.minimum(part * 1.4, 1.0)) ** 2
        return 1 - (1 - h) ** power

    return _transom_boat("V bow", form, length, half)


def tumblehome(length=7000.0, half=1100.0, inward=0.66):
    """Return sides that draw in again below the sheer, most at the stern."""

    def form(h, x):
        part = np.asarray(x) / length
        reach = np.pi * (0.45 + (inward - 0.45) * np.sin(np.pi / 2 * part) ** 2)
        return np.sin(reach * h)

    return _transom_boat("tumblehome", form, length, half)


def full_round(length=6500.0, half=1000.0):
    """Return sections that are quarter ellipses, level at the rabbet."""
    low, high = (lambda x: 200.0 + 1150.0 * along(x, length) ** 6), (lambda x: 0 * x + 1350.0)
    at = _round(low, high, lambda x: 20 + half * (1 - along(x, length) ** 2), rabbet=20.0)
    return Known("full round", at, length, **_both(length))


def punt(length=4500.0, half=600.0):
    """Return a very shallow boat with rocker and square ends."""

    def low(x):
        return 150.0 * along(x, length) ** 4

    at = _round(
        low,
        lambda x: 260.0 + 70.0 * along(x, length) ** 2,
        lambda x: half - 170.0 * along(x, length) ** 2,
        3.0,
    )
    return Known("punt", at, length)


def plumb_ends(length=5500.0, half=750.0):
    """Return a level keel between plumb stems, V below and full above."""

    def form(h, x):
        return 1 - (1 - h) ** (1.4 + 1.2 * (1 - along(x, length) ** 2))

    at = _raised(
        lambda x: 0 * x,
        lambda x: 900 + 120 * along(x, length) ** 2,
        lambda x: 20 + half * (1 - np.abs(along(x, length)) ** 3),
        form,
        20.0,
    )
    return Known("plumb ends", at, length)


def counter(length=8000.0, half=1150.0):
    """Return a long counter: the rabbet rises aft in an easy hollow to a narrow transom."""

    def low(x):
        part = np.asarray(x) / length
        return (
            150.0
            + 1300.0 * np.exp(-np.asarray(x) / 160.0)
            + 900.0 * (1 / (1 + np.exp(-(part - 0.8) * 14)))
        )

    at = _raised(
        low,
        lambda x: _sheer(x, length, 1450.0, 260.0) + 0 * x,
        lambda x: 25 + _plan(x, length, half, 0.45),
        lambda h, x: 1 - (1 - h) ** 2.2,
    )
    ends = (0.0, 60.0, 150.0, 280.0, 450.0)
    # The rabbet's head lies on the sheer.
    gap = float(_sheer(0.0, length, 1450.0, 260.0)) - float(low(0.0))

    def lifted(x, share):
        y, z = at(x, share)
        return y, z + (1 - share) * gap * np.exp(-np.asarray(x) / 160.0)

    return Known("counter", lifted, length, stem=ends, first=0.09)


def reverse_sheer(length=6200.0, half=950.0):
    """Return a sheer that is highest amidships."""
    low = lambda x: _keel(x, length) + 0 * x  # noqa: E731
    high = lambda x: 1150.0 - 160.0 * along(x, length) ** 2  # noqa: E731
    gap = float(high(0.0)) - float(low(0.0))
    at = _raised(
        lambda x: low(x) + gap * np.exp(-np.asarray(x) / 80.0),
        high,
        lambda x: 25 + _plan(x, length, half, 0.7),
        lambda h, x: 1 - (1 - h) ** 2.4,
    )
    return Known("reverse sheer", at, length, stem=(0.0, 40.0, 100.0, 180.0, 300.0), first=0.09)


SIX = (double_ender, quartic, spheroid, raked_stem, wineglass, v_bow)
ROUND = (*SIX, tumblehome, full_round, punt, plumb_ends, counter, reverse_sheer)


def _chined(name, corners, length, stem, *, breaks, **more):
    """Return a hull of straight or bent panels between lines, each a function of x to (y, z).

    The way up a section is parted evenly among the panels; ``bow`` bends each outward by a part
    of its breadth.
    """
    bow = more.pop("bow", 0.0)
    count = len(corners) - 1

    def at(x, share):
        x, share = np.broadcast_arrays(np.asarray(x, float), np.asarray(share, float))
        which = np.clip(np.floor(share * count), 0, count - 1).astype(int)
        part = share * count - which
        ends = [np.stack(np.broadcast_arrays(*line(x)), axis=-1) for line in corners]
        low = np.choose(which[..., None], ends[:-1])
        high = np.choose(which[..., None], ends[1:])
        run = high - low
        out = np.stack([run[..., 1], -run[..., 0]], axis=-1)
        point = low + run * part[..., None] + out * (bow * 4 * part * (1 - part))[..., None]
        return point[..., 0], point[..., 1]

    chines = tuple((n + 1) / count for n in range(breaks))
    return Known(name, at, length, stem=stem, chines=chines, **more)


def _rabbet_to_stem(length, high, keel):
    """Return the rabbet: up to the sheer at a raked stem, then along the keel."""

    def line(x):
        rise = (high(0.0) - keel(0.0)) * np.exp(-np.asarray(x) / 160.0)
        return 25.0 + 0.0 * np.asarray(x), keel(x) + rise

    return line


CHINE_STEM = (0.0, 60.0, 150.0, 280.0, 450.0)


def _vee_boat(name, length, half, shares, bow=0.0):
    """Return a V bottom with chines that meet a curved stem; of each the share out, and mm up."""
    high = lambda x: 1050.0 + 200.0 * (np.asarray(x) / length - 0.6) ** 2  # noqa: E731
    keel = lambda x: 150.0 + 60.0 * (np.asarray(x) / length - 0.5) ** 2  # noqa: E731
    rabbet = _rabbet_to_stem(length, high, keel)
    sheer = lambda x: (25 + half * np.sin(2.3 * np.asarray(x) / length), high(x))  # noqa: E731

    def chine(share, up):
        met = 160.0 * np.log((high(0.0) - keel(0.0)) / up)

        def line(x):
            out = 25 + share * half * np.sin(2.3 * np.maximum(np.asarray(x) - met, 0) / length)
            return out, np.maximum(
                keel(x) + up - 90.0 * (np.asarray(x) - met) / length, rabbet(x)[1]
            )

        return line

    lines = (rabbet, *(chine(*pair) for pair in shares), sheer)
    return _chined(name, lines, length, CHINE_STEM, breaks=len(shares), bow=bow, first=0.12)


def single_chine(length=6000.0, half=950.0, bow=0.0):
    """Return a V bottom with one hard chine from stem to transom."""
    return _vee_boat("single chine", length, half, [(0.84, 380.0)], bow)


def double_chine(length=6000.0, half=950.0):
    """Return a bottom, a bilge plank and a side."""
    return _vee_boat("double chine", length, half, [(0.6, 230.0), (0.88, 530.0)])


def dory(length=5000.0, half=650.0):
    """Return a flat bottom with rocker between two transoms, sides straight and flaring."""
    bottom = lambda x: 120.0 * along(x, length) ** 2  # noqa: E731
    wide = lambda x: 120.0 + (half - 300.0) * (1 - 0.8 * along(x, length) ** 2)  # noqa: E731
    middle = lambda x: (0.0 * np.asarray(x), bottom(x))  # noqa: E731
    chine = lambda x: (wide(x), bottom(x))  # noqa: E731
    sheer = lambda x: (  # noqa: E731
        wide(x) + 190.0 - 60.0 * along(x, length) ** 2,
        520.0 + 150.0 * along(x, length) ** 2,
    )
    return _chined("flat dory", (middle, chine, sheer), length, (), breaks=1)


def bowed_chine():
    """Return the single chine with panels bent outward."""
    return single_chine(bow=0.03)


BROKEN = (single_chine, double_chine, dory, bowed_chine)


# ---- tables of them ---------------------------------------------------------------------------


def written(mm, unit):
    """Return a figure as a table of a unit has it: to the millimetre, or the sixteenth."""
    return written_like(mm, "0-0-0" if unit is Unit.FOOT else "0", unit)


def rounded(mm, unit):
    """Return a figure as it is read again."""
    return round(mm) if unit is Unit.MM else round(mm / 25.4 * 16) / 16 * 25.4


def offset(mm, unit, place=(1, 1)):
    at = float(rounded(mm, unit))
    return Offset(at, written(at, unit), *place)


def table_of(hull, *, stations=11, unit=Unit.MM, waterlines=8, buttocks=2, diagonals=1):
    """Return a table of offsets of a hull."""
    x = hull.stations(stations)
    sections = [hull.section(at) for at in x]
    lines = [*_edges(hull, x, unit), *_chines(hull, x, unit)]
    lines += [
        _crossed(line, sections, unit) for line in _grid(sections, waterlines, buttocks, diagonals)
    ]
    lines = [line for line in lines if sum(o is not None for o in line.offsets) > 1]
    names = tuple(Station(str(n), float(at)) for n, at in enumerate(x))
    stem = tuple((at, float(rounded(hull.point(at, 0)[2], unit))) for at in hull.stem)
    stern = tuple((at, float(rounded(hull.point(at, 0)[2], unit))) for at in hull.stern)
    return numbered(OffsetTable(hull.name, names, tuple(lines), stem=stem, stern=stern, unit=unit))


def numbered(table):
    """Return a table whose figures have places of their own: line and column."""
    lines = tuple(
        replace(
            line,
            offsets=tuple(
                one and replace(one, line=n + 10, column=k + 2)
                for k, one in enumerate(line.offsets)
            ),
        )
        for n, line in enumerate(table.lines)
    )
    return replace(table, lines=lines)


def _edges(hull, x, unit):
    ends = {LineKind.SHEER: 1.0, LineKind.RABBET: 0.0}
    for kind, share in ends.items():
        points = np.array([hull.point(at, share) for at in x])
        for measure, axis in ((Measure.HEIGHT, 2), (Measure.HALF_BREADTH, 1)):
            figures = tuple(offset(mm, unit) for mm in points[:, axis])
            yield Line(kind, kind.value, measure, figures)


def _chines(hull, x, unit):
    for n, share in enumerate(hull.chines):
        points = np.array([hull.point(at, share) for at in x])
        name = "chine" if len(hull.chines) == 1 else f"chine {n + 1}"
        for measure, axis in ((Measure.HEIGHT, 2), (Measure.HALF_BREADTH, 1)):
            figures = tuple(offset(mm, unit) for mm in points[:, axis])
            yield Line(LineKind.CHINE, name, measure, figures)


def _grid(sections, waterlines, buttocks, diagonals):
    low = min(section[0, 1] for section in sections)
    high = max(section[-1, 1] for section in sections)
    half = max(section[:, 0].max() for section in sections)
    for z in np.round(np.linspace(low, high, waterlines + 2)[1:-1] / 10) * 10:
        yield waterline(f"waterline {z:g}", float(z), ())
    for y in np.round(np.linspace(0, half, buttocks + 2)[1:-1] / 10) * 10:
        yield buttock(f"buttock {y:g}", float(y), ())
    for n in range(diagonals):
        top = low + (high - low) * (0.95 - 0.3 * n)
        yield diagonal(f"diagonal {n}", float(top), (half, float(top - 0.7 * (top - low))), ())


def _crossed(line, sections, unit):
    figures = [measured(section, line) for section in sections]
    return replace(line, offsets=tuple(None if f is None else offset(f, unit) for f in figures))


def changed(table, errors_mm):
    """Return a table with figures changed; keys are (number of line, number of station)."""
    lines = [list(line.offsets) for line in table.lines]
    for (line, station), error in errors_mm.items():
        old = lines[line][station]
        at = float(rounded(old.mm + error, table.unit))
        lines[line][station] = replace(old, mm=at, written=written(at, table.unit))
    made = [
        replace(line, offsets=tuple(offsets))
        for line, offsets in zip(table.lines, lines, strict=True)
    ]
    return replace(table, lines=tuple(made))


def noisy(table, rng, mm):
    """Return a table with random errors of a standard deviation in every figure."""
    cells = [
        (n, k)
        for n, line in enumerate(table.lines)
        for k, one in enumerate(line.offsets)
        if one is not None
    ]
    errors = {cell: float(rng.normal(0.0, mm)) for cell in cells}
    # A closed end is closed: a half-breadth is not measured less than nothing.
    return changed(
        table,
        {cell: e for cell, e in errors.items() if table.lines[cell[0]].offsets[cell[1]].mm > 0},
    )


def transposed(mm, unit):
    """Return figures that two neighbouring digits turned about would make of one, mm."""
    if unit is not Unit.MM:
        return []
    digits = str(round(mm))
    found = []
    for k in range(len(digits) - 1):
        if digits[k] != digits[k + 1]:
            turned = digits[:k] + digits[k + 1] + digits[k] + digits[k + 2 :]
            found.append(float(turned))
    return found
