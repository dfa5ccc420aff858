"""A figure that one way of laying off the hull has strange, and the other surely has."""

from dataclasses import replace

import numpy as np
import pytest
from known_hulls import full_round, table_of

from parts.lines.faired_table import FairedTable
from parts.lines.judging import begun
from parts.lines.odd_ones import EIGHTH_MM
from parts.lines.verdicts import of_lines


@pytest.fixture(scope="module")
def state():
    return begun(table_of(full_round()))[0]


def stirred(fit, at, mm):
    """Return a fit one of whose figures is off by so much more, in its own direction."""
    among = int(fit.used[:at].sum())
    figures = fit.function.figures.copy()
    figures[among] += mm * fit.along[among]
    return replace(fit, function=replace(fit.function, figures=figures))


def named(state, fits):
    """Return the cells that are off by more than an eighth of an inch, and surely."""
    found = of_lines(FairedTable(state.reading, state.edges, (fits,)))
    return {one.cell for one in found if abs(one.off_mm) > EIGHTH_MM and one.strange > 6.0}


def test_a_figure_is_strange_only_if_no_way_of_laying_off_surely_has_it(state):
    best, other = state.all_fits[0]
    off, doubt = other.left_out
    lines = (best.cloud.lines >= 0) & best.used & other.used
    at = int(np.flatnonzero(lines & (np.abs(off) + doubt < EIGHTH_MM / 2))[0])
    cell = int(best.cloud.lines[at]), int(best.cloud.stations[at])
    assert cell in named(state, (stirred(best, at, 30.0),))
    assert cell not in named(state, (stirred(best, at, 30.0), other))
    assert cell in named(state, (stirred(best, at, 30.0), stirred(other, at, 30.0)))
