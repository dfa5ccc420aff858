"""Wishes from a script: said, looked up, heeded, and asked for by the referee."""

import copy
import pickle
from dataclasses import replace

import numpy as np
import pytest

import nesting as n
from nesting.front_door.packing import Plan
from nesting.project.wish_entry import WishEntry
from nesting.referee.wishes import check_wishes

BAR = n.part_from_outline([(0, 0), (500, 0), (500, 40), (0, 40)], 20)
GROUPS = {"port": ["B-0", "B-1"]}


def need(count=2, part="bar"):
    return n.Need.of(part, BAR, ["teak"], quantity=count)


def boards(count=3, **more):
    return [
        n.Board.rectangle(f"B-{k}", 1300, 60, 26, "teak", member="deck" * (k == 2), **more)
        for k in range(count)
    ]


def packed(*wishes, needs=None, stock=None, **more):
    plan = n.pack(needs or [need()], stock or boards(), rounds=0, wishes=wishes, **more)
    n.require_sound(plan)
    return plan


def lie_on(plan):
    return {p.label: nest.board.name for nest in plan.nests for p in nest.placements}


def test_parts_come_from_where_they_are_wanted():
    assert set(lie_on(packed(n.Wish(part="bar", from_boards="deck"))).values()) == {"B-2"}
    off = packed(n.Wish(part=["bar"], not_from=["port", "B-9"][:1]), groups=GROUPS)
    assert set(lie_on(off).values()) == {"B-2"}
    single = packed(n.Wish(part="bar, 2 of 2", from_boards="B-1"))
    assert lie_on(single)["bar, 2 of 2"] == "B-1"


@pytest.mark.parametrize("use", ["held back", "kept whole"])
def test_boards_held_back_or_kept_whole_are_left(use):
    plan = packed(n.Wish(board="port", use=use), groups=GROUPS)
    assert set(lie_on(plan).values()) == {"B-2"}


def test_board_wanted_first_is_used_up_first():
    assert set(lie_on(packed(n.Wish(board="B-2", use="first"))).values()) == {"B-2"}


def test_part_left_over_for_a_wish_is_told_so():
    plan = packed(n.Wish(board=["port", "B-2"], use="held back"), groups=GROUPS)
    (left,) = plan.unplaced
    assert (left.count, left.reason) == (2, n.Misfit.WISHED)
    assert "wish 1" in " ".join(left.prospect.wishes)


def test_wish_with_a_price_leaves_no_part_over():
    plan = packed(n.Wish(board=["port", "B-2"], use="held back", price="9 m2"), groups=GROUPS)
    assert plan.unplaced == ()


def test_pieces_match_on_one_board_or_neighbours():
    one = packed(n.Wish(match="bar"), needs=[need(2)], stock=boards(2))
    assert len(set(lie_on(one).values())) == 1
    wish = n.Wish(match="bar", how="neighbouring boards")
    near = packed(wish, needs=[need(4)], stock=boards(3), groups={"row": ["B-0", "B-1", "B-2"]})
    assert set(lie_on(near).values()) in ({"B-0", "B-1"}, {"B-1", "B-2"})


def test_mirrored_pair_lies_over_each_other_on_leaves():
    leaves = [n.Board.rectangle(f"D/{k}", 600, 60, 26, "teak") for k in (1, 2)]
    plan = packed(n.Wish(match="bar", how="mirrored"), stock=leaves)
    (first,), (second,) = (nest.placements for nest in plan.nests)
    assert first.polygon.symmetric_difference(second.polygon).area < 1e-6


def test_pieces_of_a_later_stage_are_kept_in_view():
    wishes = [n.Wish(part="bar, 2 of 2", stage=2)]
    plan = packed(*wishes, stage=1)
    assert list(lie_on(plan)) == ["bar, 1 of 2"]
    assert plan.unplaced[0].reason is n.Misfit.LATER
    assert len(lie_on(packed(*wishes, stage=2))) == 2


def test_last_plan_stays_where_nothing_stands_against_it(tmp_path):
    was = packed(n.Wish(board="B-1", use="first"))
    again = packed(last=was, needs=was.needs, stock=was.boards)
    assert again.nests == was.nests
    # Without the last plan the same boards are filled otherwise.
    assert packed().nests != was.nests
    fixed = packed(n.Wish(fixed="bar"), last=was)
    assert fixed.nests == was.nests
    assert {at.board for at in fixed.fixed} == {"B-1"}
    n.write(fixed, tmp_path, name="Bars")
    read = n.read_plan(tmp_path, fixed.needs, fixed.boards, wishes=[n.Wish(fixed="bar")])
    assert n.remeasured(read, tmp_path, name="Bars") == ()
    assert read.fixed == fixed.fixed


def test_referee_asks_for_every_wish_that_is_a_must():
    plan = packed(n.Wish(part="bar", from_boards="B-1"))
    other = replace(plan, nests=tuple(replace(nest, board=boards()[0]) for nest in plan.nests))
    assert isinstance(other, Plan)
    with pytest.raises(n.RefereeError, match=r"board B-0: wish 1: .*bar"):
        n.require_sound(other)
    with pytest.raises(n.RefereeError):
        n.write(other, "nowhere")
    priced = packed(n.Wish(part="bar", from_boards="B-1", price="1 m2"))
    other = replace(other, wishes=priced.wishes)
    assert n.check_plan(other) == check_wishes(other, other.wishes) == ()


@pytest.mark.parametrize(
    ("wish", "says"),
    [
        ({}, "says of nothing what is wished"),
        ({"part": "bar"}, "one of from, not_from or stage"),
        ({"part": "bar", "from_boards": "B", "not_from": "C"}, "has from and not_from"),
        ({"board": "B-0", "use": "burnt"}, "held back"),
        ({"board": "B-0", "use": "first", "price": "5"}, "'5' is no area of wood"),
        ({"board": "B-0", "use": "first", "how": "one board"}, "how goes with match"),
        ({"part": "bar", "stage": 0}, "stage"),
        ({"match": "bar", "how": "side by side"}, "one board"),
    ],
    ids=str,
)
def test_wish_that_says_nothing_that_can_be_heeded_is_refused_at_once(wish, says):
    with pytest.raises(n.JobError, match=says):
        n.Wish(**wish)


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"wishes": [n.Wish(part="bra", from_boards="B-0")]}, "did you mean bar"),
        ({"wishes": [n.Wish(board="deckk", use="first")]}, "wish 1: board: .*did you mean deck"),
        ({"wishes": n.Wish(match="bar")}, "wishes is one Wish, must be a list"),
        ({"wishes": ["bar"]}, "wishes holds 'bar'"),
        ({"wishes": [n.Wish(match="bar, 1 of 2")]}, "this is one piece"),
        ({"wishes": [n.Wish(match="bar", how="mirrored")]}, "none is resawn"),
        ({"wishes": [n.Wish(fixed="bar")]}, "lies nowhere in any plan: give last="),
        ({"groups": {"port": ["B-7"]}}, "'B-7' is no board"),
        ({"groups": ["B-0"]}, "groups are"),
        ({"stage": 0}, "stage is 0"),
        ({"moving": "1 m2"}, "moving goes with last"),
        ({"last": "plan"}, "last is no plan"),
    ],
    ids=str,
)
def test_what_cannot_be_heeded_is_refused_with_the_name(more, says):
    with pytest.raises((n.JobError, n.ShapeError), match=says):
        n.pack([need()], boards(), rounds=0, **more)


def test_wish_of_a_script_says_all_that_one_of_a_file_may():
    names = {field.alias or name for name, field in WishEntry.model_fields.items()}
    ours = {"from" if name == "from_boards" else name for name in n.Wish.__dataclass_fields__}
    assert ours == names


NAMED = {
    "fixed": {}, "part": {"from_boards": "B-1"}, "from_boards": {"part": "bar"},
    "not_from": {"part": "bar"}, "board": {"use": "first"}, "match": {},
}  # fmt: skip


@pytest.mark.parametrize("name", NAMED)
def test_wish_is_the_same_however_its_names_are_listed(name):
    one, *others = [
        n.Wish(**NAMED[name], **{name: given})
        for given in ("bar", ["bar"], ("bar",), np.array(["bar"]))
    ]
    assert all(other == one and hash(other) == hash(one) for other in others)
    assert pickle.loads(pickle.dumps(one)) == copy.deepcopy(one) == one


@pytest.mark.parametrize("name", NAMED)
def test_wish_keeps_its_names_whatever_becomes_of_their_list(name):
    names = ["bar", "rung"]
    wish = n.Wish(**NAMED[name], **{name: names})
    names.append(7)
    assert wish == n.Wish(**NAMED[name], **{name: ("bar", "rung")})


@pytest.mark.parametrize("name", NAMED)
@pytest.mark.parametrize(
    ("given", "told"),
    [
        (7, "is 7, must be a list of texts"),
        ({"bar"}, "is a set, must be a list of texts"),
        (b"bar", "is a bytes, must be a list of texts"),
        ((each for each in ["bar"]), "is a generator, must be a list of texts"),
        (need(), "is a Need, must be a list of texts"),
        ([need()], "is a Need, must be a text"),
        ([], "names nothing: name something, or leave it out"),
    ],
    ids=["number", "set", "bytes", "generator", "need", "needs", "nothing"],
)
def test_wish_for_what_is_no_name_is_refused_with_the_word_that_a_script_gave(name, given, told):
    with pytest.raises(n.ShapeError, match=f"a wish: .*{name} {told}"):
        n.Wish(**NAMED[name], **{name: given})


def test_groups_and_stages_are_taken_as_any_list_and_number_and_else_refused():
    stage = np.int64(1)
    plan = packed(n.Wish(part="bar", from_boards="port"), groups={"port": np.array(["B-1"])},
                  stage=stage)  # fmt: skip
    assert set(lie_on(plan).values()) == {"B-1"}
    with pytest.raises(n.SalvageNestError, match="the name of a group is 1, must be a text"):
        packed(groups={1: ["B-1"]})
    with pytest.raises(n.SalvageNestError, match="stage is true, must be a whole number"):
        packed(stage=True)
    with pytest.raises(n.SalvageNestError, match="stage is 0, must be 1 or more"):
        packed(stage=0)
