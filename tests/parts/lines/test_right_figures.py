"""Right figures that look strange, and are not named: ends of chines, tables read to 5 mm."""

from dataclasses import dataclass

import numpy as np
import pytest
from known_hulls import Known, _chined, changed, full_round, table_of
from scipy.optimize import brentq

from nesting.units import Unit
from parts.lines import hull_of
from parts.lines.tolerance import coarsest_mm

LENGTH, DEPTH, BASE = 5898.346, 1008.179, 120.351
PLACES = (520, 1190, 1761, 2304, 2952, 3416, 3992, 4386, 4905, 5330, 5898)


@dataclass(frozen=True)
class Uneven(Known):
    """A hull whose stations stand at places of their own."""

    def stations(self, count):
        return np.array(PLACES, dtype=float)


def _sheer(x):
    return BASE + DEPTH * (1 + 0.41612 * (np.asarray(x) / LENGTH - 0.60887) ** 2)


def _rabbet(x):
    part = np.asarray(x, dtype=float) / LENGTH
    keel = BASE + 142.24 * (part - 0.55) ** 2 - 10.529 * part
    foot = BASE + 142.24 * 0.55**2
    return (
        keel + (float(_sheer(0.0)) - foot) * np.maximum(0.0, 1 - part * LENGTH / 929.52) ** 3.18859
    )


def _wide(x):
    part = np.asarray(x, dtype=float) / LENGTH
    fore = np.sin(np.pi * np.minimum(part, 0.6) / 1.2) ** 0.84335
    return 10.0 + 956.013 * np.where(part < 0.6, fore, 1 - 0.45113 * ((part - 0.6) / 0.4) ** 2)


def _chine(out, up):
    """Return a chine: a part of the breadth from where it meets the stem, a part of the depth."""

    def height(x):
        part = np.asarray(x) / LENGTH
        rise = 0.12 * np.maximum(0.0, 1 - 2 * part) ** 2
        return BASE + DEPTH * (up * (1 - 0.18 * part) + rise)

    met = brentq(lambda x: float(height(x) - _rabbet(x)), 0.0, 928.5)

    def line(x):
        x = np.asarray(x, dtype=float)
        half = 10.0 + out * (_wide(np.maximum(x, met)) - _wide(met))
        return half, np.where(x < met, _rabbet(x), np.maximum(height(x), _rabbet(x)))

    return line


def swept_chines():
    """Return two chines that run into a stem that is swept into the keel by a power of the way."""
    lines = (
        lambda x: (10.0 + 0.0 * np.asarray(x, dtype=float), _rabbet(x)),
        _chine(0.592583, 0.23709),
        _chine(0.918788, 0.626489),
        lambda x: (_wide(x), _sheer(x)),
    )
    ends = (0.0, 74.3616, 204.4943, 390.3983)
    known = _chined("swept chines", lines, LENGTH, ends, breaks=2, bow=0.02, first=0.088114)
    return Uneven(
        known.name, known.at, LENGTH, stem=known.stem, chines=known.chines, first=known.first
    )


def chined_table():
    return table_of(swept_chines(), unit=Unit.FOOT, waterlines=10, buttocks=3)


def test_a_right_figure_at_the_end_of_a_chine_is_not_named():
    assert not hull_of(chined_table()).odd


@pytest.mark.parametrize("error", [-25.0, 25.0])
def test_a_wrong_figure_at_the_end_of_a_chine_is_named(error):
    table = chined_table()
    number = next(n for n, line in enumerate(table.lines) if line.title == "chine 1 height")
    [odd] = hull_of(changed(table, {(number, 0): error})).odd
    assert (odd.line, odd.station) == ("chine 1 height", "0")


def read_to(table, step):
    """Return a table whose figures are rounded to a step, mm, and written in millimetres."""
    return changed(
        table,
        {
            (n, k): round(one.mm / step) * step - one.mm
            for n, line in enumerate(table.lines)
            for k, one in enumerate(line.offsets)
            if one is not None
        },
    )


@pytest.mark.parametrize("step", [1, 2, 5, 10])
def test_the_step_that_figures_were_rounded_to_is_told_by_them(step):
    table = read_to(table_of(full_round()), float(step))
    assert coarsest_mm(table) == step
    cells = [(n, k) for n, k in ((0, 3), (1, 4), (6, 5)) if table.lines[n].offsets[k]]
    assert coarsest_mm(changed(table, dict.fromkeys(cells, 23.0))) == step


def test_a_table_to_eighths_is_read_to_two_sixteenths():
    table = table_of(full_round(), unit=Unit.FOOT)
    assert coarsest_mm(table) == pytest.approx(25.4 / 16)
    assert coarsest_mm(read_to(table, 25.4 / 4)) == pytest.approx(25.4 / 4)
