"""Arcs that a compass strikes, out of lines whose arcs are known; and how they are printed."""

import math
from random import Random

import numpy as np
import pytest

from nesting.flat_geometry.true_arcs import Arc
from nesting.marking.compass import printed_arc, struck
from nesting.marking.tape import Tape
from nesting.units import Unit


def bow(centre, radius, first_deg, sweep_deg):
    """Return points on an arc, chords 0.03 mm off it."""
    step = 2 * math.acos(1 - 0.03 / radius)
    count = max(math.ceil(abs(math.radians(sweep_deg)) / step), 4)
    angles = np.radians(first_deg + sweep_deg * np.arange(count + 1) / count)
    return np.array(centre) + radius * np.column_stack([np.cos(angles), np.sin(angles)])


def joined(*stretches):
    """Return stretches in turn as one line, each begun where the last ended."""
    return np.vstack([stretches[0], *(each[1:] for each in stretches[1:])])


def straight(start, end):
    return np.array([start, end], dtype=float)


ROUNDED = [
    straight((-400, -80), (0, -80)),
    bow((0, 0), 80, -90, 90),
    straight((80, 0), (80, 300)),
]
"""Along an edge, round a corner, up the next."""

RETURNED = [bow((0, 0), 60, 180, -90), bow((0, 120), 60, -90, 90), straight((60, 120), (60, 400))]
"""Over a bow and into the hollow beyond it, then straight."""


@pytest.mark.parametrize(
    ("stretches", "arcs"),
    [
        (ROUNDED, [None, (0, 0, 80, 90), None]),
        (ROUNDED[1:], [(0, 0, 80, 90), None]),
        (ROUNDED[:2], [None, (0, 0, 80, 90)]),
        (RETURNED, [(0, 0, 60, -90), (0, 120, 60, 90), None]),
        (ROUNDED[:1], [None]),
    ],
    ids=["round a corner", "from its beginning", "to its end", "there and back", "straight"],
)
def test_a_line_is_struck_in_the_stretches_it_was_made_of(stretches, arcs):
    found = list(struck(joined(*stretches)))
    assert len(found) == len(arcs)
    for (line, arc), wanted, own in zip(found, arcs, stretches, strict=True):
        assert line == pytest.approx(own)
        assert (arc is None) == (wanted is None)
        if arc is not None:
            x, y, radius, sweep = wanted
            assert (*arc.centre, arc.radius) == pytest.approx((x, y, radius), abs=1e-6)
            assert math.degrees(arc.sweep) == pytest.approx(sweep)


def test_an_arc_of_four_corners_at_the_end_of_a_line_is_struck():
    angles = np.radians([-90, -70, -50, -30])
    arc = 3 * np.column_stack([np.cos(angles), np.sin(angles)])
    found = list(struck(joined(straight((-40, -3), (0, -3)), arc)))
    assert [None if one is None else one.radius for _, one in found] == [None, pytest.approx(3)]


@pytest.mark.parametrize(
    ("radius", "sweep", "is_struck"),
    [(298, 60, True), (302, 60, False), (100, 31, True), (100, 29, False), (100, -31, True)],
)
def test_what_is_too_large_or_too_short_for_a_compass_is_told_by_points(radius, sweep, is_struck):
    line = bow((50, 20), radius, 10, sweep)
    (found,) = struck(line)
    assert found[0] == pytest.approx(line)
    assert (found[1] is not None) == is_struck


def test_corners_of_four_sides_are_no_arc_though_they_lie_on_a_circle():
    square = np.array([(0, 0), (80, 0), (80, 80), (0, 80), (0, 0)], dtype=float)
    assert [arc for _, arc in struck(square)] == [None]


@pytest.mark.parametrize("unit", [Unit.MM, Unit.INCH])
def test_an_arc_struck_as_printed_lies_on_the_true_one_and_is_as_plain_as_it_can_be(unit):
    tape, chance = Tape.of(unit), Random(5)
    plain = fine = 0
    for _ in range(400):
        x, y, radius = (chance.uniform(20, 280) for _ in range(3))
        (u, v), printed = printed_arc(Arc((x, y), radius, 0.0, 1.0), tape)
        ways = np.linspace(0, 2 * np.pi, 721)
        off = np.hypot(u + printed * np.cos(ways) - x, v + printed * np.sin(ways) - y) - radius
        assert np.abs(off).max() <= tape.within_mm
        read = tape.read(x), tape.read(y)
        shift = math.dist(read, (x, y))
        nearest = min(abs(given - radius) for given in (tape.read(radius), tape.bored(radius)))
        is_plain = shift + nearest <= tape.within_mm
        assert ((u, v) == pytest.approx(read, abs=1e-9)) or not is_plain
        if is_plain and shift + abs(tape.read(radius) - radius) <= tape.within_mm:
            assert printed == tape.read(radius)
        plain, fine = plain + is_plain, fine + (not is_plain)
    assert plain and (fine or unit is Unit.MM), "bits go by 0.05 mm, so no centre is printed fine"
