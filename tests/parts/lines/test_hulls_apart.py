"""Hulls that nothing was tuned on, and hulls that are not modelled and are refused."""

import dataclasses
import re

import numpy as np
import pytest
from hull_measures import at_chine, errors
from hulls_apart import (
    BENT,
    drake,
    fading_knuckle,
    launch,
    norse,
    pram,
    schooner,
    sharpie,
    softly_bent_knuckle,
    tunnel,
)
from known_hulls import table_of

from nesting.errors import ShapeError
from nesting.units import Unit
from parts.lines import hull_of


@pytest.mark.parametrize(
    "make", [pram, launch, drake, sharpie, norse], ids=lambda make: make.__name__
)
def test_a_hull_not_seen_before_names_nothing_and_is_the_true_one(make):
    known = make()
    hull = hull_of(table_of(known))
    assert hull.odd == ()
    found = errors(hull, known, np.linspace(0.15, 0.88, 5) * known.length)
    assert found.mean < 0.7
    assert found.worst < 4.0
    assert found.bevel_worst < 1.5
    if known.chines:
        assert at_chine(hull, known, 9).max() < 0.6


def test_a_forefoot_swept_up_quickly_is_no_knuckle():
    """Taken for one, it made the right rabbet of the station behind it 18 mm wrong."""
    assert hull_of(table_of(launch(), unit=Unit.FOOT)).odd == ()


def test_an_edge_that_turns_too_quickly_for_its_stations_is_told_of():
    """Eleven stations on 18 m: the counter rises between two of them, and is 20 mm off there."""
    known = schooner()
    hull = hull_of(table_of(known))
    said = [str(note) for note in hull.notes]
    (aft,) = [note for note in said if f"and {hull.table.x[-1]:.0f} from forward" in note]
    found = re.search(r"rabbet height: between (\d+) and .* is known to about (\d+) alone", aft)
    assert float(found[1]) <= hull.table.x[-2]
    between = np.linspace(hull.table.x[-2], hull.table.x[-1], 21)
    off = hull.edges.rabbet.profile.at(between) - [known.point(x, 0.0)[2] for x in between]
    assert np.abs(off).max() > 10.0
    assert float(found[2]) > np.abs(off).max() / 2
    assert hull_of(table_of(launch())).notes == ()


@pytest.mark.parametrize("unit", [Unit.MM, Unit.FOOT])
@pytest.mark.parametrize("stations", [9, 13])
def test_a_knuckle_that_begins_amidships_is_refused_not_rounded(unit, stations):
    table = table_of(fading_knuckle(), unit=unit, stations=stations)
    last = table.stations[-1].name
    with pytest.raises(ShapeError, match=rf"from station \d+ to {last} the sections turn sharply"):
        hull_of(table)


@pytest.mark.parametrize("make", BENT, ids=lambda make: make.__name__)
def test_a_knuckle_between_bent_panels_is_refused_though_a_bilge_turns_as_much(make):
    """Faired as a bilge it was 9 mm off, without a word."""
    with pytest.raises(ShapeError, match=r"from station \d+ to \d+ the sections turn sharply"):
        hull_of(table_of(make()))


def test_what_looks_like_a_knuckle_is_round_if_the_table_says_so():
    table = dataclasses.replace(table_of(softly_bent_knuckle()), is_round=True)
    assert hull_of(table).odd == ()


@pytest.mark.parametrize("unit", [Unit.MM, Unit.FOOT])
def test_a_bottom_hollow_along_the_centreline_is_refused(unit):
    with pytest.raises(ShapeError, match=r"the bottom lies lower than the rabbet: at station \d"):
        hull_of(table_of(tunnel(), unit=unit))
