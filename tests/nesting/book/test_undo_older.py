"""Steps that are not the last are taken back, as long as no later one goes by them."""

from __future__ import annotations

import pytest
from book_shop import Yard, laid, need, plank, sheet_of

from nesting.book import bench
from nesting.book.cut_told import Cut, Kept
from nesting.book.cutting import cut
from nesting.book.export import export, rebuild
from nesting.book.history import history_lines
from nesting.book.holds import hold
from nesting.book.integrity import faults
from nesting.book.opening import opened
from nesting.book.record import record
from nesting.book.standing import standing
from nesting.book.steps import pile_of, undo
from nesting.errors import BookError
from nesting.stock.keep_out import circle

CLEAT = need("cleat", quantity=4)
A, B, C = plank(), plank("B"), plank("C")
NEST = laid(A, (CLEAT, 3, 3, 1), (CLEAT, 3, 80, 2))
OTHER = laid(C, (CLEAT, 3, 3, 1))


@pytest.fixture
def book(tmp_path):
    with opened(tmp_path / "stock.book", create=True) as found:
        record(found, Yard(stock=(A, B, C), needs=(CLEAT,)))
        yield found
        assert faults(found) == []


def tables(book):
    return pile_of(book).tables


def test_earlier_step_is_taken_back_and_what_came_after_stays(book, tmp_path):
    bench.discard(book, "Teasel", ["B"])
    cut(book, sheet_of(NEST), Cut(("cleat, 1 of 4",)))
    bench.found(book, "Teasel", "C", [circle("rot", 500, 50, 20)])
    before = tables(book)
    assert undo(book, "Teasel", number=2).said == "gone: B"
    assert book.row("board", "B")["state"] == "in stock"
    assert {k: v for k, v in tables(book)["board"].items() if k != ("B",)} == {
        k: v for k, v in before["board"].items() if k != ("B",)
    }
    assert tables(book)["piece"] == before["piece"]
    assert "gone: B (taken back)" in list(history_lines(book))[1]
    # The last step that stands is the next to go; the one taken back is passed over.
    undo(book, "Teasel")
    undo(book, "Teasel")
    assert undo(book, "Teasel").number == 1
    export(book, tmp_path / "plain")
    assert rebuild(tmp_path / "plain", tmp_path / "again.book") == 8


def test_cut_is_taken_back_and_its_pieces_are_wanted_again(book):
    cut(book, sheet_of(NEST), Cut(("cleat, 1 of 4",)))
    cut(book, sheet_of(laid(B, (CLEAT, 3, 3, 3))), Cut(kept=Kept.REST))
    undo(book, "Teasel", number=2)
    (system,) = standing(book, "Teasel").systems
    assert (system.wanted, system.done) == (4, 1)
    cut(book, sheet_of(NEST))
    assert standing(book, "Teasel").systems[0].done == 3


def test_step_that_a_later_one_goes_by_is_told_with_that_one(book):
    cut(book, sheet_of(NEST), Cut(("cleat, 1 of 4",)))
    bench.found(book, "Teasel", "A", [circle("rot", 1500, 50, 20)])
    bench.check_off(book, "Teasel", ["B"])
    before = tables(book)
    message = r"step 2 \(A: sawed cleat, 1 of 4; left: A\) cannot be taken back: board A was "
    message += r"changed since by step 3 \(A: found rot, 1 place\): take that back first"
    with pytest.raises(BookError, match=message):
        undo(book, "Teasel", number=2)
    assert tables(book) == before
    undo(book, "Teasel", number=3)
    undo(book, "Teasel", number=2)
    assert book.rows("piece") == []


def test_piece_that_was_sawn_anew_is_not_there_twice(book):
    cut(book, sheet_of(NEST), Cut(("cleat, 1 of 4",), kept=Kept.NOTHING))
    bench.spoil(book, "Teasel", "cleat, 1 of 4")
    cut(book, sheet_of(OTHER), Cut())
    with pytest.raises(BookError, match="cleat, 1 of 4 was sawn anew since, from C"):
        undo(book, "Teasel", number=3)
    undo(book, "Teasel", number=4)
    undo(book, "Teasel", number=3)
    assert standing(book, "Teasel").systems[0].done == 1


@pytest.mark.parametrize(
    ("number", "message"),
    [
        (9, "has no step 9: its last is 4"),
        (4, "step 4 took one back: do anew what that one was"),
        (3, "step 3 was taken back before, by step 4"),
    ],
)
def test_what_is_no_step_that_stands_is_refused(book, number, message):
    hold(book, "Teasel", ["B"])
    bench.discard(book, "Teasel", ["B"])
    undo(book, "Teasel")
    with pytest.raises(BookError, match=message):
        undo(book, "Teasel", number=number)


def test_boards_of_which_pieces_were_sawn_stay_entered(book):
    """Nothing is left that names a board which is not there."""
    record(book, Yard("Sorrel", stock=(plank("S"),), needs=(CLEAT,)))
    hold(book, "Sorrel", ["B"])
    with pytest.raises(BookError):
        undo(book, None, number=2)
    assert faults(book) == []


def test_step_of_another_project_is_left_alone(book):
    record(book, Yard("Sorrel", stock=(plank("S"),), needs=(CLEAT,)))
    with pytest.raises(BookError, match=r"step 1 \(recorded .*\) is of the project Teasel"):
        undo(book, "Sorrel", number=1)


def test_new_name_of_a_project_stands_in_no_step_s_way(book):
    cut(book, sheet_of(NEST), Cut(("cleat, 1 of 4",)))
    hold(book, "Teasel", ["B"])
    record(book, Yard("Tansy", stock=(A, B, C), needs=(CLEAT,)), was="Teasel")
    record(book, Yard("Dipper", stock=(A, B, C), needs=(CLEAT,)), was="Tansy")
    before = tables(book)
    undo(book, "Dipper", number=2)
    assert "  Dipper: took back step 2: " in list(history_lines(book))[-1]
    assert standing(book, "Dipper").systems[0].done == 0
    undo(book, "Dipper", number=3)
    assert book.row("board", "B")["held_by"] is None
    cut(book, sheet_of(NEST, "Dipper"), Cut(("cleat, 2 of 4",)))
    undo(book, "Dipper")
    assert {k: v for k, v in tables(book).items() if k != "piece" and k != "board"} == {
        k: v for k, v in before.items() if k != "piece" and k != "board"
    }
    with pytest.raises(BookError, match=r"step 1 .* cannot be taken back: project Teasel was"):
        undo(book, None, number=1)
