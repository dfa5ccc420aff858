"""Wood by the tape: no board is larger than what it came of, unless somebody stands by it."""

from __future__ import annotations

import pytest
from book_shop import Yard, laid, need, plank, sheet_of
from shapely.geometry import box

from nesting.book import bench
from nesting.book.cut_told import Cut, Kept
from nesting.book.cutting import cut
from nesting.book.from_nowhere import from_nowhere
from nesting.book.integrity import faults
from nesting.book.opening import opened
from nesting.book.record import record
from nesting.book.rows import board_in, board_named
from nesting.book.steps import pile_of, undo
from nesting.errors import BookError

THWART = need("thwart", 1000.0, 150.0, quantity=3)
A, B = plank(), plank("B")
YARD = Yard(stock=(A, B), needs=(THWART,))


@pytest.fixture
def book(tmp_path):
    """Of A, 2000 x 200 mm, a thwart of 1000 x 150 mm is sawn; A.1 and A.2 are left."""
    with opened(tmp_path / "stock.book", create=True) as found:
        record(found, YARD)
        cut(found, sheet_of(laid(A, (THWART, 3, 3, 1))))
        yield found


def tape(book, name, length, width, thick=None, **more):
    bench.tape(book, "Teasel", name, box(0, 0, length, width), thick, **more)


def offcut(book):
    row = book.rows("board", "parent = 'A'")[0]
    return row["name"], board_in(row)


def test_offcut_may_not_be_longer_wider_or_thicker_than_its_board(book):
    name, wood = offcut(book)
    before = pile_of(book).tables
    for size, why in [
        ((15000, 100), "it would be 15000 mm long, A, which it was cut from, is 2000 mm long"),
        ((900, 230), "it would be 230 mm wide, A, which it was cut from, is 200 mm wide"),
        ((900, 100, 35), "it would be 35 mm thick, A, which it was cut from, is 30 mm thick"),
        ((2000, 200), "it would have 400000 mm2, and of A only 250000 mm2 are in no piece"),
    ]:
        with pytest.raises(BookError) as told:
            tape(book, name, *size)
        assert str(told.value).startswith(f"{name}: {why}")
        assert str(told.value).endswith("say so (salvage-nest book taped, with --larger)")
        assert pile_of(book).tables == before
    tape(book, name, wood.length_mm + 10, wood.width_mm + 1, 30.2)
    assert faults(book) == []


@pytest.mark.parametrize(
    ("length", "width", "thick", "why"),
    [(2199, 219, 32, ""), (2250, 200, 30, "long"), (2000, 250, 30, "wide"), (50, 50, 40, "thick")],
)
def test_board_as_recorded_may_be_a_tenth_larger(book, length, width, thick, why):
    if why:
        with pytest.raises(BookError, match=f"B: it would be .* mm {why}, the book has it"):
            tape(book, "B", length, width, thick)
        tape(book, "B", length, width, thick, is_larger=True)
    else:
        tape(book, "B", length, width, thick)
    assert faults(book) == []
    (*_, step) = book.steps()
    assert (step.kind, step.said) == (
        ("taped larger", "B taped anew, larger than what it came of")
        if why
        else ("taped", "B taped anew")
    )


def test_larger_is_no_word_where_nothing_is(book):
    tape(book, "B", 1900, 200, is_larger=True)
    (*_, step) = book.steps()
    assert (step.kind, step.said) == ("taped", "B taped anew")


def test_what_somebody_stands_by_is_wood_that_came_in_and_may_be_cut(book):
    name, _ = offcut(book)
    tape(book, name, 5000, 200, is_larger=True)
    assert faults(book) == []
    wide = board_in(board_named(book, name))
    cut(book, sheet_of(laid(wide, (THWART, 3, 3, 2))), Cut(kept=Kept.REST))
    assert faults(book) == []
    undo(book, "Teasel")
    undo(book, "Teasel")
    assert faults(book) == []


def test_board_that_was_cut_and_taped_is_no_larger_than_it_once_was(book):
    """Once a tape gives the rest another outline, what it was while whole is still known."""
    cut(book, sheet_of(laid(B, (THWART, 3, 3, 2))), Cut(kept=Kept.REST))
    tape(book, "B", 950, 190)
    with pytest.raises(BookError, match=r"B: it would have .* and of B only 250000 mm2"):
        tape(book, "B", 1990, 200)
    tape(book, "B", 1200, 200)
    with pytest.raises(BookError, match=r"2100 mm long, B, which it was cut from, is 2000 mm"):
        tape(book, "B", 2100, 20)
    assert faults(book) == []


def by_the_back_door(book, name, length, width):
    """Enter a taping as it was once possible, without a question."""
    with book.writing("Teasel", "taped") as writing:
        row = board_named(book, name)
        wood = {**row["body"]["wood"], "outline": [[[0, 0], [length, 0], [length, width]]]}
        new = {**row, "body": {**row["body"], "wood": wood, "taped": True, "frames": []}}
        writing.put("board", new)
        was = board_in(row).area_mm2
        more = length * width / 2 - was
        writing.enter(more, more * 30)


def test_wood_that_a_tape_once_made_is_found(book):
    name, _ = offcut(book)
    by_the_back_door(book, name, 15000.0, 100.0)
    by_the_back_door(book, "B", 9000.0, 100.0)
    found = faults(book)
    assert found == list(from_nowhere(list(book.steps()), pile_of(book)))
    assert found[0] == "step 4 (taped): B is far larger than before it"
    assert {
        f"{name} is larger than A, which it came of, ever was",
        "B is larger than B, which it came of, ever was",
    } < set(found)
    assert any(f.startswith("of A there are ") and "more than 400000 mm2" in f for f in found)
    for _ in range(2):
        undo(book, "Teasel")
    assert faults(book) == []


def test_board_that_is_larger_in_the_stock_file_now_is_recorded_so(book):
    record(book, Yard(stock=(A, plank("B", 3000.0)), needs=(THWART,)))
    assert faults(book) == []


def test_by_the_command_line(tmp_path, capsys):
    from nesting import cli

    path = tmp_path / "p.yaml"
    path.write_text(
        "version: 1\nname: R\nunit: in\nbook: r.book\nstock:\n"
        "  - {board: A, species: teak, thickness: 1, length: 60, width: 6}\nparts:\n"
        "  - {part: thwart, family: plank, species: teak, shape: {length: 40, width: 5, "
        "thickness: 3/4}}\n"
    )

    def run(code, *words):
        capsys.readouterr()
        assert cli.main(["book", words[0], str(path), *words[1:]]) == code
        return "".join(capsys.readouterr())

    run(0, "record")
    said = run(3, "taped", "A", "--length", "600")
    assert "A: it would be 50 ft long, the book has it 5 ft long; if the tape is right" in said or (
        "A: it would be 600 in long, the book has it 60 in long; if the tape is right" in said
    )
    assert run(0, "taped", "A", "--length", "600", "--larger").startswith("A: 600 in x 6 in")
    assert "is sound" in run(0, "sound")
