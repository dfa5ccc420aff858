"""Boards held for a project: by its plan, one by one, and let go of again."""

import pytest
from book_shop import Yard, laid, need, plank, sheet_of

from nesting.book.cutting import cut
from nesting.book.holds import Planned, hold, planned, release, reserve
from nesting.book.opening import opened
from nesting.book.record import record
from nesting.book.standing import standing
from nesting.errors import BookError

CLEAT = need(quantity=2)
NAMES = [f"B{n}" for n in range(12)]


@pytest.fixture
def book(tmp_path):
    yard = Yard(stock=tuple(plank(name) for name in ("A", *NAMES)), needs=(CLEAT,))
    with opened(tmp_path / "stock.book", create=True) as found:
        record(found, yard)
        record(found, Yard(name="Sorrel", needs=(CLEAT,)))
        yield found


def held(book):
    return {row["name"]: row["held_by"] for row in book.rows("board") if row["held_by"]}


def said(book):
    return list(book.steps())[-1].said


def plan_of(*names, project="Teasel"):
    return Planned(project, names, {"pieces": ["cleat, 1 of 2"], "scrap_percent": 20.0})


def test_plan_holds_its_boards_in_place_of_those_of_the_last_one(book):
    assert reserve(book, plan_of("A", "B0")) == 2
    assert held(book) == {"A": "Teasel", "B0": "Teasel"}
    assert reserve(book, plan_of("B0", "B1", "B2")) == 3
    assert held(book) == dict.fromkeys(("B0", "B1", "B2"), "Teasel")
    assert said(book) == "reserved the plan: 3 boards"
    assert standing(book).planned_percent == {"Teasel": 20.0}


def test_boards_that_no_plan_may_have_are_named_with_who_has_them(book):
    cut(book, sheet_of(laid(plank("A"), (CLEAT, 3, 3, 1))))
    hold(book, "Sorrel", ["B1"])
    with pytest.raises(BookError) as told:
        reserve(book, plan_of("A", "B0", "B1", "C"))
    assert str(told.value) == (
        "the plan of Teasel cannot be reserved: A is sawn up by Teasel; B1 is reserved by Sorrel; "
        "C is not in the book. Nest again (boards that are not in the book: salvage-nest book "
        "record)"
    )
    assert held(book) == {"B1": "Sorrel"}


@pytest.mark.parametrize(("count", "more"), [(10, ""), (11, "; and 1 board more")])
def test_of_many_boards_in_the_way_ten_are_named(book, count, more):
    hold(book, "Sorrel", NAMES)
    with pytest.raises(BookError) as told:
        reserve(book, plan_of(*NAMES[:count]))
    assert str(told.value).count("is reserved by Sorrel") == 10
    assert f"B9 is reserved by Sorrel{more}. Nest again" in str(told.value)


def test_single_boards_are_held_unless_they_are_another_s(book):
    hold(book, "Teasel", NAMES[:6])
    assert held(book) == dict.fromkeys(NAMES[:6], "Teasel")
    assert said(book) == "reserved 6 boards: B0, B1, B2, B3, B4"
    hold(book, "Teasel", ["B0"])
    with pytest.raises(BookError, match="B0 is reserved by the project Teasel"):
        hold(book, "Sorrel", ["A", "B0"])
    assert "A" not in held(book)


def test_boards_are_let_go_of_all_or_those_named(book):
    hold(book, "Teasel", NAMES[:4])
    hold(book, "Sorrel", ["A"])
    assert release(book, "Teasel", ["B1"]) == 1
    assert (sorted(held(book)), said(book)) == (["A", "B0", "B2", "B3"], "released 1 board")
    with pytest.raises(BookError, match="Teasel holds no board A"):
        release(book, "Teasel", ["B0", "A"])
    assert release(book, "Teasel") == 3
    assert held(book) == {"A": "Sorrel"}


LIES = {"part": "p", "x_mm": 1.0, "y_mm": 2.0, "angle_deg": 180.0, "turned_over": True}
SUMMARY = {
    "project": "Teasel",
    "boards": [
        {"board": "A", "parts": [{**LIES, "label": "b"}, {**LIES, "label": "a"}],
         "bungs": [{"part": "a", "diameter_mm": 12.0}]},
    ],
    "unplaced": [{"part": "c", "count": 2, "reason": "no room"}],
    "scrap_percent": 20.0,
    "uncredited_scrap_percent": 9.0,
}  # fmt: skip


def test_summary_is_kept_as_what_is_cut_left_over_and_plugged():
    plan = planned(SUMMARY, "x")
    assert (plan.project, plan.boards) == ("Teasel", ("A",))
    assert plan.body == {
        "identity": "x", "pieces": ["a", "b"], "boards": ["A"],
        "lies": [{**LIES, "label": label, "board": "A"} for label in "ba"],
        "left_over": [["c", 2, "no room"]], "bungs": [["a", 12.0]],
        "scrap_percent": 20.0, "uncredited_scrap_percent": 9.0,
    }  # fmt: skip
    with pytest.raises(BookError, match="the summary cannot be read"):
        planned({**SUMMARY, "boards": 7})
