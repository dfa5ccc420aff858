"""Battens along a line that turns quickly: against the same without each figure, and a keel."""

import numpy as np
import pytest

from parts.lines.likely_battens import Battens
from parts.lines.parted_battens import PartedBattens, battens_along
from parts.lines.rows import Row

WAY = np.linspace(-1.0, 1.0, 11)
FIGURES = np.array([1.0, 0.5, 0.02, -0.45, -0.8, -0.9, -0.91, -0.92, -0.94, -0.95, -0.96])
SPREAD = np.linspace(0.001, 0.003, 11)

STEM_X = np.array([0.0, 90.0, 180.0, 290.0, 420.0])
STEM_Z = np.array([1500.0, 1150.0, 800.0, 440.0, 250.0])
KEEL_X = np.linspace(900.0, 6000.0, 9)
KEEL_Z = 210.0 - 0.012 * (KEEL_X - 900.0)


def battens(run):
    return Battens(WAY[None, run], FIGURES[run], SPREAD[run])


@pytest.mark.parametrize("at", [0, 3, 10])
def test_how_likely_all_but_one_figure_are_is_how_likely_they_are_alone(at):
    keep = np.arange(len(WAY)) != at
    assert battens(slice(None)).likely_without[at] == pytest.approx(-battens(keep).misfit)


def test_two_battens_speak_of_each_figure_with_the_one_it_lies_on():
    at = 5
    low, high = battens(slice(0, at + 1)), battens(slice(at, None))
    whole = battens(slice(None))
    likely, off, doubt = PartedBattens(whole, ((at, low, high),))._sayings()[1]
    assert likely[2] == pytest.approx(low.likely_without[2] - high.misfit)
    assert likely[8] == pytest.approx(high.likely_without[3] - low.misfit)
    assert (off[2], doubt[8]) == (low.left_out[0][2], high.left_out[1][3])
    assert likely[at] == -np.inf


def test_parting_helps_a_line_that_turns_once_and_is_counted_among_all_that_are_tried():
    at = 5
    low, high = battens(slice(0, at + 1)), battens(slice(at, None))
    whole = battens(slice(None))
    both = PartedBattens(whole, ((at, low, high),))
    two = np.array([whole.misfit, low.misfit + high.misfit])
    assert both.misfit == pytest.approx(-np.log(np.exp(-two).mean()))


def keel(error_mm=0.0, at=9):
    x, z = np.concatenate([STEM_X, KEEL_X]), np.concatenate([STEM_Z, np.round(KEEL_Z)])
    z[at] += error_mm
    stations = np.concatenate([np.full(len(STEM_X), -1), np.arange(len(KEEL_X))])
    return Row(None, x, z, stations, np.full(len(x), 0.29), np.zeros(len(x)))


def test_a_keel_is_known_well_beyond_the_turn_of_its_stem():
    """By one batten along both it was known to some 40 mm."""
    off, doubt = keel().judged_at(4)
    assert abs(off) < 2.0
    assert doubt < 2.0


def test_a_wrong_figure_of_a_keel_is_seen_by_its_own_line():
    off, doubt = keel(25.0).judged_at(4)
    assert off == pytest.approx(25.0, abs=2.0)
    assert off > 8.0 * doubt


def test_a_line_of_even_points_is_not_parted():
    x = np.linspace(0.0, 5000.0, 11)
    spread = np.full(11, 0.29)
    assert battens_along(x, 100.0 + 1e-6 * x**2, spread, (112.0, 12.5)).parted == ()
    uneven = np.concatenate([STEM_X, KEEL_X]), np.concatenate([STEM_Z, KEEL_Z])
    parted = battens_along(*uneven, np.full(14, 0.29), (800.0, 700.0)).parted
    assert [at for at, _, _ in parted] == list(range(4, 10))
