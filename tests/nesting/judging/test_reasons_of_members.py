"""Why a member is saved or not, one small boat for each reason; hours and worth worked out anew."""

from dataclasses import replace
from itertools import product

import pytest
from test_choice_of_members import most_worth, some_boat

from nesting.judging.choice import CHEAP_SHARE, Verdict, Why, choose
from nesting.judging.old_boat import Fastener, Joint, Member, OldBoat, Rates, State
from nesting.judging.programme import solved
from nesting.judging.question import HANDLING_MINUTES, Question
from nesting.judging.wanted import Wanted
from nesting.judging.ways import USUAL_WAYS, Way, WayFigures
from nesting.rules import Rules

ALL_DRAW, ALL_BREAK = State(1.0, 0.0, 0.0), State(0.0, 1.0, 0.0)
STRIP = Wanted("strip", ("teak",), 100, 500.0, 60.0, 22.0, True, 10.0)


def member(name="plank", count=10, **how):
    return replace(Member(name, "teak", count, 2000.0, 80.0, 30.0), **how)


def joint(of, to, **how):
    usual = Joint(of, to, Fastener.SCREW, 5.0, 500.0, state=ALL_DRAW)
    return replace(usual, **how)


def question(members, joints=(), wanted=(STRIP,), *, hour=10.0, **rules):
    boat = OldBoat("x", tuple(members), tuple(joints), Rates(hour, 20.0))
    return Question(boat, tuple(wanted), Rules(**rules))


def judged(*asked, **how):
    return {one.member: one for one in choose(question(*asked, **how)).judged}


FRAME = member("frame", species="oak")


# --- nothing to be had ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    "how",
    [
        {"species": "oak"},
        {"thickness_mm": 23.0},
        {"length_mm": 499.0},
        {"width_mm": 59.0},
    ],
)
def test_member_that_no_part_takes_is_told_so(how):
    """Strips are 22 thick and cleaned by nothing: what is 23 thick lacks the strip of 24 below."""
    thick = replace(STRIP, rough_mm=24.0)
    one = judged([member(**how)], wanted=[thick])["plank"]
    assert (one.verdict, one.why) == (Verdict.SCRAP, Why.NO_PART)
    assert judged([member()], wanted=[thick])["plank"].why is Why.WORTH


@pytest.mark.parametrize(
    ("holes", "state", "why"),
    [(True, ALL_BREAK, Why.METAL), (False, ALL_DRAW, Why.HOLES), (False, ALL_BREAK, Why.HOLES)],
)
def test_what_stands_in_the_way_of_any_part_is_told(holes, state, why):
    """A row in the middle of 80 leaves no 60 beside it, and between screws there is no 500."""
    wanted = [replace(STRIP, takes_holes=holes)]
    beam = joint("deck", "plank", spacing_mm=400.0, state=state)
    deck = member("deck", species="oak")
    figures = {way: replace(one, success=0.0, by_kind={}) for way, one in USUAL_WAYS.items()}
    asked = replace(question([member(), deck], [beam], wanted), ways=figures)
    (one, _) = choose(asked).judged
    assert (one.verdict, one.why, one.worth) == (Verdict.SCRAP, why, 0.0)


def test_part_that_takes_holes_is_asked_where_another_takes_none():
    """The clear part cannot be had, and the other would have to lie across too many bungs."""
    clear = replace(STRIP, part="clear", takes_holes=False)
    found = judged([member(), FRAME], [joint("plank", "frame", spacing_mm=100.0)], [clear, STRIP])
    assert found["plank"].why is Why.BUNGS
    only = judged([member(), FRAME], [joint("plank", "frame", spacing_mm=100.0)], [clear])
    assert only["plank"].why is Why.HOLES


def test_pieces_glued_to_each_other_cannot_be_had_whole_and_their_hours_can_be_told():
    """No blade parts them, and whichever is split, each of them is the split one somewhere."""
    lap = joint("plank", "plank", is_glued=True)
    found = choose(question([member()], [lap]))
    (one,) = found.judged
    assert (one.verdict, one.why, one.worth) == (Verdict.SCRAP, Why.GLUED, 0.0)
    assert one.best is None
    broken = 10 * 4 * USUAL_WAYS[Way.BREAK].minutes / 60
    assert one.hours == pytest.approx(broken + 10 * HANDLING_MINUTES / 60)
    assert choose(question([member(species="oak")], [lap])).judged[0].why is Why.NO_PART


# --- something to be had, and not for this -------------------------------------------------------


def test_same_wood_from_another_member_for_less_is_told():
    few = [replace(STRIP, count=20)]
    members = [member("easy"), member("hard"), FRAME]
    joints = [joint("easy", "frame"), joint("hard", "frame", spacing_mm=340.0)]
    found = judged(members, joints, few, hour=1.0)
    assert found["easy"].verdict is Verdict.SAVE
    assert (found["hard"].verdict, found["hard"].why) == (Verdict.SCRAP, Why.OTHERS)


def test_what_lies_on_a_member_costs_more_than_that_gives():
    above = member("deck", 400, species="oak", rests_on=("plank",))
    found = judged([member(), above])["plank"]
    assert (found.why, found.verdict) == (Why.ABOVE, Verdict.IF_CHEAP)
    # The same deck beside it costs nothing.
    assert judged([member(), replace(above, rests_on=())])["plank"].verdict is Verdict.SAVE


def test_of_two_glued_together_the_one_that_gives_less_is_spoiled_for_the_other():
    dear = replace(STRIP, part="dear", species=("mahogany",), worth=30.0)
    members = [member(), member("inner", species="mahogany")]
    found = judged(members, [joint("plank", "inner", is_glued=True)], [STRIP, dear])
    assert found["inner"].verdict is Verdict.SAVE
    assert (found["plank"].verdict, found["plank"].why) == (Verdict.SCRAP, Why.SPOILED)
    # Where it is worth less than its hours it would not be had anyway.
    poor = [replace(STRIP, worth=0.001), dear]
    worse = judged(members, [joint("plank", "inner", is_glued=True)], poor)
    assert worse["plank"].why is Why.HOURS


def test_member_worth_its_hours_at_half_their_price_is_saved_if_they_are_cheap():
    """Its hours: ten pieces of four screws, each cut and punched out in 0.9 min, carried off."""
    hours = 10 * (4 * 0.9 + HANDLING_MINUTES) / 60
    members, joints = [member(), FRAME], [joint("plank", "frame")]
    worth = judged(members, joints)["plank"].worth
    for share, verdict in ((0.98, Verdict.SAVE), (1.02, Verdict.IF_CHEAP), (1.96, Verdict.IF_CHEAP),
                           (2.04, Verdict.SCRAP)):  # fmt: skip
        one = judged(members, joints, hour=share * worth / hours)["plank"]
        assert one.verdict is verdict, share
        assert one.hours == pytest.approx(hours)
        assert one.why is (Why.WORTH if verdict is Verdict.SAVE else Why.HOURS)
    assert CHEAP_SHARE == 0.5


def test_part_may_be_as_long_and_as_wide_as_its_member_and_worth_next_to_nothing():
    tight = replace(STRIP, length_mm=2000.0, width_mm=80.0, rough_mm=30.0, worth=0.01)
    one = judged([member()], wanted=[tight], hour=1e-3)["plank"]
    assert (one.verdict, one.worth) == (Verdict.SAVE, pytest.approx(10 * 0.01))


def test_piece_expected_as_good_as_never_is_none():
    """Of one plank with rot in most of it a twentieth of a strip is none, twice as much is one."""
    for sound, why in ((0.01, Why.METAL), (0.5, Why.HOURS)):
        rotten = member(count=1, length_mm=500.0, sound=sound)
        deck = joint("plank", "frame", state=ALL_DRAW)
        one = judged([rotten, FRAME], [deck], hour=1000.0)["plank"]
        assert one.why is why


# --- hours and worth ------------------------------------------------------------------------------


def by_itself(asked, name):
    """Return the most that a member pulled for itself is worth beyond its hours, all tried."""
    joints = asked.boat.joints_of[name]
    best = None
    for ways in product(*(asked.possible(one) for one in joints)):
        parted = dict(zip(joints, ways, strict=True))
        if any(asked.left(one, way, name).is_spoiled for one, way in parted.items()):
            continue
        hours = asked.handling_hours(name) + sum(asked.hours(*pair) for pair in parted.items())
        worth = most_worth(asked, [name], parted)
        merit = worth > 1e-9, worth - asked.boat.rates.hour * hours
        best = merit if best is None else max(best, merit)
    return best


@pytest.mark.parametrize("seed", range(8))
def test_what_is_not_saved_has_the_hours_and_worth_of_the_best_of_its_own_ways(seed):
    asked = some_boat(seed)
    dear = replace(asked.boat.rates, hour=400 * asked.boat.rates.hour)
    asked = replace(asked, boat=replace(asked.boat, rates=dear))
    left = [one for one in choose(asked).judged if one.verdict is not Verdict.SAVE]
    assert left
    for one in left:
        gives, merit = by_itself(asked, one.member)
        assert (one.worth > 0.0) is gives
        assert one.worth - dear.hour * one.hours == pytest.approx(merit)


@pytest.mark.parametrize("seed", range(6))
def test_sums_of_what_is_saved_are_those_of_the_choice(seed):
    asked = some_boat(seed)
    asked = replace(asked, boat=replace(asked.boat, rates=Rates(0.5, 10)))
    choice = choose(asked)
    saved = [one for one in choice.judged if one.verdict is Verdict.SAVE]
    assert {one.member for one in saved} == choice.solved.saved
    assert saved
    assert sum(one.worth for one in saved) == pytest.approx(choice.worth)
    assert choice.worth - 0.5 * choice.hours == pytest.approx(choice.solved.net)
    for one in saved:
        named = {asked.wanted[part].part: count for (name, part), count
                 in choice.solved.given.items() if name == one.member}  # fmt: skip
        assert one.given == named
        ways = {k: choice.solved.ways[k] for k in asked.boat.joints_of[one.member]}
        hours = sum(asked.hours(*pair) for pair in ways.items())
        assert one.hours == pytest.approx(hours + asked.handling_hours(one.member))
        lefts = tuple(asked.left(k, way, one.member) for k, way in ways.items())
        assert tuple(line.left for line in one.best.lines) == lefts
    for part, wanted in enumerate(asked.wanted):
        given = sum(n for (_, other), n in choice.solved.given.items() if other == part)
        assert given <= wanted.count + 1e-6


def test_member_not_saved_is_shown_in_the_ways_that_leave_least_metal():
    figures = dict(USUAL_WAYS) | {
        Way.DRAW: WayFigures(1.0, 1.0, 1.0), Way.CUT: WayFigures(0.1, 0.1, 0.5)
    }  # fmt: skip
    asked = question([member(), FRAME], [joint("plank", "frame", spacing_mm=50.0)], hour=1e4)
    one = choose(replace(asked, ways=figures)).judged[0]
    assert one.verdict is Verdict.SCRAP
    assert [line.left.metal for line in one.best.lines] == pytest.approx([0.05])


# --- what it hangs on -----------------------------------------------------------------------------


def test_doubts_are_told_by_the_best_choice_at_either_end_of_each():
    """Minutes by half, drawing by 0.2 and sound wood by 0.15, each at its worse end first."""
    lot = [member(count=3, sound=0.8), FRAME]
    state = State(0.5, 0.3, 0.2)
    slow_cut = {way: replace(one, by_kind={}) for way, one in USUAL_WAYS.items()}
    slow_cut |= {way: WayFigures(50.0) for way in Way if way is not Way.DRAW}
    asked = question(lot, [joint("plank", "frame", state=state)], hour=3.0)
    asked = replace(asked, ways=slow_cut)
    choice = choose(asked)

    def net(**how):
        other = replace(asked, **how)
        return solved(other, hour=3.0).net

    def boat(sound, draws):
        rest = 1.0 - draws
        held = joint("plank", "frame", state=State(draws, 0.6 * rest, 0.4 * rest))
        frame = replace(FRAME, sound=min(1.0, sound + 0.1))
        return OldBoat("x", (replace(lot[0], sound=sound), frame), (held,), asked.boat.rates)

    def slowed(by):
        return {
            way: replace(one, minutes=by * one.minutes, stubborn_minutes=by * one.stubborn_minutes)
            for way, one in slow_cut.items()
        }

    ends = [
        (net(ways=slowed(1.5)), net(ways=slowed(0.5))),
        (net(boat=boat(0.8, 0.3)), net(boat=boat(0.8, 0.7))),
        (net(boat=boat(0.65, 0.5)), net(boat=boat(0.95, 0.5))),
    ]
    assert len(choice.doubts) == 3
    for doubt, (low, high) in zip(choice.doubts, ends, strict=True):
        assert (doubt.low_net, doubt.high_net) == pytest.approx((low, high), rel=2e-3)
        assert doubt.low_net < choice.solved.net < doubt.high_net


def test_verdicts_that_a_doubt_changes_are_named():
    """What just pays its hours does not where they are half as many again, the other does."""
    sure = member("sure", species="mahogany")
    dear = replace(STRIP, part="dear", species=("mahogany",), worth=100.0)
    members = [member(), sure, FRAME]
    joints = [joint("plank", "frame"), joint("sure", "frame")]
    worth = judged(members, joints, [STRIP, dear])["plank"].worth
    hour = 0.9 * worth / (10 * (4 * 0.9 + HANDLING_MINUTES) / 60)
    choice = choose(question(members, joints, [STRIP, dear], hour=hour))
    assert choice.solved.saved == {"plank", "sure"}
    minutes, draws, sound = choice.doubts
    assert minutes.changed == ("plank",)
    assert "sure" not in draws.changed + sound.changed


def test_hopelessly_rotten_wood_is_doubted_down_to_a_twentieth_and_no_farther():
    """A share of sound wood of nothing would leave nothing to judge by."""
    choice = choose(question([member(sound=0.1)], hour=0.01))
    asked = question([member(sound=0.05)], hour=0.01)
    assert choice.doubts[2].low_net == pytest.approx(solved(asked, hour=0.01).net, rel=2e-3)


def test_boat_that_gives_nothing_is_left_as_she_lies_and_that_is_proven():
    found = solved(question([member(species="oak")]), hour=1.0)
    assert (found.net, found.bound, found.saved, found.ways) == (0.0, 0.0, frozenset(), {})
    assert found.is_proven
