"""What a cut enters in the book: words, pieces, and the wood that is left, where it lies."""

from dataclasses import replace

import pytest
from book_shop import RULES, Yard, laid, need, plank, sheet_of
from shapely import affinity
from shapely.geometry import box

from nesting.book import bench
from nesting.book.cut_told import Cut, Kept
from nesting.book.cutting import cut
from nesting.book.holds import hold
from nesting.book.integrity import faults
from nesting.book.opening import opened
from nesting.book.outlines import wood_of
from nesting.book.record import record
from nesting.book.rows import board_named
from nesting.errors import BookError
from nesting.stock.keep_out import circle

CLEAT, BENCH = need(quantity=6), need("bench", 900.0, 150.0)
WALL, THICK = need("bulkhead", 100.0, 197.0), need("thick", 300.0, 60.0, 29.9, 2)
A = plank(keep_outs=[circle("hole", 100, 30, 6), circle("metal", 1960, 30, 4)])
STRIP, COVER = need("strip", 1090.0, 40.0), need("cover", 900.0, 100.0)
SLAT, WHOLE = need("slat", 900.0, 6.0), need("whole", 1990.0, 190.0)
MORE = STRIP, COVER, SLAT, WHOLE
AROUND = RULES.kerf_mm + RULES.trim_mm


@pytest.fixture
def book(tmp_path):
    yard = Yard(stock=(A, plank("B")), needs=(CLEAT, BENCH, WALL, THICK, *MORE))
    with opened(tmp_path / "stock.book", create=True) as found:
        record(found, yard)
        record(found, Yard(name="Sorrel", stock=(plank("C"),), needs=(CLEAT,)))
        yield found
        assert faults(found) == []


def rows_of(*placed):
    return [(CLEAT, 3.0 + 310 * (n % 5), 3.0 + 70 * (n // 5), n + 1) for n in range(*placed)]


def said(book):
    return list(book.steps())[-1].said


def wood(book, name):
    """Return a board of the book in the frame of the board that it came of."""
    body = board_named(book, name)["body"]
    return affinity.translate(wood_of(body["wood"]), *body["at"])


SIX = sheet_of(laid(A, *rows_of(6)))


def test_step_says_what_was_sawn_spoiled_and_left(book):
    cut(book, SIX, Cut(("cleat, 1 of 6", "cleat, 2 of 6")))
    assert said(book) == "A: sawed cleat, 1 of 6 + cleat, 2 of 6; left: A"
    cut(book, SIX, Cut(("cleat, 3 of 6",), spoiled=("cleat, 3 of 6",), kept=Kept.REST))
    assert said(book) == "A: spoiled cleat, 3 of 6; left: A"
    cut(book, SIX, Cut(("cleat, 4 of 6",), spoiled=("cleat, 5 of 6",), kept=Kept.NOTHING))
    assert said(book) == "A: sawed cleat, 4 of 6; spoiled cleat, 5 of 6; nothing left"


@pytest.mark.parametrize(("count", "dots"), [(4, ""), (5, " ...")])
def test_step_names_four_pieces(book, count, dots):
    cut(book, sheet_of(laid(A, *rows_of(count))), Cut(kept=Kept.NOTHING))
    assert said(book).endswith(f"cleat, 3 of 6 + cleat, 4 of 6{dots}; nothing left")


def test_what_was_sawn_before_is_noted_and_nothing_more_can_be_sawn(book):
    cut(book, SIX, Cut(("cleat, 1 of 6",)))
    assert cut(book, SIX).notes == [
        "not sawn now, being sawn before or not wholly in the wood that is left: cleat, 1 of 6"
    ]
    for kept in (None, *Kept):
        with pytest.raises(BookError, match="no piece of the sheet of A is left to be sawn"):
            cut(book, SIX, Cut(kept=kept))


def test_nothing_is_noted_where_pieces_are_named_or_all_are_there(book):
    assert cut(book, SIX, Cut(("cleat, 1 of 6",))).notes == []
    assert cut(book, SIX, Cut(("cleat, 2 of 6",))).notes == []
    assert cut(book, sheet_of(laid(plank("B"), (BENCH, 3, 3)))).notes == []


def test_piece_that_is_spoiled_is_cut_with_the_others_where_none_is_named(book):
    sawn = cut(book, SIX, Cut(spoiled=("cleat, 2 of 6",)))
    assert (len(sawn.pieces), sawn.spoiled) == (5, ["cleat, 2 of 6"])


def test_board_that_another_project_holds_is_not_sawn(book):
    hold(book, "Sorrel", ["A"])
    with pytest.raises(BookError, match="A is reserved by the project Sorrel"):
        cut(book, SIX)


def test_piece_that_is_spoiled_cannot_be_used_for_another(book):
    what = Cut(spoiled=("cleat, 1 of 6",), used_for={"cleat, 1 of 6": "bench"})
    with pytest.raises(BookError, match="cleat, 1 of 6: a piece that was spoiled is used for noth"):
        cut(book, SIX, what)


@pytest.mark.parametrize(("one", "other"), [(1, 2), (2, 1)])
def test_piece_that_is_sawn_too_is_not_what_another_is_used_for(book, one, other):
    used = {f"cleat, {one} of 6": f"cleat, {other} of 6"}
    twice = f"cleat, {other} of 6 is sawn of board A too: cleat, {one} of 6 cannot be used for it"
    with pytest.raises(BookError, match=twice):
        cut(book, SIX, Cut(used_for=used))
    both = {**used, f"cleat, {other} of 6": f"cleat, {one} of 6"}
    assert len(cut(book, SIX, Cut(used_for=both)).pieces) == 6


def test_piece_that_is_used_for_a_part_by_its_name_is_called_as_the_next_one_not_sawn(book):
    cut(book, SIX, Cut(("cleat, 2 of 6",), used_for={"cleat, 2 of 6": "thick"}))
    sawn = cut(
        book, SIX, Cut(("cleat, 1 of 6", "cleat, 3 of 6"), used_for={"cleat, 3 of 6": "cleat"})
    )
    assert sawn.pieces == ["cleat, 1 of 6", "cleat, 2 of 6"]
    labels = [row["body"]["label"] for row in book.rows("piece")]
    assert labels == ["thick, 1 of 2", "cleat, 1 of 6", "cleat, 2 of 6"]


QUOTED = ['"{}"', "'{}'", "\u201c{}\u201d", "\u2018{}\u2019"]


@pytest.mark.parametrize("mark", QUOTED, ids=["double", "single", "printed", "printed single"])
def test_quotation_marks_about_the_name_of_a_piece_are_no_part_of_it(book, mark):
    """They come through where a shell takes another pair away."""
    first, second, third = (mark.format(f"cleat, {n} of 6") for n in (1, 2, 3))
    other = mark.format("thick, 2 of 2")
    sawn = cut(book, SIX, Cut((first, second), spoiled=(second,), used_for={third: other}))
    assert (sawn.pieces, sawn.spoiled) == (["cleat, 1 of 6", "thick, 2 of 2"], ["cleat, 2 of 6"])
    with pytest.raises(BookError, match="cleat, 6 of 6 is sawn of board A too"):
        cut(book, SIX, Cut(used_for={"cleat, 4 of 6": mark.format("cleat, 6 of 6")}))
    bench.spoil(book, "Teasel", first)


def test_name_that_is_not_there_is_told_as_it_was_given(book):
    with pytest.raises(BookError, match='no piece "cleat, 9 of 6": on the sheet'):
        cut(book, SIX, Cut(('"cleat, 9 of 6"',)))


def test_piece_is_used_for_one_that_is_spoiled_beside_it(book):
    used = {"cleat, 1 of 6": "cleat, 2 of 6"}
    sawn = cut(book, SIX, Cut(spoiled=("cleat, 2 of 6",), used_for=used))
    assert sawn.pieces[0] == "cleat, 2 of 6" and sawn.spoiled == ["cleat, 2 of 6"]


def test_piece_is_used_for_one_that_is_no_thicker_than_the_board_is_now(book):
    bench.tape(book, "Teasel", "B", None, 29.89)
    sheet = sheet_of(laid(replace(plank("B"), thickness_mm=29.89), (CLEAT, 3, 3, 1)))
    sawn = cut(book, sheet, Cut(used_for={"cleat, 1 of 6": "thick, 1 of 2"}))
    assert sawn.pieces == ["thick, 1 of 2"]
    bench.tape(book, "Teasel", "A", None, 29.8)
    thin = r"A is 29\.8 mm thick, too thin for thick, 2 of 2, which is 29\.9 mm"
    with pytest.raises(BookError, match=thin):
        cut(book, SIX, Cut(used_for={"cleat, 1 of 6": "thick, 2 of 2"}))


def test_piece_keeps_the_holes_that_lie_in_it_and_where_it_lay(book):
    cut(book, SIX, Cut(("cleat, 1 of 6", "cleat, 2 of 6")))
    first, second = (row["body"] for row in book.rows("piece"))
    assert (len(first["keep_outs"]), len(second["keep_outs"])) == (1, 0)
    (step,) = [step for step in book.steps() if step.kind == "cut"]
    # Wood in parts is as thick as they are; the rest of the board's thickness is lost.
    assert step.ledger[2] == pytest.approx(2 * 300 * 60)
    assert step.ledger[6] == pytest.approx(2 * 300 * 60 * CLEAT.outline.siding_mm)


def in_two(book):
    """Saw a board through, and return the sheet and the names of its left and right part."""
    sheet = sheet_of(laid(A, (WALL, 800, 1.5), (BENCH, 1000, 20), (CLEAT, 3, 3, 1)))
    assert cut(book, sheet, Cut(("bulkhead",))).left == ["A", "A.1"]
    assert wood(book, "A").bounds == pytest.approx((900 + AROUND, 0, 2000, 200))
    assert wood(book, "A.1").bounds == pytest.approx((0, 0, 800 - AROUND, 200))
    return sheet


def test_pieces_of_a_board_that_fell_apart_are_sawn_where_they_lie(book):
    sheet = in_two(book)
    cut(book, sheet, Cut(("bench",), kept=Kept.REST))
    whole = 1100 - AROUND
    assert wood(book, "A").area == pytest.approx(
        whole * 200 - (900 + 2 * AROUND) * (150 + 2 * AROUND), rel=1e-3
    )
    assert wood(book, "A.1").area == pytest.approx((800 - AROUND) * 200)


def test_web_with_a_piece_still_to_be_sawn_stays_wherever_its_board_lay_in_the_first(book):
    placed = (WALL, 800, 1.5), (STRIP, 905, 40), (COVER, 1000, 90), (SLAT, 1000, 193.5)
    sheet = sheet_of(laid(A, *placed))
    cut(book, sheet, Cut(("bulkhead",)))
    cut(book, sheet, Cut(("strip",)))
    assert wood(book, "A").bounds == pytest.approx((903, 83, 2000, 200))
    cut(book, sheet, Cut(("cover",)))
    assert wood(book, "A").intersection(box(1000, 83, 1900, 200)).area == pytest.approx(900 * 7)
    sheet = replace(sheet, offcuts=(box(1910, 100, 1990, 190),))
    done = cut(book, sheet, Cut(("slat",), kept=Kept.OFFCUTS))
    assert [wood(book, name).bounds for name in done.left] == [(1910, 100, 1990, 190)]


def test_board_of_which_too_little_is_left_to_be_one_is_sawn_up(book):
    done = cut(book, sheet_of(laid(plank("B"), (WHOLE, 5, 5))), Cut(kept=Kept.REST))
    assert (done.pieces, done.left) == (["whole"], [])
    assert book.row("board", "B")["state"] == "sawn up"


def test_offcut_of_which_a_splinter_is_there_is_none(book):
    sheet = sheet_of(laid(plank("B"), (BENCH, 3, 3)))
    sheet = replace(sheet, offcuts=(box(1000, 100, 1500, 109), box(1991, 0, 2000, 200)))
    assert cut(book, sheet).left == []


def test_offcuts_of_a_sheet_are_kept_as_far_as_they_are_there(book):
    sheet = in_two(book)
    left, both = box(100, 100, 700, 200), box(300, 100, 1300, 200)
    right = box(1000, 175, 1900, 200)
    sheet = replace(sheet, offcuts=(left, both, right))
    done = cut(book, sheet, Cut(("bench",), kept=Kept.OFFCUTS))
    assert wood(book, done.left[0]).bounds == pytest.approx(right.bounds)
    assert done.left == ["A.2"]
    assert done.notes == ["offcut 2 is not there any more, and is not kept"]


def test_offcut_that_laps_over_a_cut_or_another_is_kept_without_that(book):
    sheet = sheet_of(laid(A, (BENCH, 3, 3)))
    first, second = box(1000, 0, 1500, 200), box(1400, 0, 2000, 200)
    over = box(600, 140, 900, 200)
    sheet = replace(sheet, offcuts=(first, second, over))
    done = cut(book, sheet)
    assert [wood(book, name).bounds for name in done.left] == [
        pytest.approx(bounds)
        for bounds in ((1000, 0, 1500, 200), (1500, 0, 2000, 200), (600, 153 + AROUND, 900, 200))
    ]


def test_board_of_which_nothing_is_kept_is_sawn_up_and_what_is_left_is_lost(book):
    done = cut(book, SIX, Cut(("cleat, 1 of 6",), kept=Kept.NOTHING))
    assert done.left == []
    assert book.row("board", "A")["state"] == "sawn up"
    (step,) = [step for step in book.steps() if step.kind == "cut"]
    assert step.ledger[3] == pytest.approx(A.area_mm2 - 300 * 60)
    with pytest.raises(BookError, match="cleat, 2 of 6 does not lie wholly on what is left"):
        cut(book, SIX, Cut(("cleat, 2 of 6",)))


@pytest.mark.parametrize("kept", [Kept.NOTHING, Kept.OFFCUTS])
def test_pieces_that_were_to_come_of_a_board_of_which_no_rest_is_kept_are_told(book, kept):
    (note,) = cut(book, SIX, Cut(("cleat, 1 of 6", "cleat, 4 of 6"), kept=kept)).notes
    assert note == (
        "of A no rest is kept: nest again, or take this back (book undo) and keep the rest, for "
        "what is not sawn of it: cleat, 2 of 6; cleat, 3 of 6; cleat, 5 of 6; cleat, 6 of 6"
    )


@pytest.mark.parametrize("what", [Cut(kept=Kept.NOTHING), Cut(("cleat, 1 of 6",))])
def test_nothing_is_told_where_all_is_sawn_or_the_rest_is_kept(book, what):
    assert cut(book, SIX, what).notes == []


def test_rest_that_falls_off_a_board_is_held_with_it_and_an_offcut_is_not(book):
    hold(book, "Teasel", ["A"])
    sheet = in_two(book)
    assert [board_named(book, name)["held_by"] for name in ("A", "A.1")] == ["Teasel"] * 2
    done = cut(book, sheet, Cut(("cleat, 1 of 6",), kept=Kept.OFFCUTS))
    assert {board_named(book, name)["held_by"] for name in done.left} == {None}


@pytest.mark.parametrize(("outside", "is_sawn"), [(0.015, True), (0.05, False)])
def test_cut_line_may_lie_outside_the_wood_by_no_more_than_it_is_drawn_to(book, outside, is_sawn):
    edge = sheet_of(laid(plank("B"), (BENCH, 3, 3)))
    piece = replace(edge.pieces[0], polygon=box(3, -outside, 903, 150))
    edge = replace(edge, pieces=(piece,), offcuts=())
    if is_sawn:
        assert cut(book, edge).pieces == ["bench"]
    else:
        with pytest.raises(BookError, match="no piece of the sheet of B is left"):
            cut(book, edge)


def test_pieces_may_touch_on_a_sheet_but_not_lap(book):
    beside = laid(A, (CLEAT, 3, 3, 1), (CLEAT, 303, 3, 2))
    assert len(cut(book, sheet_of(beside)).pieces) == 2
    over = laid(plank("B"), (CLEAT, 3, 3, 3), (CLEAT, 302.9, 3, 4))
    with pytest.raises(BookError, match="cleat, 3 of 6 and cleat, 4 of 6 lie on each other"):
        cut(book, sheet_of(over))


@pytest.mark.parametrize("kind", ["rot", "split", "hole", "stain"])
def test_piece_in_which_something_was_found_since_its_sheet_is_not_sawn_unsaid(book, kind):
    bench.found(book, "Teasel", "A", [circle(kind, 150, 40, 12)])
    message = f"{kind} in cleat, 1 of 6, at .150, 40. mm of the board, was found since its sheet"
    with pytest.raises(BookError, match=message):
        cut(book, SIX)
    # The others are clear of it, and of what the sheet shows.
    assert cut(book, SIX, Cut(("cleat, 2 of 6",))).pieces == ["cleat, 2 of 6"]
    with pytest.raises(BookError, match=f"{kind} in cleat, 1 of 6"):
        cut(book, SIX, Cut(("cleat, 1 of 6",)))
    assert cut(book, SIX, Cut(("cleat, 1 of 6",), is_even_so=True)).pieces == ["cleat, 1 of 6"]
    assert len(book.row("piece", 2)["body"]["keep_outs"]) == 2


def test_piece_that_came_to_nothing_for_what_was_found_is_entered_as_spoiled(book):
    bench.found(book, "Teasel", "A", [circle("rot", 150, 40, 12)])
    done = cut(book, SIX, Cut(("cleat, 1 of 6",), spoiled=("cleat, 1 of 6",)))
    assert done.spoiled == ["cleat, 1 of 6"]


def test_what_was_found_is_known_where_it_lies_once_the_left_end_is_off(book):
    """The frame of what is left begins elsewhere; rot that the saw went through is less."""
    board = replace(A, keep_outs=(*A.keep_outs, circle("rot", 700, 100, 300)))
    record(book, Yard(stock=(board, plank("B")), needs=(CLEAT, BENCH, WALL, THICK, *MORE)))
    sheet = sheet_of(laid(board, (WALL, 600, 1.5), (CLEAT, 760, 30, 1), (CLEAT, 1100, 30, 2)))
    assert cut(book, sheet, Cut(("bulkhead",))).left == ["A", "A.1"]
    assert cut(book, sheet, Cut(("cleat, 1 of 6",))).pieces == ["cleat, 1 of 6"]
    x = wood(book, "A").bounds[0]
    bench.found(book, "Teasel", "A", [circle("rot", 1150 - x, 40, 12)])
    with pytest.raises(BookError, match="rot in cleat, 2 of 6"):
        cut(book, sheet, Cut(("cleat, 2 of 6",)))


def test_metal_is_never_sawn_whatever_is_said(book):
    bench.found(book, "Teasel", "A", [circle("metal", 150, 40, 4)])
    with pytest.raises(BookError, match="metal lies in cleat, 1 of 6"):
        cut(book, SIX, Cut(("cleat, 1 of 6",), is_even_so=True))
