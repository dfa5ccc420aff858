"""Ways to part a joint, worked out by hand: minutes, what is possible, what stays in the wood."""

from dataclasses import replace

import pytest

from nesting.judging.old_boat import Fastener, Joint, State
from nesting.judging.ways import (
    SPOILED,
    USUAL_STATES,
    USUAL_WAYS,
    KindFigures,
    Left,
    Way,
    WayFigures,
    is_possible,
    left_in,
    minutes_of,
)

JOINT = Joint("plank", "frame", Fastener.SCREW, 5.0, 300.0, state=State(0.7, 0.2, 0.1))
FIGURES = WayFigures(
    2.0, 5.0, 0.6, fixed_hours=1.5, by_kind={Fastener.BOLT: KindFigures(8.0, 20.0, 0.9)}
)


@pytest.mark.parametrize(
    ("way", "fastener", "minutes"),
    [
        # Of ten screws seven come in 2 min each and three in 5 instead; 1.5 h to set up.
        (Way.DRAW, Fastener.SCREW, 7 * 2 + 3 * 5 + 90),
        (Way.FLAT, Fastener.SCREW, 7 * 2 + 3 * 5 + 90),
        (Way.DRAW, Fastener.BOLT, 7 * 8 + 3 * 20 + 90),
        # What is cut or split is cut first and punched out afterwards, all of it.
        (Way.CUT, Fastener.SCREW, 10 * (2 + 5) + 90),
        (Way.SPLIT_OUTER, Fastener.SCREW, 10 * (2 + 5) + 90),
        (Way.SPLIT_INNER, Fastener.BOLT, 10 * (8 + 20) + 90),
        # Nobody punches anything out of what is broken.
        (Way.BREAK, Fastener.SCREW, 10 * 2 + 90),
    ],
)
def test_minutes_are_those_of_every_fastener_and_of_setting_up(way, fastener, minutes):
    joint = replace(JOINT, fastener=fastener)
    assert minutes_of(way, joint, 10, FIGURES) == pytest.approx(minutes)


def test_slower_minutes_leave_the_chances_and_the_setting_up_as_they_were():
    slower = FIGURES.slower(1.5)
    bolt = slower.of(Fastener.BOLT)
    assert (slower.minutes, slower.stubborn_minutes, slower.success) == (3.0, 7.5, 0.6)
    assert (bolt.minutes, bolt.stubborn_minutes, bolt.success) == (12.0, 30.0, 0.9)
    assert slower.fixed_hours == 1.5
    assert slower.source == FIGURES.source


ALWAYS = {Way.SPLIT_OUTER, Way.SPLIT_INNER, Way.BREAK}


@pytest.mark.parametrize(
    ("how", "ways"),
    [
        ({}, {Way.DRAW, Way.CUT}),
        ({"is_open_behind": True}, {Way.DRAW, Way.CUT, Way.FLAT}),
        ({"is_glued": True}, set()),
        ({"is_glued": True, "is_open_behind": True}, set()),
        ({"fastener": Fastener.DRIFT}, {Way.CUT}),
        ({"fastener": Fastener.DRIFT, "is_open_behind": True}, {Way.CUT, Way.FLAT}),
    ],
)
def test_glue_bars_blades_and_drifts_cannot_be_drawn_from_outside(how, ways):
    joint = replace(JOINT, **how)
    assert {way for way in Way if is_possible(way, joint)} == ALWAYS | ways


def lefts(way, joint=JOINT):
    return left_in(way, joint, joint.of, FIGURES), left_in(way, joint, joint.to, FIGURES)


@pytest.mark.parametrize(
    ("way", "outer", "inner"),
    [
        # Three of ten are stubborn, of which six in ten are got out: twelve in a hundred stay.
        (Way.DRAW, Left(0.0), Left(0.12)),
        (Way.FLAT, Left(0.0), Left(0.12)),
        # Every stub stays in the inner one, and of the outer one's rods what cannot be punched out.
        (Way.CUT, Left(0.4), Left(1.0)),
        (Way.SPLIT_OUTER, SPOILED, Left(0.4)),
        (Way.SPLIT_INNER, Left(0.4), SPOILED),
        (Way.BREAK, SPOILED, SPOILED),
    ],
)
def test_what_a_way_leaves_in_either_member(way, outer, inner):
    found = lefts(way)
    assert [one.is_spoiled for one in found] == [outer.is_spoiled, inner.is_spoiled]
    assert [one.metal for one in found] == pytest.approx([outer.metal, inner.metal])


@pytest.mark.parametrize("way", [Way.DRAW, Way.FLAT, Way.CUT])
def test_treenails_leave_no_metal(way):
    treenails = replace(JOINT, fastener=Fastener.TREENAIL)
    assert lefts(way, treenails) == (Left(), Left())


def test_each_plank_of_a_lap_is_the_outer_one_once_and_has_the_worse_of_both():
    lap = replace(JOINT, to=JOINT.of)
    assert left_in(Way.DRAW, lap, "plank", FIGURES).metal == pytest.approx(0.12)
    assert left_in(Way.CUT, lap, "plank", FIGURES) == Left(1.0)
    for way in (Way.SPLIT_OUTER, Way.SPLIT_INNER, Way.BREAK):
        assert left_in(way, lap, "plank", FIGURES).is_spoiled


@pytest.mark.parametrize("fastener", list(Fastener))
def test_usual_figures_are_in_order(fastener):
    """What is stubborn takes longer to draw, on the bench all is quicker and no more stays in."""
    drawn, flat, cut, broken = (
        USUAL_WAYS[way].of(fastener) for way in (Way.DRAW, Way.FLAT, Way.CUT, Way.BREAK)
    )
    assert drawn.minutes < drawn.stubborn_minutes
    assert flat.minutes < drawn.minutes
    assert flat.stubborn_minutes < drawn.stubborn_minutes
    assert flat.success >= drawn.success
    assert broken.minutes < min(drawn.minutes, flat.minutes, cut.minutes)
    split = [USUAL_WAYS[way].of(fastener) for way in (Way.SPLIT_OUTER, Way.SPLIT_INNER)]
    assert all(0.0 < one.success <= 1.0 for one in (drawn, flat, cut, *split))
    state = USUAL_STATES[fastener]
    assert state.draws + state.breaks + state.spins == pytest.approx(1.0)
    assert min(state.draws, state.breaks, state.spins) >= 0.0


def test_bench_is_set_up_once_and_nothing_else_is():
    assert {way for way in Way if USUAL_WAYS[way].fixed_hours} == {Way.FLAT}
