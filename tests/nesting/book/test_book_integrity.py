"""What the check of a book finds: steps, sums, wood that is missing or there twice."""

import re

import pytest
from book_shop import Yard, laid, need, plank, sheet_of
from shapely.geometry import box

from nesting.book import bench
from nesting.book.cut_told import Cut, Kept
from nesting.book.cutting import cut
from nesting.book.integrity import faults, require_sound, require_whole
from nesting.book.opening import opened
from nesting.book.record import record
from nesting.book.rows import board_named
from nesting.book.steps import pile_after
from nesting.errors import BookError

CLEAT = need(quantity=4)
AREA, VOLUME = 2000 * 200, 2000 * 200 * 30


@pytest.fixture
def book(tmp_path):
    """A book with four boards, two pieces sawn from the first, in two steps."""
    stock = (*(plank(name) for name in "ABCD"), plank("S", 300.0, 60.0))
    with opened(tmp_path / "stock.book", create=True) as found:
        record(found, Yard(stock=stock, needs=(CLEAT,)))
        sheet = sheet_of(laid(plank(), (CLEAT, 3, 3, 1), (CLEAT, 3, 80, 2)))
        cut(found, sheet, Cut(kept=Kept.REST))
        yield found


class Odd:
    """A book of which SQLite has something to say."""

    path = "odd.book"

    def __init__(self, said):
        self.said = said

    def asked(self, sql):
        return [(one,) for one in self.said] if "integrity" in sql else []


def test_what_sqlite_says_is_told_and_nothing_more_is_asked():
    odd = Odd(["row 7 missing from index x"])
    assert faults(odd) == ["SQLite says: row 7 missing from index x"]
    with pytest.raises(BookError, match=r"odd\.book is not sound:\nSQLite says: row 7 missing"):
        require_whole(odd)
    require_whole(Odd(["ok"]))


def twin(book, name, of, x=0.0, y=0.0):
    """Enter a board a second time, moved along itself, in a step whose sums are right."""
    with book.writing("Teasel", "tape") as writing:
        row = board_named(book, of)
        at = [row["body"]["at"][0] + x, row["body"]["at"][1] + y]
        writing.put("board", {**row, "name": name, "body": {**row["body"], "at": at}})
        writing.lose(-AREA, -VOLUME)


def test_book_as_it_is_written_is_sound(book):
    assert faults(book) == []
    assert faults(book, (list(book.steps()), pile_after(book.steps()))) == []
    require_sound(book)


@pytest.mark.parametrize(
    ("x", "y", "shared"), [(0, 0, AREA), (1990, 190, 100), (0, 199.9, 200), (1900, 199.99, None)]
)
def test_two_boards_in_the_same_wood_are_found(book, x, y, shared):
    twin(book, "B.1", "B", x, y)
    found = [fault for fault in faults(book) if "the same" in fault]
    same = [f"board B and board B.1 hold the same {shared} mm2 of wood"]
    assert found == (same if shared else [])


def test_wood_that_is_there_twice_is_found_in_every_board_wherever_it_lies(book):
    twin(book, "B.1", "B", 5000)
    twin(book, "B.2", "B", 100)
    twin(book, "C.1", "C", 500)
    with book.writing("Teasel", "tape") as writing:
        body = {**board_named(book, "S")["body"], "root": "D", "at": [1600, 120]}
        writing.put("board", {**board_named(book, "S"), "name": "D.1", "body": body})
    assert [fault for fault in faults(book) if "the same" in fault] == [
        "board B and board B.2 hold the same 380000 mm2 of wood",
        "board C and board C.1 hold the same 300000 mm2 of wood",
        "board D and board D.1 hold the same 18000 mm2 of wood",
    ]


def test_spoiled_piece_whose_wood_is_back_in_stock_is_not_there_twice(book):
    bench.spoil(book, "Teasel", "cleat, 1 of 4", is_kept=True)
    assert faults(book) == []


def test_piece_of_an_early_book_which_does_not_say_whether_its_place_is_sure_is_sound(book):
    """Nor was its wood held against other pieces then; the board that it gives is as unsure."""
    with book.writing("Teasel", "tape") as writing:
        for row in book.rows("piece"):
            body = {key: row["body"][key] for key in row["body"] if key not in ("taped", "serves")}
            writing.put("piece", {**row, "body": body})
    assert faults(book) == []
    name, _ = bench.spoil(book, "Teasel", "cleat, 1 of 4", is_kept=True)
    assert board_named(book, name)["body"]["taped"] is True
    assert faults(book) == []


def test_piece_that_lies_in_what_is_left_of_its_board_is_found(book):
    twin(book, "A.1", "B")
    with book.writing("Teasel", "tape") as writing:
        row = board_named(book, "A.1")
        writing.put("board", {**row, "body": {**row["body"], "root": "A", "at": [0, 0]}})
    found = " ".join(faults(book))
    for piece in ("cleat, 1 of 4", "cleat, 2 of 4"):
        assert f"board A.1 and piece {piece} hold the same 18000 mm2" in found


def test_wood_whose_place_a_tape_made_unsure_is_not_looked_for(book):
    bench.tape(book, "Teasel", "B", box(0, 0, 1990, 200))
    with book.writing("Teasel", "tape") as writing:
        row = board_named(book, "B")
        assert row["body"]["taped"]
        writing.put("board", {**row, "name": "B.1"})
        writing.lose(-1990 * 200, -1990 * 200 * 30)
    assert not any("hold the same" in fault for fault in faults(book))


def test_wood_that_comes_from_nowhere_is_less_than_nothing_lost(book):
    twin(book, "B.1", "B", 5000)
    sawn = 4e5 - sum(row[0] for row in book.asked("SELECT area_mm2 FROM board WHERE name = 'A'"))
    lost = AREA - (sawn - 2 * 300 * 60)
    assert f"less than nothing is lost: -{lost:.0f} mm2" in faults(book)
    assert any(re.fullmatch("less than nothing is lost: -[0-9]+ mm3", f) for f in faults(book))


@pytest.mark.parametrize(
    ("sql", "says"),
    [
        (
            "stock_mm2 = stock_mm2 + 5000, lost_mm2 = lost_mm2 - 5000",
            "step 2 says other figures (mm2) than it changed",
        ),
        (
            "parts_mm3 = parts_mm3 + 50000, lost_mm3 = lost_mm3 - 50000",
            "step 2 says other figures (mm3) than it changed",
        ),
        ("entered_mm2 = 5000", "step 2 (cut): -5000 mm2 of wood came from nowhere, or went there"),
        ("lost_mm3 = lost_mm3 + 7e4", "step 2 (cut): 70000 mm3 of wood came from nowhere, or we"),
        ("entered_mm2 = 5000", "5000 mm2 of all wood is missing"),
        ("undoes = 2", "step 2 takes back step 2, which comes after it"),
        ("number = 4", "step 2 is missing: the next is 4"),
    ],
)
def test_step_that_was_changed_is_found(book, sql, says):
    book.connection.execute(f"UPDATE step SET {sql} WHERE number = 2")
    assert any(fault.startswith(says) for fault in faults(book)), faults(book)


def test_thousandth_of_the_wood_is_no_fault(book):
    book.connection.execute("UPDATE step SET lost_mm2 = lost_mm2 + 20 WHERE number = 2")
    assert faults(book) == []


def test_row_that_no_step_made_or_that_is_gone_is_found(book):
    book.connection.execute("DELETE FROM board WHERE name = 'B'")
    book.connection.execute("UPDATE board SET name = 'E' WHERE name = 'C'")
    found = faults(book)
    for name in "BCE":
        assert f"board {name} is not what the steps make of it" in found
    assert "board D is not what the steps make of it" not in found


@pytest.mark.parametrize(("count", "more"), [(10, ""), (11, "\nand 1 thing more")])
def test_of_many_faults_ten_are_told(tmp_path, count, more):
    stock = tuple(plank(f"B{n:02}") for n in range(count))
    with opened(tmp_path / "other.book", create=True) as book:
        record(book, Yard(stock=stock, needs=(CLEAT,)))
        book.connection.execute("UPDATE board SET area_mm2 = 1")
        with pytest.raises(BookError) as told:
            require_sound(book)
    first, *lines = str(told.value).splitlines()
    assert first.endswith("other.book is not sound:")
    assert lines[:10] == [
        f"the figures beside board B{n:02} are not those of what it is" for n in range(10)
    ]
    assert "\n".join(["", *lines[10:]]).rstrip() == more
