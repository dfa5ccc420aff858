"""A stem whose head lies off the sheer, or whose profile turns to and fro, is told."""

from dataclasses import replace

import pytest
from known_hulls import double_ender, reverse_sheer, table_of, tumblehome, v_bow, wineglass

from nesting.units import Unit
from parts.lines import hull_of
from parts.lines.faired_edges import edges_of
from parts.lines.stem_points import stem_notes


def moved(table, key, number, mm):
    """Return a table with the height of one point of stem or stern changed."""
    points = list(getattr(table, key))
    points[number] = (points[number][0], points[number][1] + mm)
    return replace(table, **{key: tuple(points)}, stem_at=(5, 2), stern_at=(6, 2), file="b.csv")


def notes(table):
    return [str(note) for note in stem_notes(table, edges_of(table))]


@pytest.mark.parametrize("make", [double_ender, reverse_sheer, tumblehome, v_bow, wineglass])
@pytest.mark.parametrize("unit", [Unit.MM, Unit.FOOT])
def test_stem_as_it_is_gets_no_note(make, unit):
    assert notes(table_of(make(), unit=unit)) == []


@pytest.mark.parametrize("make", [double_ender, wineglass])
@pytest.mark.parametrize(("mm", "side"), [(-100.0, "below"), (100.0, "above")])
def test_head_off_the_sheer_is_told_with_its_place_and_nothing_else(make, mm, side):
    [note] = notes(moved(table_of(make()), "stem", 0, mm))
    assert note.startswith("b.csv:5:2: stem: its head, ")
    off = float(note.split(" lies ")[1].split(" mm ")[0])
    assert off == pytest.approx(abs(mm), abs=5.0)
    assert f"mm {side} where the sheer runs on to" in note


def test_head_of_a_sternpost_off_the_sheer_is_told():
    [note] = notes(moved(table_of(double_ender()), "stern", -1, 100.0))
    assert note.startswith("b.csv:6:2: stern: its head, ")


@pytest.mark.parametrize(
    ("make", "key", "number", "mm"),
    [
        (reverse_sheer, "stem", 2, -60.0),
        (wineglass, "stem", 3, 60.0),
        (double_ender, "stem", 2, 100.0),
        (double_ender, "stern", 1, 100.0),
    ],
)
def test_profile_that_turns_to_and_fro_is_told_and_the_wrong_point_is_among_those(
    make, key, number, mm
):
    [note] = notes(moved(table_of(make()), key, number, mm))
    assert f"{key}: its profile turns to and fro" in note
    told = note.split("number ")[1].split(":")[0].split(" or ")
    assert str(number + 1) in told


def test_notes_of_the_hull_have_it_and_no_figure_is_named():
    hull = hull_of(moved(table_of(reverse_sheer()), "stem", 2, -60.0))
    assert [note for note in hull.notes if "to and fro" in note.message]
    assert not hull.odd
