"""What many battens say of a line, against each of them fitted anew without each figure."""

import numpy as np
import pytest

from parts.lines import likely_battens
from parts.lines.kriging import Kriging, Stiffness
from parts.lines.likely_battens import EASE, EASY, Battens

PLACES = np.array([-1.0, -0.7, -0.35, 0.0, 0.3, 0.72, 1.0])
FIGURES = np.array([-0.9, -0.2, 0.35, 0.8, 0.55, 0.9, 0.4])
SPREAD = np.array([0.001, 0.02, 0.02, 0.01, 0.02, 0.02, 0.05])


@pytest.fixture
def few(monkeypatch):
    """Return a grid small enough to try each batten by itself."""
    grid = {
        "LENGTHS": np.array([0.5, 1.0, 3.0]),
        "SHARES": np.array([0.5, 50.0]),
        "AMPLITUDES": np.array([0.05, 0.3, 2.0]),
    }
    for name, values in grid.items():
        monkeypatch.setattr(likely_battens, name, values)
    likely_battens._shapes.cache_clear()
    yield [
        Stiffness((length,), amplitude, straight=(share,))
        for length in grid["LENGTHS"]
        for share in grid["SHARES"]
        for amplitude in grid["AMPLITUDES"]
    ]
    likely_battens._shapes.cache_clear()


def through(stiffness, keep):
    """Return the batten of a stiffness through some figures, and how likely it is."""
    batten = Kriging(PLACES[keep, None], FIGURES[keep], SPREAD[keep], stiffness)
    unease = float(np.log(stiffness.lengths[0] / EASY)) ** 2 / (2 * EASE**2)
    return batten, -batten.misfit() - unease


@pytest.mark.parametrize("at", range(len(PLACES)))
def test_leaving_a_figure_out_is_what_fairing_without_it_comes_to(few, at):
    keep = np.arange(len(PLACES)) != at
    found = []
    for stiffness in few:
        batten, likely = through(stiffness, keep)
        off = FIGURES[at] - batten.at(PLACES[at : at + 1, None])[0]
        doubt = np.hypot(batten.doubt_at(PLACES[at : at + 1, None])[0], SPREAD[at])
        found.append((likely, off, doubt))
    likely, off, doubt = np.array(found).T
    share = np.exp(likely - likely.max()) / np.exp(likely - likely.max()).sum()
    mean = share @ off
    whole = np.sqrt(share @ (doubt**2 + (off - mean) ** 2))
    made = Battens(PLACES[None], FIGURES, SPREAD).left_out
    assert made[0][at] == pytest.approx(mean, abs=1e-6)
    assert made[1][at] == pytest.approx(whole, abs=1e-6)


def test_the_fair_line_and_its_likelihood_are_those_of_all_battens(few):
    everything = np.ones(len(PLACES), dtype=bool)
    found = [through(stiffness, everything) for stiffness in few]
    likely = np.array([one for _, one in found])
    share = np.exp(likely - likely.max()) / np.exp(likely - likely.max()).sum()
    fair = sum(
        part * batten.at(PLACES[:, None]) for part, (batten, _) in zip(share, found, strict=True)
    )
    made = Battens(PLACES[None], FIGURES, SPREAD)
    assert made.fair == pytest.approx(fair, abs=1e-6)
    assert made.misfit == pytest.approx(-np.log(np.exp(likely).mean()), abs=1e-6)
    assert made.likeliest == few[int(likely.argmax())]


def test_one_wrong_figure_of_a_fair_line_is_told_from_its_neighbours():
    places = np.linspace(-1.0, 1.0, 11)
    figures = np.sin(1.4 * places)
    figures[6] += 0.05
    off, doubt = Battens(places[None], figures, np.full(11, 0.001)).left_out
    assert int((abs(off) / doubt).argmax()) == 6
    assert off[6] == pytest.approx(0.05, abs=0.005)


@pytest.mark.parametrize("scatter", [1e-5, 1e-7, 1e-9])
def test_figures_nearly_on_a_stiff_batten_leave_it_a_root(scatter):
    x = np.linspace(0, 1, 60)
    places, figures = np.column_stack([x, 0 * x]), np.sin(3 * x)
    function = Kriging(places, figures, np.full(60, scatter), Stiffness((12.0, 20.0), 100.0))
    assert np.isfinite(function.misfit())
    assert np.abs(function.at(places) - figures).max() < 0.02
