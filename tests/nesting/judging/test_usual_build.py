"""What is usual in boats of a build: tables that hang together, and the screw for a plank."""

from graphlib import TopologicalSorter
from itertools import pairwise

import pytest

from nesting.judging.old_boat import Fastener
from nesting.judging.usual_build import JOINTS, MEMBERS, SCREWS, USUAL_MM, Build, Step, screw_for

INCH = 25.4


def test_every_usual_joint_is_between_usual_members_and_given_once():
    for build, joints in JOINTS.items():
        pairs = [(joint.of, joint.to) for joint in joints]
        assert len({frozenset(pair) for pair in pairs}) == len(pairs), build
        assert {name for pair in pairs for name in pair} <= set(MEMBERS)


def test_members_rest_on_usual_ones_in_no_ring_and_the_keel_on_nothing():
    below = {name: member.rests_on for name, member in MEMBERS.items()}
    assert {name for names in below.values() for name in names} <= set(MEMBERS)
    order = list(TopologicalSorter(below).static_order())
    assert sorted(order) == sorted(MEMBERS)
    assert [name for name, names in below.items() if not names] == ["keel"]


def test_what_rests_on_a_member_is_fastened_to_it_or_to_what_stands_with_it():
    """All that comes off first is held by some joint: or it would cost nothing to take off."""
    for build in (Build.CARVEL, Build.CLINKER):
        held = {name for joint in JOINTS[build] for name in (joint.of, joint.to)}
        assert set(MEMBERS) <= held


def test_every_usual_joint_says_how_its_fasteners_are_spaced_in_one_way():
    for joints in JOINTS.values():
        for joint in joints:
            assert (joint.step is None) is (joint.each > 0), joint
            assert joint.rows >= 1
            assert isinstance(joint.step, Step) or joint.step is None or 50 < joint.step < 500


def test_planking_alone_can_be_got_at_from_inside_and_frames_are_drifted_or_nailed_to_the_keel():
    carvel, clinker = JOINTS[Build.CARVEL], JOINTS[Build.CLINKER]
    for joints in (carvel, clinker):
        assert {one.of for one in joints if one.is_open_behind} == {"hull planking"}
    assert "hull planking" in {one.to for one in clinker}  # its laps
    assert "hull planking" not in {one.to for one in carvel}
    ends = [next(one for one in joints if (one.of, one.to) == ("frame", "keel"))
            for joints in (carvel, clinker)]  # fmt: skip
    assert [one.fastener for one in ends] == [Fastener.DRIFT, Fastener.NAIL]
    assert JOINTS[Build.OTHER] == ()


def test_thicker_planks_have_thicker_screws_and_no_smaller_bungs_that_cover_their_heads():
    for thin, thick in pairwise(SCREWS):
        assert thick.plank_mm > thin.plank_mm
        assert thick.diameter_mm > thin.diameter_mm
        assert thick.bung_mm >= thin.bung_mm
    for size in SCREWS:
        # A flat head is nearly twice as wide as its shank (ASME B18.6.1, from memory).
        assert 1.4 * size.diameter_mm < size.bung_mm < 0.9 * size.plank_mm
        # Three screws side by side would still be thinner than the plank and half again.
        assert 0.15 < size.diameter_mm / size.plank_mm < 0.4


@pytest.mark.parametrize(
    ("plank", "rule"),
    [
        (3 / 16, 3 / 8),  # thinner than any in the rule
        (3 / 8, 3 / 8),
        (0.43, 7 / 16),  # by less than half a millimetre
        (0.40, 3 / 8),
        (3 / 4, 3 / 4),
        (0.86, 7 / 8),
        (0.85, 3 / 4),
        (6, 2),
    ],
)
def test_screw_is_that_of_the_thickest_plank_that_is_no_thicker(plank, rule):
    assert screw_for(plank * INCH).plank_mm == pytest.approx(rule * INCH)


def test_fasteners_are_as_thick_as_their_kind():
    assert USUAL_MM[Fastener.STAPLE] < USUAL_MM[Fastener.RIVET] < USUAL_MM[Fastener.WIRE_NAIL]
    assert USUAL_MM[Fastener.WIRE_NAIL] < USUAL_MM[Fastener.BOLT] == USUAL_MM[Fastener.DRIFT]
    assert USUAL_MM[Fastener.BOLT] < USUAL_MM[Fastener.TREENAIL] == pytest.approx(INCH, abs=1.0)
