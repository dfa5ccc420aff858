"""An old boat's own figures: volumes, shares, what rests on what, prices; limits of its file."""

import pytest
from test_old_boat_file import BOAT, read

from nesting.errors import ProjectFileError
from nesting.judging.old_boat import Fastener, Joint, Member, OldBoat, Rates, State

RATES = Rates(20.0, 10.0, {"teak": 40.0})


def member(name, *rests_on, count=1, **how):
    return Member(name, "teak", count, 1000.0, 100.0, 30.0, rests_on=rests_on, **how)


def test_board_feet_are_of_all_pieces_and_of_rotten_ones_too():
    one = 1000 * 100 * 30 / (144 * 25.4**3)
    assert member("plank", count=5, sound=0.5).board_feet == pytest.approx(5 * one)


@pytest.mark.parametrize(
    ("more", "state"),
    [
        (0.2, State(0.8, 0.15, 0.05)),
        (-0.3, State(0.3, 0.525, 0.175)),
        (0.9, State(1.0, 0.0, 0.0)),
        (-0.9, State(0.0, 0.75, 0.25)),
    ],
)
def test_what_does_not_draw_breaks_or_spins_as_before(more, state):
    found = State(0.6, 0.3, 0.1).drawing(more)
    assert (found.draws, found.breaks, found.spins) == pytest.approx(
        (state.draws, state.breaks, state.spins)
    )


def test_of_fasteners_that_all_drew_those_that_do_not_any_more_break():
    assert State(1.0, 0.0, 0.0).drawing(-0.25) == State(0.75, 0.25, 0.0)


def test_all_that_rests_on_a_member_comes_off_before_it_however_far_up():
    members = (
        member("keel"), member("floors", "keel"), member("frames", "floors", "keel"),
        member("planking", "frames"), member("rail", "stem"), member("stem"),
    )  # fmt: skip
    boat = OldBoat("x", members, (), RATES)
    assert boat.above(["keel"]) == {"floors", "frames", "planking"}
    assert boat.above(["planking"]) == set()
    assert boat.above(["frames", "stem"]) == {"planking", "rail"}


def test_fasteners_are_counted_and_spaced_by_rows_pieces_and_lengths():
    deck, beams = member("deck", count=10), member("beams", count=3)
    joint = Joint("deck", "beams", Fastener.SCREW, 5.0, 240.0, 2)
    boat = OldBoat("x", (deck, beams), (joint,), RATES)
    # Four places along each of ten, two at each; 3000 mm of beams hold them.
    assert boat.fasteners_in(joint) == 80
    assert boat.spacing_on(joint, "deck") == 240.0
    assert boat.spacing_on(joint, "beams") == pytest.approx(3000 / 80)
    assert (joint.name, joint.other("deck"), joint.other("beams")) == (
        "deck to beams", "beams", "deck",
    )  # fmt: skip
    far = Joint("deck", "beams", Fastener.SCREW, 5.0, 2400.0)
    assert boat.fasteners_in(far) == 10


def test_rates_are_the_file_s_own_and_woods_are_found_by_any_of_their_names(tmp_path):
    priced = BOAT.replace("by_wood: {teak: 40}", "by_wood: {Teak: 40}, currency: crowns")
    rates = read(tmp_path, priced)[0].rates
    assert (rates.hour, rates.board_foot, rates.currency) == (20, 10, "crowns")
    assert (rates.of("teak"), rates.of("white oak")) == (40, 10)
    assert read(tmp_path, BOAT)[0].rates.currency == ""


@pytest.mark.parametrize(("sound", "share"), [("100", 1.0), ("1.5", 0.015)])
def test_sound_is_a_share_in_percent(tmp_path, sound, share):
    boat = read(tmp_path, BOAT.replace("count: 20", f"count: 20, sound: {sound}"))[0]
    assert boat.by_name["decking"].sound == pytest.approx(share)


@pytest.mark.parametrize("sound", ["1", "0.5", "0", "-1", "101"])
def test_share_that_is_no_percentage_is_refused(tmp_path, sound):
    with pytest.raises(ProjectFileError, match=r"old.yaml:9.*sound"):
        read(tmp_path, BOAT.replace("count: 20", f"count: 20, sound: {sound}"))


def joint(text):
    return f"{BOAT}joints:\n  - {{of: decking, to: deck beam, {text}}}\n"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("state: {draws: 60, breaks: 30, spins: 9}", "make 99 %, must make 100 %"),
        ("state: {draws: 60, breaks: 30, spins: 11}", "make 101 %, must make 100 %"),
        ("from_edge: 2 1/4", "2 1/4 in from the edge of decking, 2 1/4 in wide"),
        ("rows: 2, from_edge: 1 1/8", "from both edges of decking"),
    ],
)
def test_joint_that_cannot_be_is_refused(tmp_path, text, told):
    with pytest.raises(ProjectFileError, match=told):
        read(tmp_path, joint(text))


def test_joint_as_near_the_limits_as_may_be_is_read(tmp_path):
    shares = joint("state: {draws: 60, breaks: 30, spins: 10}, rows: 2, from_edge: 1/2, glued: yes")
    (found,) = read(tmp_path, shares)[0].joints
    assert (found.rows, found.from_edge_mm, found.is_glued) == (2, 12.7, True)
    assert found.state == State(0.6, 0.3, 0.1)
    assert read(tmp_path, joint("rows: 1"))[0].joints[0].is_glued is False
