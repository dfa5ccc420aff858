"""Pieces that were sawn before their part changed: told by name, not counted, or said to serve."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest
import shapely
import shapely.affinity
from book_shop import Yard, laid, need, plank, sheet_of
from shapely.geometry import Point, Polygon, box

from nesting.book import bench
from nesting.book.cut_told import Cut
from nesting.book.cutting import cut
from nesting.book.fitting import NEAR_MM, forms_of
from nesting.book.integrity import faults
from nesting.book.offered import as_offered
from nesting.book.opening import opened
from nesting.book.record import record
from nesting.book.standing import standing
from nesting.book.steps import pile_of, undo
from nesting.book.words import headline
from nesting.errors import BookError
from nesting.outline import Outline
from nesting.units import Unit

STOCK = tuple(plank(name) for name in "ABC")
THWART = need("thwart", 1000.0, 150.0, quantity=2)
YARD = Yard(stock=STOCK, needs=(THWART,))


@pytest.fixture
def book(tmp_path):
    """One of two thwarts is sawn."""
    with opened(tmp_path / "stock.book", create=True) as found:
        record(found, YARD)
        cut(found, sheet_of(laid(STOCK[0], (THWART, 3, 3, 1))))
        yield found


def yard(*needs, name="Teasel"):
    return Yard(name=name, stock=STOCK, needs=needs)


def done(book):
    return [(s.done, s.nested, s.not_planned) for s in standing(book, "Teasel").systems]


def still(book, *needs):
    found = as_offered(yard(*needs), pile_of(book))
    return [(one.part, one.quantity, one.still) for one in found.needs], found.notes


def test_piece_of_a_part_that_is_longer_now_does_not_count(book):
    assert (done(book), still(book, THWART)) == ([(1, 0, 1)], ([("thwart", 1, (2,))], ()))
    longer = need("thwart", 1250.0, 150.0, quantity=2)
    why = (
        "thwart, 1 of 2, sawn from A: it is 1000.0 x 150.0 mm, the parts list has 1250.0 x 150.0 "
        "mm now"
    )
    wanted, (told, what_to_do, *_) = still(book, longer)
    assert (wanted, told) == ([("thwart", 2, ())], why)
    assert "salvage-nest book used PROJECT.yaml 'thwart, 1 of 2'" in what_to_do
    assert record(book, yard(longer)).notes[0] == why
    now = standing(book, "Teasel")
    assert (done(book), now.odd) == (
        [(0, 0, 2)], (("Teasel", "thwart, 1 of 2", "A", why.partition(": ")[2]),)
    )  # fmt: skip
    assert headline(now, Unit.MM).splitlines()[0].endswith("; 1 piece sawn and not counted")


CHANGED = [
    (
        need("thwart", 1000.0, 150.0, 27.0, quantity=2),
        "it is 25 mm thick, the parts list has 27 mm now",
    ),
    (replace(THWART, species=("white oak",)), "it is of teak, the parts list wants white oak now"),
    (need("thwart", 1000.0, 150.0, quantity=1), ""),
    (need("seat", 1000.0, 150.0, quantity=2), "the parts list has no thwart any more"),
    (
        replace(THWART, outline=Outline(box(0, 0, 1000, 150) - box(400, 0, 600, 30), 25.0)),
        "its outline, 1000.0 x 150.0 mm over all, is not that of the parts list any more",
    ),
    (need("thwart", 1000.3, 150.0, quantity=2), ""),
    (need("thwart", 150.0, 1000.0, quantity=2), ""),
]


@pytest.mark.parametrize(("changed", "why"), CHANGED, ids=lambda one: str(one)[:20])
def test_every_change_that_makes_another_piece_of_it_is_told(book, changed, why):
    notes = record(book, yard(changed)).notes
    assert (notes[0] if why else "") == (
        f"thwart, 1 of 2, sawn from A: {why}{' mm now' if why.endswith('27') else ''}"
        if why
        else ""
    )
    assert [one.part for one in as_offered(yard(changed), pile_of(book)).needs] == (
        [] if changed.quantity == 1 else [changed.part]
    )


def test_pieces_beyond_what_is_asked_for_are_told_and_may_be_used(book):
    cut(book, sheet_of(laid(STOCK[1], (THWART, 3, 3, 2))))
    bench.spoil(book, "Teasel", "thwart, 1 of 2")
    one = need("thwart", 1000.0, 150.0)
    notes = record(book, yard(one)).notes
    assert notes[0] == "thwart, 2 of 2, sawn from B: the parts list asks for only 1 of thwart"
    assert "book used PROJECT.yaml 'thwart, 2 of 2' 'thwart')" in notes[1]
    assert "serves all the same" not in notes[1]
    with pytest.raises(BookError, match="asks for only 1 of thwart; name the part"):
        bench.serve(book, "Teasel", "thwart, 2 of 2")
    now = bench.use_for(book, "Teasel", "thwart, 2 of 2", "thwart")
    assert now == ("thwart", False)
    assert (done(book), standing(book).odd) == ([(1, 0, 0)], ())


def test_piece_beyond_what_is_asked_for_where_nothing_is_lacking_is_to_become_another(book):
    cut(book, sheet_of(laid(STOCK[1], (THWART, 3, 3, 2))))
    notes = record(book, yard(need("thwart", 1000.0, 150.0))).notes
    assert "name that (salvage-nest book used PROJECT.yaml 'thwart, 2 of 2' OTHER)" in notes[1]
    assert "still wanted" not in notes[1] and "serves all the same" not in notes[1]
    assert bench.spoil(book, "Teasel", "thwart, 2 of 2") == ("", False)


def test_piece_that_serves_all_the_same_counts_until_its_part_changes_again(book):
    longer = need("thwart", 1250.0, 150.0, quantity=2)
    record(book, yard(longer))
    with pytest.raises(BookError, match="no piece seat of Teasel was sawn"):
        bench.serve(book, "Teasel", "seat")
    assert bench.serve(book, "Teasel", "thwart", "short, and good enough") == "thwart, 1 of 2"
    assert (done(book), still(book, longer)[0]) == ([(1, 0, 1)], [("thwart", 1, (2,))])
    with pytest.raises(BookError, match="counts as it is: name the part it becomes"):
        bench.serve(book, "Teasel", "thwart")
    longest = need("thwart", 1300.0, 150.0, quantity=2)
    record(book, yard(longest))
    assert done(book) == [(0, 0, 2)]
    record(book, YARD)
    assert done(book) == [(1, 0, 1)]
    assert faults(book) == []


def test_new_piece_takes_the_name_of_one_that_does_not_count(book):
    longer = need("thwart", 1250.0, 150.0, quantity=2)
    record(book, yard(longer))
    before = pile_of(book).tables
    sawn = cut(book, sheet_of(laid(STOCK[1], (longer, 3, 3, 1))))
    assert (sawn.pieces, sawn.notes, done(book)) == (["thwart, 1 of 2"], [], [(1, 0, 1)])
    assert [row["body"]["label"] for row in book.rows("piece")] == [
        "thwart, 1 of 2 (piece 1)", "thwart, 1 of 2",
    ]  # fmt: skip
    assert [odd[1] for odd in standing(book).odd] == ["thwart, 1 of 2 (piece 1)"]
    assert bench.serve(book, "Teasel", "thwart, 1 of 2 (piece 1)") == "thwart, 2 of 2"
    assert (done(book), faults(book)) == ([(2, 0, 0)], [])
    undo(book, "Teasel")
    undo(book, "Teasel")
    assert pile_of(book).tables == before


def test_cut_by_a_sheet_from_before_the_change_says_that_it_does_not_count(book):
    sheet = sheet_of(laid(STOCK[1], (THWART, 3, 3, 2)))
    record(book, yard(need("thwart", 1250.0, 150.0, quantity=2)))
    (note,) = cut(book, sheet).notes
    assert note.startswith("thwart, 2 of 2 does not count: it is 1000.0 x 150.0 mm, the parts")
    with pytest.raises(BookError, match="no piece of the sheet of B is left to be sawn"):
        cut(book, sheet)


def test_one_sheet_saws_a_piece_once(book):
    sheet = sheet_of(laid(STOCK[1], (THWART, 3, 3, 2)))
    (piece,) = sheet.pieces
    other = replace(piece, polygon=shapely.affinity.translate(piece.polygon, 0.0, 160.0))
    wide = replace(sheet, pieces=(piece, other))
    record(book, Yard(stock=(*STOCK[:1], plank("B", 2000.0, 400.0)), needs=(THWART,)))
    wide = replace(wide, outline=box(0, 0, 2000, 400))
    with pytest.raises(BookError, match="thwart, 2 of 2 was sawn before: a piece is there once"):
        cut(book, wide, Cut())


def test_piece_that_was_used_in_an_older_book_is_taken_at_its_word(book):
    """Books did not always keep what a piece was used for looked like."""
    record(book, yard(THWART, need("seat", 900.0, 150.0)))
    bench.use_for(book, "Teasel", "thwart, 1 of 2", "seat")
    with book.writing("Teasel", "used") as writing:
        (row,) = book.rows("piece")
        body = {key: value for key, value in row["body"].items() if key != "serves"}
        writing.put("piece", {**row, "body": body})
    assert standing(book).odd == ()


RING = Point(0, 0).buffer(80) - Point(20, 5).buffer(30)
SHAPES = {
    "strip": box(0, 0, 1000, 50),
    "angle": Polygon([(0, 0), (300, 0), (300, 40), (40, 40), (40, 200), (0, 200)]),
    "ring": RING,
    "wedge": Polygon([(0, 0), (400, 0), (0, 90)]),
}


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("turn", [0.0, 37.0, 180.0])
@pytest.mark.parametrize("over", [1.0, -1.0])
def test_outline_is_told_however_it_lies(name, turn, over):
    shape = SHAPES[name]
    moved = shapely.affinity.translate(shapely.affinity.rotate(shape, turn), 1234.5, -77.0)
    moved = shapely.affinity.scale(moved, 1.0, over)
    first, second, *others = forms_of([shape, moved, *SHAPES.values()])
    assert np.allclose(first, second, atol=1e-6)
    far = [np.max(np.abs(first - other)) > NEAR_MM for other in others]
    assert far == [other != name for other in SHAPES]


def test_measures_of_a_strip_are_those_of_the_textbook():
    """Area, girth and second moments of a thin frame of 300 x 40 mm, by hand."""
    a, b = 300.0, 40.0
    along = (a**3 / 12 * 2 + 2 * b * (a / 2) ** 2) / (2 * a + 2 * b)
    across = (b**3 / 12 * 2 + 2 * a * (b / 2) ** 2) / (2 * a + 2 * b)
    wanted = [math.sqrt(a * b), math.sqrt(a * b), (a + b) / 2, math.sqrt(along), math.sqrt(across)]
    assert forms_of([box(10, 20, 10 + a, 20 + b)])[0] == pytest.approx(wanted)


def test_by_the_command_line(tmp_path, capsys):
    from nesting import cli

    path = tmp_path / "p.yaml"

    def written(length):
        path.write_text(
            "version: 1\nname: R\nunit: in\nbook: r.book\nstock:\n"
            "  - {board: A, species: teak, thickness: 1, length: 60, width: 6}\n"
            "  - {board: B, species: teak, thickness: 1, length: 60, width: 6}\n"
            "parts:\n  - {part: thwart, quantity: 2, family: plank, species: teak, shape: "
            f"{{length: {length}, width: 5, thickness: 3/4}}}}\n"
            "outputs: {folder: plan, write: []}\n"
        )

    def run(*words):
        capsys.readouterr()
        assert cli.main([*map(str, words)]) == 0
        out, err = capsys.readouterr()
        return out + err

    written(40)
    run("book", "record", path)
    run("nest", path, "--rounds", 0, "--workers", 1, "-q")
    run("book", "cut", path, "A")
    assert "note: 1 piece is sawn, by the book" in run("check", path)
    written(50)
    why = "thwart, 1 of 2, sawn from A: it is 40 in x 5 in, the parts list has 50 in x 5 in now"
    assert f"note: {why}" in run("check", path)
    assert f"note: {why}" in run("book", "record", path)
    assert "0 of 2 pieces done" in run("book", "status", path)
    said = run("book", "used", path, "thwart, 1 of 2")
    assert said == "thwart, 1 of 2 serves as thwart, 1 of 2, as the parts list has that now\n"
    assert re.search("1 of 2 pieces done", run("book", "status", path))


def test_piece_of_a_part_that_is_called_otherwise_now_is_named_as_that(book):
    """What is said to do can be done: the part of the old name is on no list any more."""
    seat = need("seat", 1000.0, 150.0, quantity=2)
    notes = record(book, yard(seat)).notes
    assert "thwart, 1 of 2, sawn from A: the parts list has no thwart any more" in notes
    assert "name that (salvage-nest book used PROJECT.yaml 'thwart, 1 of 2' OTHER)" in notes[-1]
    assert "if one serves all the same" not in notes[-1]
    assert bench.use_for(book, "Teasel", "thwart, 1 of 2", "seat, 1 of 2") == (
        "seat, 1 of 2",
        False,
    )
    assert done(book) == [(1, 0, 1)]
    assert record(book, yard(seat)).notes == []


def test_piece_that_became_another_is_wanted_again_as_long_as_the_list_has_it(book):
    record(book, yard(THWART, need("seat", 1000.0, 150.0)))
    assert bench.use_for(book, "Teasel", "thwart, 1 of 2", "seat") == ("seat", True)


def test_piece_that_has_not_the_wood_of_what_it_is_used_for_is_told(book):
    """Of a thwart of 1000 x 150 mm: what may lie in it says nothing, however it is turned."""
    bent = need("bent", 1000.0, 150.0)
    ring = Outline(box(0, 0, 500, 400).difference(box(5, 5, 495, 395)), 25.0)
    needs = [
        THWART, need("seat", 150.0, 900.0), need("slat", 990.0, 140.0), bent,
        replace(need("hoop"), outline=ring),
    ]  # fmt: skip
    record(book, yard(*needs))
    told = {
        other: bench.lacking(book, "Teasel", "thwart, 1 of 2", other)
        for other in ("seat", "slat", "bent", "hoop")
    }
    assert told["seat"] == told["slat"] == told["bent"] == ""
    assert told["hoop"].startswith(
        "hoop asks for more wood than there is: it is 500.0 x 400.0 mm over all, thwart, 1 of 2 is "
        "1000.0 x 150.0 mm"
    )
    cut(book, sheet_of(laid(STOCK[1], (THWART, 20, 20, 2))), Cut())
    record(book, yard(*needs, need("door", 500.0, 400.0)))
    with pytest.raises(BookError, match="no piece thwart, 3 of 2"):
        bench.lacking(book, "Teasel", "thwart, 3 of 2", "door")
    told = bench.lacking(book, "Teasel", "thwart, 2 of 2", "door")
    assert "door asks for more wood than there is" in told


@pytest.mark.parametrize(
    ("length", "width"), [(1012.0, 100.0), (900.0, 151.0)], ids=["longer", "broader"]
)
def test_piece_of_less_area_that_is_too_long_or_too_broad_is_told_too(book, length, width):
    record(book, yard(THWART, need("shelf", length, width)))
    told = bench.lacking(book, "Teasel", "thwart, 1 of 2", "shelf")
    assert told.startswith(f"shelf asks for more wood than there is: it is {length} x {width} mm")


def test_piece_of_another_wood_than_what_it_is_used_for_is_told(book):
    oak = replace(need("seat", 900.0, 140.0), species=("white oak", "larch"))
    record(book, yard(THWART, oak))
    told = bench.lacking(book, "Teasel", "thwart, 1 of 2", "seat")
    assert told.startswith("seat is wanted of white oak or larch, thwart, 1 of 2 is of teak")
    sheet = sheet_of(laid(STOCK[1], (THWART, 20, 20, 2)))
    (note,) = cut(book, sheet, Cut(used_for={"thwart, 2 of 2": "seat"})).notes
    assert note.startswith("seat is wanted of white oak or larch, thwart, 2 of 2 is of teak")


def test_cut_says_so_too(book):
    record(book, yard(THWART, need("door", 500.0, 400.0)))
    sheet = sheet_of(laid(STOCK[1], (THWART, 20, 20, 2)))
    (note,) = cut(book, sheet, Cut(used_for={"thwart, 2 of 2": "door"})).notes
    assert note.startswith("door asks for more wood than there is: it is 500.0 x 400.0 mm")


def test_list_of_an_older_form_is_to_be_entered_anew_before_a_piece_serves(book):
    """Books did not always keep the outlines of parts."""
    record(book, yard(THWART, need("seat", 900.0, 140.0)))
    with book.writing("Teasel", "recorded") as writing:
        for row in book.rows("want"):
            body = {key: value for key, value in row["body"].items() if key != "outline"}
            writing.put("want", {**row, "body": body})
    tables = pile_of(book).tables
    assert bench.lacking(book, "Teasel", "thwart, 1 of 2", "seat") == ""
    with pytest.raises(BookError, match="enter it anew"):
        bench.use_for(book, "Teasel", "thwart, 1 of 2", "seat")
    assert pile_of(book).tables == tables
