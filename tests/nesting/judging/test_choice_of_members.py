"""What to save: against every choice tried in turn, and as a builder would decide."""

import os
from dataclasses import replace
from itertools import chain, combinations, product

import numpy as np
import pytest
from scipy.optimize import linprog

from nesting.judging.choice import Verdict, Why, choose
from nesting.judging.old_boat import Fastener, Joint, Member, OldBoat, Rates, State
from nesting.judging.programme import solved
from nesting.judging.question import Question
from nesting.judging.wanted import Wanted
from nesting.judging.ways import Way
from nesting.rules import Rules

INCH = 25.4


def some_boat(seed):
    """Return a boat of four members and a parts list, drawn by lot."""
    chance = np.random.default_rng(seed)
    members = [
        Member(
            f"m{k}", "teak", int(chance.integers(1, 6)), chance.uniform(1200, 3000),
            chance.uniform(80, 200), chance.uniform(25, 40), chance.uniform(0.7, 1.0),
            rests_on=("m0",) if k == 2 else (),
        )
        for k in range(4)
    ]  # fmt: skip
    joints = [
        Joint(
            f"m{a}", f"m{b}", Fastener.SCREW, 5.0, chance.uniform(150, 500),
            int(chance.integers(1, 3)), is_open_behind=a == 1,
        )
        for a, b in ((1, 0), (2, 0), (1, 3))
    ]  # fmt: skip
    wanted = [
        Wanted(f"p{k}", ("teak",), int(chance.integers(4, 30)), chance.uniform(300, 1100),
               chance.uniform(40, 90), 22.0, bool(chance.random() < 0.6), chance.uniform(3, 25))
        for k in range(3)
    ]  # fmt: skip
    boat = OldBoat("x", tuple(members), tuple(joints), Rates(chance.uniform(0.3, 12), 10))
    return Question(boat, tuple(wanted), Rules())


def most_worth(question, saved, ways):
    """Return the most that saved members give, by a programme of its own over parts alone."""
    columns, gains = [], []
    for name in saved:
        lefts = tuple(question.left(j, ways[j], name) for j in question.boat.joints_of[name])
        number = question.sets[name].index(lefts)
        for part, wanted in enumerate(question.wanted):
            most = question.gives.get((name, number, part))
            if most:
                columns.append((name, part, most))
                gains.append(wanted.worth)
    if not columns:
        return 0.0
    rows, limits = [], []
    for name in saved:
        rows.append([1 / most if one == name else 0.0 for one, _, most in columns])
        limits.append(1.0)
    for part, wanted in enumerate(question.wanted):
        rows.append([1.0 if one == part else 0.0 for _, one, _ in columns])
        limits.append(wanted.count)
    return -linprog(-np.array(gains), A_ub=rows, b_ub=limits).fun


def rests_on_split(boat, joint, way, off):
    """Return whether something still rests on the member that a way splits."""
    split = {"split the outer one": joint.of, "split the inner one": joint.to}.get(way.value)
    return any(split in member.rests_on and member.name not in off for member in boat.members)


def best_by_trying(question):
    """Return the net of the best of all choices, each tried."""
    boat, best = question.boat, 0.0
    names = list(boat.by_name)
    for off in chain.from_iterable(combinations(names, n) for n in range(len(names) + 1)):
        if any(below in off and m.name not in off for m in boat.members for below in m.rests_on):
            continue
        parted = [j for j, joint in enumerate(boat.joints) if joint.of in off or joint.to in off]
        for choice in product(*(question.possible(j) for j in parted)):
            ways = dict(zip(parted, choice, strict=True))
            if any(rests_on_split(boat, boat.joints[j], way, off) for j, way in ways.items()):
                continue
            hours = sum(question.hours(*pair) for pair in ways.items())
            hours += sum(question.handling_hours(name) for name in off)
            whole = [
                name for name in off
                if not any(question.left(j, ways[j], name).is_spoiled
                           for j in boat.joints_of[name])
            ]  # fmt: skip
            net = most_worth(question, whole, ways) - boat.rates.hour * hours
            best = max(best, net)
    return best


@pytest.mark.parametrize("seed", range(int(os.environ.get("CHOICES", "3"))))
def test_choice_is_the_best_of_all(seed):
    question = some_boat(seed)
    rates = replace(question.boat.rates, hour=(0.3, 3.0)[seed % 2] * question.boat.rates.hour)
    question = replace(question, boat=replace(question.boat, rates=rates))
    found = solved(question, hour=question.boat.rates.hour)
    assert found.is_proven
    assert found.net == pytest.approx(best_by_trying(question), abs=1e-6)


def test_those_boats_are_no_easy_ones():
    """Some of them are left as they lie, of others one member is saved or more."""
    counts = {
        len(solved(q, hour=3 * share * q.boat.rates.hour).saved)
        for q in map(some_boat, range(6))
        for share in (0.1, 1, 10)
    }
    assert {0, 1} < counts


def deck(*, hour=20.0):
    """Return a deck on its beams: screws 14 in apart in the planks, an inch or two in the beams."""
    members = (
        Member("decking", "teak", 40, 14 * 12 * INCH, 2.25 * INCH, 1.25 * INCH, 0.9,
               rests_on=("deck beam",)),
        Member("deck beam", "white oak", 24, 9 * 12 * INCH, 3 * INCH, 3 * INCH, 0.95),
    )  # fmt: skip
    joint = Joint("decking", "deck beam", Fastener.SCREW, 5.5, 14 * INCH, bung_mm=11.0)
    wanted = (
        Wanted("deck strip", ("teak",), 60, 1200.0, 48.0, 22.0, True, 14.0),
        Wanted("cockpit grating", ("teak",), 80, 300.0, 40.0, 22.0, False, 3.0),
        Wanted("knee blank", ("white oak",), 12, 450.0, 70.0, 40.0, False, 20.0),
    )
    return Question(OldBoat("x", members, (joint,), Rates(hour, 20.0)), wanted, Rules())


def test_decking_is_saved_by_cutting_between_and_its_beams_are_scrap():
    """Common practice, no source: so a builder decides."""
    choice = choose(deck())
    judged = {one.member: one for one in choice.judged}
    assert judged["decking"].verdict is Verdict.SAVE
    assert choice.solved.ways[0] is Way.CUT
    assert judged["deck beam"].verdict is Verdict.SCRAP
    assert judged["deck beam"].why is Why.HOLES
    assert judged["decking"].best.plugged.mean_longest() > 6 * 12 * INCH


def test_good_wood_under_a_bad_deck_is_left_for_what_rests_on_it():
    question = deck()
    beam = replace(question.boat.by_name["decking"], species="spruce")
    sill = Member("sill", "teak", 4, 3000.0, 150.0, 40.0)
    boat = replace(
        question.boat,
        members=(replace(beam, rests_on=("sill",), count=400), sill),
        joints=(replace(question.boat.joints[0], to="sill"),),
    )
    judged = {one.member: one for one in choose(replace(question, boat=boat)).judged}
    assert judged["sill"].verdict is Verdict.SCRAP
    assert judged["sill"].why in (Why.ABOVE, Why.HOURS)
    free = replace(boat, joints=())
    freed = {one.member: one for one in choose(replace(question, boat=free)).judged}
    assert freed["sill"].why is Why.ABOVE or freed["sill"].verdict is Verdict.SAVE


def test_dear_hours_leave_all_of_her_and_cheap_ones_are_told():
    dear = choose(deck(hour=400.0))
    assert not dear.solved.saved
    assert dear.solved.net == 0.0
    decking = dear.judged[0]
    assert decking.why is Why.HOURS
    edge = 0.75 * dear.judged[0].worth / dear.judged[0].hours
    between = choose(deck(hour=2 * edge))
    assert between.judged[0].verdict is Verdict.IF_CHEAP


def test_what_rests_on_a_member_comes_off_before_it():
    for seed in range(6):
        choice = choose(some_boat(seed))
        order = [task.member.name for task in choice.tasks]
        boat = choice.question.boat
        for place, name in enumerate(order):
            for below in boat.by_name[name].rests_on:
                assert below not in order[:place]
        assert sum(task.hours for task in choice.tasks) == pytest.approx(choice.hours)


def framed(*, hour=20.0, ceiling_woods="teak", drawn=1.0):
    """Return planking and ceiling on frames, fastened so that splitting the frames is quickest."""
    members = (
        Member("frame", "white oak", 20, 2400.0, 60.0, 60.0, holds_her=True),
        Member("planking", "teak", 20, 4000.0, 150.0, 30.0, rests_on=("frame",)),
        Member("ceiling", ceiling_woods, 20, 4000.0, 120.0, 30.0, rests_on=("frame",)),
    )
    joints = tuple(
        Joint(of, "frame", Fastener.DRIFT, 6.0, 400.0, 2, state=State(drawn, 1.0 - drawn, 0.0))
        for of in ("planking", "ceiling")
    )
    wanted = (Wanted("strip", ("teak",), 200, 1200.0, 100.0, 22.0, True, 60.0),)
    return Question(OldBoat("x", members, joints, Rates(hour, 20.0)), wanted, Rules())


def test_nothing_is_split_on_which_something_still_rests():
    """Frames split to save the planking would leave the ceiling on nothing."""
    choice = choose(framed(ceiling_woods="spruce"))
    assert "planking" in choice.solved.saved
    splits = [way for way in choice.solved.ways.values() if way is Way.SPLIT_INNER]
    assert not splits or "ceiling" in choice.solved.off


def test_frames_that_cannot_be_split_yet_cost_what_else_rests_on_them():
    """With the ceiling gone the planks are saved by splitting, for what carrying it off costs."""
    free = framed(ceiling_woods="spruce")
    alone = replace(free, boat=replace(free.boat, members=free.boat.members[:2],
                                       joints=free.boat.joints[:1]))  # fmt: skip
    with_ceiling, without = choose(free).solved, choose(alone).solved
    assert without.ways[0] is Way.SPLIT_INNER
    assert with_ceiling.net < without.net - 1.0


def test_what_rests_on_a_split_member_comes_off_before_or_together():
    choice = choose(framed())
    assert {"planking", "ceiling"} <= choice.solved.saved
    assert set(choice.solved.ways.values()) == {Way.SPLIT_INNER}
    first, second = choice.tasks
    assert "ceiling comes off together with it: both rest on what is split" in first.cautions
    assert not second.together
    assert choice.stands_longest == ()


def test_fasteners_that_break_leave_metal_where_they_hold():
    question = deck()
    boat = question.boat
    state = State(0.0, 1.0, 0.0)
    joint = boat.joints[0]
    all_break = Question(
        OldBoat("x", boat.members, (Joint(**{**vars(joint), "state": state}),), boat.rates),
        question.wanted, question.rules,
    )  # fmt: skip
    assert all_break.left(0, Way.DRAW, "decking").metal <= 0.12
    assert all_break.left(0, Way.DRAW, "deck beam").metal == pytest.approx(0.5)
    assert all_break.left(0, Way.CUT, "deck beam").metal == 1.0
    assert all_break.left(0, Way.SPLIT_OUTER, "decking").is_spoiled
    assert not all_break.left(0, Way.SPLIT_OUTER, "deck beam").is_spoiled


def narrow_deck(hour=10.0, *, from_edge=22.0, spacing=16 * INCH, length=1200.0):
    """Return decking 76 mm wide with two rows of screws, and a part nearly as wide."""
    members = (
        Member("decking", "teak", 40, 4270.0, 76.0, 32.0, 0.9, rests_on=("deck beam",)),
        Member("deck beam", "white oak", 26, 2740.0, 100.0, 64.0),
    )
    state = State(0.6, 0.2, 0.2)
    joint = Joint(
        "decking", "deck beam", Fastener.SCREW, 5.0, spacing, 2,
        bung_mm=12.7, from_edge_mm=from_edge, state=state,
    )  # fmt: skip
    wanted = (Wanted("thwart", ("teak",), 30, length, 73.0, 28.0, True, 30.0),)
    return Question(OldBoat("x", members, (joint,), Rates(hour, 20.0)), wanted, Rules())


def decking_of(question):
    return choose(question).judged[0]


def test_a_part_nearly_as_wide_as_its_plank_lies_across_bungs_that_stand_well_inside():
    """12.7 mm bungs 22 mm from the edges keep 6 mm of wood though a screw wanders by 4."""
    judged = decking_of(narrow_deck())
    assert judged.verdict is Verdict.SAVE
    assert judged.given["thwart"] > 20


def test_bungs_that_would_break_the_edges_are_not_called_metal():
    assert decking_of(narrow_deck(from_edge=11.0)).why is Why.BUNGS


def test_more_bungs_in_a_metre_than_the_rules_allow_are_not_called_metal():
    assert decking_of(narrow_deck(spacing=300.0)).why is Why.BUNGS
    assert decking_of(narrow_deck(spacing=340.0)).why is not Why.BUNGS


def test_a_hole_that_no_bung_closes_is_not_plugged():
    question = narrow_deck()
    small = replace(question.rules, plug_sizes_mm=(9.525, 12.7))
    assert decking_of(replace(question, rules=small)).why is Why.BUNGS


def test_wood_that_is_too_dear_is_not_called_full_of_metal():
    judged = decking_of(narrow_deck(hour=900.0))
    assert judged.why is Why.HOURS and judged.worth > 0


@pytest.mark.parametrize("from_edge", [12.0, 19.0, 26.0, 33.0])
@pytest.mark.parametrize("width", [20.0, 38.0, 50.0, 66.0, 75.0])
def test_a_plank_turned_end_for_end_takes_the_same_parts(width, from_edge):
    part = Wanted("strip", ("teak",), 1, 500.0, width, 28.0, True, 1.0)

    def takes(edge):
        question = narrow_deck()
        joint = replace(question.boat.joints[0], rows=1, from_edge_mm=edge)
        boat = replace(question.boat, joints=(joint,))
        return replace(question, boat=boat).yields["decking", 0].may_plug(part)

    assert takes(from_edge) == takes(76.0 - from_edge)
