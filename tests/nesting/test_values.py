"""What a script holds are values: copied or pickled they are equal, and equal ones hash alike."""

import copy
import pickle
from dataclasses import FrozenInstanceError

import pytest

import nesting as n

RUNG = n.part_from_outline([(0, 0), (500, 0), (500, 40), (0, 40)], 20)
KNEE = n.family("knee")(
    kind="hanging", siding=38, beam_arm=250, side_arm=300, throat=110, tip_moulding=40
)
BOARD = n.Board.rectangle(
    "D-1", 1200, 400, 45, "teak",
    keep_outs=[n.circle("metal", 900, 20, 8), n.slot("split", (0, 9), (90, 9), 2)],
)  # fmt: skip
RULES = n.Rules(clearances_mm={"rot": 12.0}, plug_sizes_mm=[10, 13])


def packed():
    needs = [
        n.Need.of("rung", RUNG, ["teak"], quantity=9, holes="plugged"),
        n.Need.of("knee", KNEE, ["teak", "white oak"]),
    ]
    wishes = [n.Wish(part="rung", from_boards="pile"), n.Wish(board=["D-1"], use="first")]
    groups = {"pile": ["D-1"]}
    return n.pack(needs, [BOARD], RULES, rounds=0, wishes=wishes, groups=groups)


PLAN = packed()
VALUES = {
    "board": BOARD, "keep-out": BOARD.keep_outs[1], "grain": n.GrainPath([[0, 0], [900, 9]]),
    "part": RUNG, "knee": KNEE, "outline": KNEE.outline(), "bevel": n.Bevel("top", 9.0, 2.0),
    "zone": n.BearingZone(RUNG.outline().shape, "end"), "mark": n.Mark("bolt", [(9, 9)]),
    "need": PLAN.needs[1], "rules": RULES, "least offcut": n.LeastOffcut(300, 60),
    "placement": PLAN.nests[0].placements[0], "nest": PLAN.nests[0], "plan": PLAN,
    "wish": n.Wish(board=["D-1"], use="first"), "wishes": PLAN.wishes,
    "account": n.account_for(PLAN), "shares": n.account_for(PLAN).area,
    "fault": n.Fault("trim", "D-1", "1 mm"),
}  # fmt: skip


@pytest.mark.parametrize("name", VALUES)
def test_value_is_equal_to_its_copies_and_hashes_as_they_do(name):
    value = VALUES[name]
    copies = copy.copy(value), copy.deepcopy(value), pickle.loads(pickle.dumps(value))
    for other in copies:
        assert other == value
        assert hash(other) == hash(value)
    assert len({value, *copies}) == 1
    assert value != name


@pytest.mark.parametrize("name", ["board", "outline", "need", "rules", "nest", "plan", "wish"])
def test_value_cannot_be_changed_in_place(name):
    value = VALUES[name]
    field = next(iter(vars(value)))
    with pytest.raises(FrozenInstanceError):
        setattr(value, field, None)


def test_same_project_packed_twice_is_one_plan():
    assert len({PLAN, packed()}) == 1
