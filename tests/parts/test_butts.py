"""Shift of butts: pass and fail cases of the cited rule, and what the help and the demo show.

US Army TB 55-1900-201-45-1, para 2-13: butts in adjacent planks at least three frame spaces apart;
butts on one frame have at least three solid strakes between. For ceiling as for planking, "none on
the same timber unless three strakes lie between": Great Lakes underwriters' rules, 1866.
"""

import re

import pytest
from fitted_boats import withy

from parts.butts import shift_remarks
from parts.fitted.ceiling import FittedCeiling, _butts_of
from parts.part import Butted


class Length:
    """One length of a strake: only what the rule asks."""

    def __init__(self, strake, *ends, of=16, sides=("starboard", "port")):
        self._butted = Butted(of, strake, ends, sides)

    def butted(self):
        return self._butted


def told(**lengths):
    return shift_remarks(lengths)


@pytest.mark.parametrize(
    ("strakes", "frames", "is_sound"),
    [
        ((4, 5), (10, 13), True),
        ((4, 5), (10, 12), False),
        ((4, 5), (10, 10), False),
        ((4, 6), (10, 10), False),
        ((4, 6), (10, 11), True),
        ((4, 7), (10, 10), False),
        ((4, 8), (10, 10), True),
    ],
    ids=[
        "neighbours three spaces apart",
        "neighbours two spaces apart",
        "neighbours on one frame",
        "one strake between on one frame",
        "one strake between on the next frame",
        "two strakes between on one frame",
        "three strakes between on one frame",
    ],
)
def test_butts_of_the_rule(strakes, frames, is_sound):
    found = told(one=Length(strakes[0], frames[0]), other=Length(strakes[1], frames[1]))
    assert (found == {}) is is_sound
    if not is_sound:
        assert set(found) == {"one", "other"}


def test_remark_names_strakes_frames_rule_and_source():
    (text,) = told(one=Length(1, 10), other=Length(2, 12))["one"]
    assert "neighbouring strakes 1 and 2 are butted on frames 10 and 12, 2 frame spaces" in text
    assert "3 apart at least (US Army TB 55-1900-201-45-1, para 2-13)" in text
    (text,) = told(one=Length(1, 10), other=Length(3, 10))["other"]
    assert "strakes 1 and 3 are both butted on frame 10 with 1 between them; 3 lie between" in text


def test_only_the_lengths_that_end_at_a_bad_butt_are_remarked_on():
    found = told(
        fore=Length(1, 10), middle=Length(1, 10, 17), aft=Length(1, 17), other=Length(2, 11)
    )
    assert set(found) == {"fore", "middle", "other"}


def test_strakes_of_the_other_side_or_of_another_range_are_no_neighbours():
    assert told(one=Length(1, 10, sides=("port",)), other=Length(2, 10, sides=("starboard",))) == {}
    assert told(one=Length(1, 10, of=16), other=Length(2, 10, of=12)) == {}


def test_full_demo_keeps_the_rule():
    butted = [part.butted() for part in withy().parts.values() if part.butted()]
    assert sum(len(one.ends) > 0 for one in butted) > 6
    assert shift_remarks(withy().parts) == {}


def test_example_of_the_help_keeps_the_rule_for_any_number_of_strakes():
    help_text = FittedCeiling.model_fields["butts"].description
    lists = [
        tuple(int(number) for number in re.findall(r"\d+", found))
        for found in re.findall(r"\[[\d, ]+\]", help_text.partition(";")[0])
    ]
    assert len(lists) == 4
    strakes = {str(n): Length(n, *_butts_of(lists, n)) for n in range(1, 17)}
    assert shift_remarks(strakes) == {}
