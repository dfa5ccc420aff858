"""Pieces of a reserved plan that no board gives any more are not planned."""

from __future__ import annotations

import pytest
from book_shop import Yard, laid, need, plank, sheet_of
from shapely.geometry import box

from nesting.book import bench
from nesting.book.cut_told import Cut, Kept
from nesting.book.cutting import cut
from nesting.book.holds import hold, planned, release, reserve
from nesting.book.integrity import faults
from nesting.book.opening import opened
from nesting.book.record import record
from nesting.book.rows import board_in, board_named
from nesting.book.standing import standing
from nesting.need import Misfit
from nesting.stock.keep_out import circle

CLEAT = need("cleat", quantity=4)
SEAT = need("seat", 420.0, 180.0)
A, B = plank(), plank("B")
NEST = laid(A, (CLEAT, 3, 3, 1), (CLEAT, 3, 80, 2), (SEAT, 900, 5))
OTHER = laid(B, (CLEAT, 3, 3, 3), (CLEAT, 3, 80, 4))


def summary(*nests):
    """Return what a written summary has of nests, as far as a book keeps it."""
    return {
        "project": "Teasel",
        "boards": [
            {"board": nest.board.name, "bungs": [], "parts": [
                {"label": p.label, "part": p.need.part, "x_mm": p.x_mm, "y_mm": p.y_mm,
                 "angle_deg": p.angle_deg, "turned_over": p.is_turned_over}
                for p in nest.placements
            ]} for nest in nests
        ],
        "unplaced": [], "scrap_percent": 20.0, "uncredited_scrap_percent": 20.0,
    }  # fmt: skip


def yard(*needs):
    return Yard(stock=(A, B, plank("C")), needs=needs or (CLEAT, SEAT))


@pytest.fixture
def book(tmp_path):
    with opened(tmp_path / "stock.book", create=True) as found:
        record(found, yard())
        record(found, Yard(name="Sorrel", needs=(CLEAT,)))
        reserve(found, planned(summary(NEST, OTHER)))
        yield found
        assert faults(found) == []


def counted(book):
    (system,) = standing(book, "Teasel").systems
    return system.done, system.nested, system.not_planned


def test_plan_that_nothing_happened_to_is_nested(book):
    assert counted(book) == (0, 5, 0)


def test_piece_that_was_sawn_is_done_and_the_rest_of_its_board_stays_nested(book):
    cut(book, sheet_of(NEST), Cut(("cleat, 1 of 4",)))
    assert counted(book) == (1, 4, 0)
    cut(book, sheet_of(NEST), Cut(("seat",)))
    assert counted(book) == (2, 3, 0)


def test_spoiled_piece_is_not_planned_nor_is_what_went_with_its_board(book):
    cut(book, sheet_of(NEST), Cut(("cleat, 1 of 4",), ("cleat, 1 of 4",), kept=Kept.REST))
    assert counted(book) == (0, 4, 1)
    cut(book, sheet_of(NEST), Cut(("seat",), kept=Kept.NOTHING))
    assert counted(book) == (1, 2, 2)
    bench.spoil(book, "Teasel", "seat")
    assert counted(book) == (0, 2, 3)


def test_piece_that_was_spoiled_is_not_planned_though_its_wood_is_back(book):
    """The board that came of it would give it to the last line, and is the spoiled wood itself."""
    cut(book, sheet_of(NEST), Cut(("cleat, 1 of 4", "seat")))
    name, _ = bench.spoil(book, "Teasel", "seat", is_kept=True)
    assert counted(book) == (1, 3, 1)
    bench.found(book, "Teasel", name, [circle("stain", 5, 5, 1.0)])
    assert counted(book) == (1, 3, 1)


def test_plan_on_a_board_that_came_back_of_a_spoiled_piece_is_nested(book):
    """What was found in it, beside the piece, has it looked at by place."""
    cut(book, sheet_of(NEST), Cut(("seat",)))
    name, _ = bench.spoil(book, "Teasel", "seat", is_kept=True)
    board = board_in(board_named(book, name))
    x, y, *_ = board.shape.bounds
    small = need("peg", 60.0, 20.0, 10.0)
    record(book, yard(CLEAT, SEAT, small))
    reserve(book, planned(summary(laid(board, (small, x + 5, y + 5)))))
    assert counted(book)[1] == 1
    bench.found(book, "Teasel", name, [circle("stain", x + 90, y + 50, 1.0)])
    assert counted(book)[1] == 1


@pytest.mark.parametrize(
    ("kind", "x", "y", "nested"),
    [("metal", 1000, 100, 4), ("rot", 1000, 100, 4), ("metal", 600, 100, 5), ("metal", 50, 71, 5)],
)
def test_piece_in_which_something_is_found_is_not_planned(book, kind, x, y, nested):
    bench.found(book, "Teasel", "A", [circle(kind, x, y, 5.0)])
    assert counted(book) == (0, nested, 5 - nested)


def test_what_was_found_before_the_plan_was_made_is_in_nobody_s_way(book):
    bench.found(book, "Teasel", "A", [circle("hole", 1000, 100, 5.0)])
    assert counted(book)[1] == 4
    reserve(book, planned(summary(NEST, OTHER)))
    bench.found(book, "Teasel", "A", [circle("metal", 600, 100, 5.0)])
    assert counted(book)[1] == 5
    cut(book, sheet_of(NEST), Cut(("cleat, 1 of 4",)))
    assert counted(book) == (1, 4, 0)


def test_metal_in_what_is_left_of_a_cut_board_is_seen_where_it_lies(book):
    cut(book, sheet_of(NEST), Cut(("cleat, 1 of 4", "cleat, 2 of 4")))
    (row,) = book.rows("board", "json_extract(body, '$.root') = 'A' AND state = 'in stock'")
    x, y = row["body"]["at"]
    bench.found(book, "Teasel", row["name"], [circle("metal", 1000 - x, 100 - y, 5.0)])
    assert counted(book) == (2, 2, 1)


def test_board_that_is_gone_taped_or_held_by_another_gives_nothing(book):
    bench.tape(book, "Teasel", "A", box(0, 0, 1990, 200))
    assert counted(book) == (0, 2, 3)
    release(book, "Teasel")
    assert counted(book) == (0, 2, 3)
    hold(book, "Sorrel", ["B"])
    assert counted(book) == (0, 0, 5)
    release(book, "Sorrel")
    bench.discard(book, "Teasel", ["B"])
    assert counted(book) == (0, 0, 5)


@pytest.mark.parametrize(("thick", "nested"), [(25.0, 5), (24.0, 2)])
def test_board_that_is_thinner_by_the_tape_gives_what_is_no_thicker(book, thick, nested):
    bench.tape(book, "Teasel", "A", None, thick)
    assert counted(book) == (0, nested, 5 - nested)


def test_pieces_of_a_part_that_changed_since_are_not_planned(book):
    record(book, yard(need("cleat", 310.0, quantity=4), SEAT))
    assert counted(book) == (0, 1, 4)
    record(book, yard())
    assert counted(book) == (0, 5, 0)


@pytest.mark.parametrize(("x", "nested"), [(1000, 4), (600, 5)])
def test_piece_that_lies_turned_is_looked_for_where_it_lies(tmp_path, x, nested):
    """A seat turned by half and over covers x from 900 to 1320 mm all the same."""
    nests = summary(NEST, OTHER)
    seat = nests["boards"][0]["parts"][2]
    seat |= {"x_mm": 1320.0, "y_mm": 5.0, "angle_deg": 180.0, "turned_over": True}
    with opened(tmp_path / "stock.book", create=True) as book:
        record(book, yard())
        reserve(book, planned(nests))
        bench.found(book, "Teasel", "A", [circle("metal", x, 100, 5.0)])
        assert counted(book) == (0, nested, 5 - nested)


def test_plan_that_was_reserved_before_books_kept_where_pieces_lie_is_taken_as_it_is(book):
    with book.writing("Teasel", "reserved") as writing:
        body = book.row("plan", "Teasel")["body"]
        older = {key: body[key] for key in body if key not in ("lies", "stamps", "parts")}
        writing.put("plan", {"project": "Teasel", "body": older})
    bench.found(book, "Teasel", "A", [circle("metal", 1000, 100, 5.0)])
    assert counted(book) == (0, 5, 0)


def test_what_is_left_over_is_to_be_bought_as_long_as_it_is_wanted_and_not_of_a_later_stage(book):
    """Of a part three are left over: one for want of room, two that are not needed yet."""
    plan = summary(laid(A, (CLEAT, 3, 3, 1)))
    plan["unplaced"] = [
        {"part": "cleat", "count": 1, "reason": str(Misfit.NO_ROOM)},
        {"part": "cleat", "count": 2, "reason": str(Misfit.LATER)},
        {"part": "seat", "count": 1, "reason": str(Misfit.NO_ROOM)},
    ]
    reserve(book, planned(plan))

    def to_buy():
        found = standing(book, "Teasel")
        (system,) = found.systems
        assert system.left_over == sum(count for _, _, count, _ in found.to_buy)
        return {part: count for _, part, count, _ in found.to_buy}, system.not_planned

    assert to_buy() == ({"cleat": 1, "seat": 1}, 2)
    # A seat is found in another board after all: none is to be bought.
    cut(book, sheet_of(laid(B, (SEAT, 3, 3))))
    assert to_buy() == ({"cleat": 1}, 2)


def test_what_happened_between_plan_and_reserving_it_is_known(book):
    """A nail found, a board taped and a part changed after the plan was made, before it is held."""
    made_after = {"book": {"step": book.last_step}}
    bench.found(book, "Teasel", "A", [circle("metal", 1000, 100, 5.0)])
    reserve(book, planned(summary(NEST, OTHER) | made_after))
    assert counted(book) == (0, 4, 1)
    bench.tape(book, "Teasel", "B", box(0, 0, 1990, 200))
    record(book, yard(need("cleat", 310.0, quantity=4), SEAT))
    reserve(book, planned(summary(NEST, OTHER) | made_after))
    assert counted(book) == (0, 0, 5)
    record(book, yard())
    reserve(book, planned(summary(NEST, OTHER) | made_after))
    assert counted(book) == (0, 2, 3)


def test_boards_that_were_entered_after_a_plan_are_as_they_came(book):
    reserve(book, planned(summary(NEST, OTHER) | {"book": {"step": 0}}))
    assert counted(book) == (0, 5, 0)
