"""Figures as a tape and a rule show them, held against fractions and a search of all multiples."""

import math
from fractions import Fraction
from random import Random

import pytest

from nesting.marking.tape import Tape
from nesting.units import Unit

INCH = Fraction(254, 10)

READ = {Unit.MM: Fraction(1, 2), Unit.INCH: INCH / 64}
FINE = {Unit.MM: Fraction(1, 10), Unit.INCH: INCH / 200}
BORED = {Unit.MM: Fraction(1, 20), Unit.INCH: INCH / 64}
ROUND = {
    Unit.MM: (1000, 500, 100, 50, 10, 5, 1, Fraction(1, 2)),
    Unit.INCH: (*(INCH * n for n in (12, 6, 3, 1)), *(INCH / n for n in (2, 4, 8, 16, 32))),
}

UNITS = pytest.mark.parametrize("unit", [Unit.MM, Unit.INCH])


def lengths(count, seed=1):
    """Return exact lengths, mm, some of them below 0, none half way between two multiples."""
    chance = Random(seed)
    return [Fraction(chance.randrange(-90_000, 900_000), 937) for _ in range(count)]


def nearest(length, step):
    return round(length / step) * step


@UNITS
def test_figures_fine_ones_and_bits_are_the_nearest_on_their_own_steps(unit):
    tape = Tape.of(unit)
    for length in lengths(1000):
        fine, bored = float(nearest(length, FINE[unit])), float(nearest(length, BORED[unit]))
        assert tape.read(float(length)) == pytest.approx(float(nearest(length, READ[unit])))
        assert tape.read(float(length), is_fine=True) == pytest.approx(fine, abs=1e-9)
        assert tape.bored(float(length)) == pytest.approx(bored, abs=1e-6)


@UNITS
@pytest.mark.parametrize("is_fine", [False, True])
def test_nothing_is_printed_as_less_than_nothing(unit, is_fine):
    assert math.copysign(1.0, Tape.of(unit).read(-0.01, is_fine=is_fine)) == 1.0


@UNITS
def test_the_roundest_length_is_found_as_by_trying_all(unit):
    chance = Random(3)
    for low in lengths(1000):
        high = low + Fraction(chance.randrange(0, 90_000), chance.choice((97, 970, 9700)))
        middle = (low + high) / 2
        wanted = None
        for step in ROUND[unit]:
            multiples = [
                n * step for n in range(math.ceil(low / step), math.floor(high / step) + 1)
            ]
            if multiples:
                wanted = min(abs(one - middle) for one in multiples), step
                break
        found = Tape.of(unit).roundest(float(low), float(high))
        assert (found is None) == (wanted is None)
        if wanted is not None:
            off, step = wanted
            assert abs(found - float(middle)) == pytest.approx(float(off), abs=1e-6)
            assert found / float(step) == pytest.approx(round(found / float(step)), abs=1e-6)


@pytest.mark.parametrize(("unit", "round_mm"), [(Unit.MM, 250.0), (Unit.INCH, 304.8)])
@pytest.mark.parametrize(("before", "beyond"), [(0.0, 0.0), (30.0, 0.0), (0.0, 30.0)])
def test_a_round_length_at_the_end_of_a_range_is_in_it(unit, round_mm, before, beyond):
    """Twelve times an inch is a hair less than a foot, to a computer."""
    low, high = round_mm - before, round_mm + beyond
    found = Tape.of(unit).roundest(low, high)
    assert found == pytest.approx(round_mm) and low <= found <= high
