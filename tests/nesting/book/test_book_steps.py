"""Steps of the book: recorded, cut, found, spoiled, used, taped, and each taken back."""

from dataclasses import replace

import pytest
from book_shop import RULES, Yard, laid, need, plank, sheet_of
from shapely.geometry import box

from nesting.book import bench
from nesting.book.cut_told import Cut, Kept
from nesting.book.cutting import cut
from nesting.book.holds import Planned, release, reserve
from nesting.book.offered import as_offered
from nesting.book.opening import opened
from nesting.book.record import record
from nesting.book.rows import board_in, board_named
from nesting.book.steps import pile_after, pile_of, undo
from nesting.book.wood import board_data, board_of
from nesting.errors import BookError
from nesting.stock.keep_out import KeepOutKind, circle

CLEAT, BENCH = need(quantity=2), need("bench", 900.0, 150.0)
A = plank(keep_outs=[circle("hole", 1500, 100, 6), circle("metal", 700, 190, 4)])


@pytest.fixture
def book(tmp_path):
    with opened(
        tmp_path / "stock.book", create=True, clock=lambda: "2026-05-04T08:00:00Z"
    ) as found:
        record(found, Yard(stock=(A, plank("B")), needs=(CLEAT, BENCH)))
        yield found


@pytest.fixture
def sheet():
    return sheet_of(laid(A, (CLEAT, 3, 3, 1), (CLEAT, 3, 70, 2), (BENCH, 400, 3)))


def stock(book):
    return [row["name"] for row in book.rows("board", "state = 'in stock'")]


def test_recording_twice_changes_nothing(book):
    before = book.last_step
    again = record(book, Yard(stock=(A, plank("B")), needs=(CLEAT, BENCH)))
    assert (again.new, again.changed, book.last_step) == ([], [], before)


def test_board_comes_back_as_it_was_recorded(book):
    assert board_in(board_named(book, "A")) == A


def test_whole_board_that_is_cut_leaves_the_offcuts_of_its_sheet(book, sheet):
    sawn = cut(book, sheet)
    assert sawn.pieces == ["cleat, 1 of 2", "cleat, 2 of 2", "bench"]
    assert stock(book) == sorted(["B", *sawn.left])
    assert sawn.left == [f"A.{n + 1}" for n in range(len(sheet.offcuts))] != []
    first = board_in(board_named(book, "A.1"))
    low = sheet.offcuts[0].bounds
    assert (first.length_mm, first.width_mm) == pytest.approx((low[2] - low[0], low[3] - low[1]))
    assert (first.thickness_mm, first.species, first.grain) == (30, "teak", A.grain)
    (hole,) = first.keep_outs
    assert (hole.core.x, hole.core.y) == pytest.approx((1500 - low[0], 100 - low[1]))


def test_some_pieces_leave_the_rest_as_one_board_of_the_same_name(book, sheet):
    sawn = cut(book, sheet, Cut(("cleat, 1 of 2",)))
    assert sawn.left == ["A"]
    rest = board_in(board_named(book, "A"))
    gone = 303.0 + RULES.kerf_mm + RULES.trim_mm
    assert rest.area_mm2 == pytest.approx(A.area_mm2 - gone * 66.0, rel=1e-4)
    assert [k.kind for k in rest.keep_outs] == [KeepOutKind.HOLE, KeepOutKind.METAL]
    # The old sheet still serves for the others, and the board is done with them.
    done = cut(book, sheet)
    assert done.pieces == ["cleat, 2 of 2", "bench"]
    assert "A" not in stock(book)


def test_piece_sawn_out_of_the_middle_leaves_an_opening_that_no_part_covers(book):
    middle = sheet_of(laid(A, (BENCH, 400, 20)))
    cut(book, middle, Cut(kept=Kept.REST))
    rest = board_in(board_named(book, "A"))
    groove = next(k for k in rest.keep_outs if k.note == "sawn out")
    assert groove.kind is KeepOutKind.GROOVE
    assert groove.polygon.area == pytest.approx(906 * 156, rel=1e-3)


def test_board_that_falls_apart_becomes_two_and_the_old_sheet_finds_its_pieces(book):
    wide = need("bulkhead", 197.0, 100.0)
    across = laid(A, (wide, 1100, 2), (CLEAT, 1500, 20, 1))
    turned = [p if p.need.part == "cleat" else _turned(p) for p in across.placements]
    sheet = sheet_of(type(across)(A, tuple(turned)))
    with book.writing("Teasel", "wants") as writing:
        body = {**book.row("want", "Teasel", "bench")["body"], "labels": ["bulkhead"]}
        writing.put("want", {"project": "Teasel", "part": "bulkhead", "body": body})
    sawn = cut(book, sheet, Cut(("bulkhead",)))
    assert sawn.left == ["A", "A.1"]
    again = cut(book, sheet, Cut(("cleat, 1 of 2",)))
    assert again.pieces == ["cleat, 1 of 2"]


def _turned(placement):
    return replace(placement, angle_deg=90.0)


def test_no_piece_is_sawn_twice(book, sheet):
    cut(book, sheet, Cut(("bench",)))
    with pytest.raises(BookError, match="bench was sawn before: a piece is there once"):
        cut(book, sheet, Cut(("bench",)))
    other = sheet_of(laid(plank("B"), (BENCH, 3, 3)))
    with pytest.raises(BookError, match="no piece of the sheet of B is left to be sawn"):
        cut(book, other)


def test_spoiled_piece_is_wanted_again(book, sheet):
    cut(book, sheet, Cut(spoiled=("bench",)), why="split along the shake")
    other = sheet_of(laid(plank("B"), (BENCH, 3, 3)))
    assert cut(book, other).pieces == ["bench"]


def test_spoiled_piece_whose_wood_is_kept_comes_back_with_its_holes(book):
    sheet = sheet_of(laid(A, (BENCH, 1050, 3)))
    cut(book, sheet)
    name, _ = bench.spoil(book, "Teasel", "bench", is_kept=True)
    back = board_in(board_named(book, name))
    assert (back.length_mm, back.width_mm, back.thickness_mm) == (900, 150, 25)
    (hole,) = back.keep_outs
    assert (hole.core.x, hole.core.y) == (450, 97)


def test_wood_of_a_spoiled_piece_comes_back_though_a_knot_touches_its_edge(book):
    knotted = plank("K", keep_outs=[circle("knot", 450, 103, 6)])
    record(book, Yard(stock=(A, plank("B"), knotted), needs=(CLEAT, BENCH)))
    narrow = need("bench", 900.0, 97.0)
    cut(book, sheet_of(laid(knotted, (narrow, 3, 3))))
    name, _ = bench.spoil(book, "Teasel", "bench", is_kept=True)
    assert board_in(board_named(book, name)).keep_outs == ()


def test_piece_used_for_another_leaves_its_own_wanted(book, sheet):
    cut(book, sheet, Cut(("bench", "cleat, 1 of 2"), used_for={"bench": "cleat, 2 of 2"}))
    rows = book.rows("piece")
    assert [(row["part"], row["copy"], row["body"]["sawn_as"]) for row in rows] == [
        ("cleat", 1, "cleat, 1 of 2"), ("cleat", 2, "bench"),
    ]  # fmt: skip
    with pytest.raises(BookError, match="cleat, 1 of 2 was sawn before"):
        bench.use_for(book, "Teasel", "cleat, 2 of 2", "cleat, 1 of 2")


def test_metal_found_since_keeps_the_saw_off(book, sheet):
    bench.found(book, "Teasel", "A", [circle("metal", 500, 50, 4)], "the detector")
    with pytest.raises(BookError, match=r"metal lies in bench, at \(500, 50\) mm"):
        cut(book, sheet)
    assert cut(book, sheet, Cut(("cleat, 1 of 2",))).pieces == ["cleat, 1 of 2"]
    assert cut(book, sheet, Cut(("bench",), spoiled=("bench",))).spoiled == ["bench"]


def test_stale_sheet_is_told(book, sheet):
    bench.tape(book, "Teasel", "A", box(0, 0, 1990, 200))
    with pytest.raises(BookError, match="the sheet of A is stale"):
        cut(book, sheet)


def test_sheet_with_pieces_on_each_other_is_refused(book):
    bad = sheet_of(laid(A, (CLEAT, 3, 3, 1), (BENCH, 200, 3)))
    with pytest.raises(BookError, match="lie on each other on the sheet"):
        cut(book, bad)


def test_tape_makes_an_offcut_smaller_and_drops_what_is_off_it(book, sheet):
    cut(book, sheet)
    rows = [row for row in book.rows("board") if row["name"].startswith("A.")]
    held = next(row for row in rows if board_in(row).keep_outs)
    old = board_in(held)
    bench.tape(book, "Teasel", held["name"], box(0, 0, 100, 60), 28.0)
    new = board_in(board_named(book, held["name"]))
    assert (new.length_mm, new.width_mm, new.thickness_mm, new.keep_outs) == (100, 60, 28, ())
    step = list(book.steps())[-1]
    assert step.ledger[0] == pytest.approx(6000 - old.area_mm2)


@pytest.mark.parametrize("count", [1, 3, 8])
def test_steps_taken_back_leave_what_was_there_before(book, sheet, count):
    steps = [
        lambda: reserve(book, Planned("Teasel", ("A",), {"pieces": []})),
        lambda: bench.found(book, "Teasel", "B", [circle("metal", 500, 50, 4)]),
        lambda: cut(book, sheet, Cut(("cleat, 1 of 2",))),
        lambda: cut(book, sheet, Cut(spoiled=("bench",))),
        lambda: bench.tape(book, "Teasel", "B", None, 29.0),
        lambda: bench.check_off(book, "Teasel", ["B"]),
        lambda: bench.spoil(book, "Teasel", "cleat, 1 of 2", is_kept=True),
        lambda: bench.discard(book, "Teasel", ["B"]),
    ]
    piles = []
    for step in steps:
        piles.append(pile_of(book).tables)
        step()
    for pile in reversed(piles[-count:]):
        undo(book, "Teasel")
        assert pile_of(book).tables == pile
    assert pile_after(book.steps()).tables == pile_of(book).tables
    release(book, "Teasel") if count < 8 else None


def test_undo_ends_where_nothing_is_left_and_leaves_other_projects_alone(book):
    with pytest.raises(BookError, match=r"the last step, 1 .* is of the project Teasel"):
        undo(book, "Sorrel")
    undo(book, "Teasel")
    assert stock(book) == []
    with pytest.raises(BookError, match="no step is left to take back"):
        undo(book, "Teasel")


def test_wood_is_the_same_before_and_after_by_every_step(book, sheet):
    cut(book, sheet, Cut(("cleat, 1 of 2",)))
    cut(book, sheet, Cut(spoiled=("bench",)))
    for step in book.steps():
        for entered, *rest in (step.ledger[:4], step.ledger[4:]):
            assert entered == pytest.approx(sum(rest), rel=1e-6, abs=1e-3)


def test_board_taped_anew_in_the_stock_file_keeps_what_was_found(book):
    bench.found(book, "Teasel", "B", [circle("metal", 500, 50, 4)])
    longer = plank("B", 2100.0)
    again = record(book, Yard(stock=(A, longer), needs=(CLEAT, BENCH)))
    assert again.changed == ["B"]
    board = board_in(board_named(book, "B"))
    assert (board.length_mm, len(board.keep_outs)) == (2100, 1)


def test_board_of_another_project_by_the_same_name_is_told(book):
    with pytest.raises(BookError, match="has the name of another one in the book"):
        record(book, Yard(name="Sorrel", stock=(plank("A", 700, 100, species="elm"),)))
    assert book.row("project", "Sorrel") is None


def test_screw_that_is_told_twice_is_there_once(book):
    screw, other = circle("metal", 500, 50, 4), circle("metal", 500, 50, 6)
    assert bench.found(book, "Teasel", "B", [screw, screw]) == [screw]
    with pytest.raises(BookError, match="board B has 1 place already as told here: nothing is"):
        bench.found(book, "Teasel", "B", [screw])
    assert bench.found(book, "Teasel", "B", [screw, other]) == [screw]
    assert [k.reach_mm for k in board_in(board_named(book, "B")).keep_outs] == [2.0, 3.0]
    assert [step.said for step in book.steps()][1:] == ["B: found metal, 1 place"] * 2


@pytest.mark.parametrize("done", [False, True], ids=["half sawn", "sawn up"])
@pytest.mark.parametrize(
    ("other", "is_same"),
    [
        (plank("A", species="white oak"), False),
        (plank("A", 400.0, 200.0), False),
        (plank("A", 1990.0, 200.0), True),
    ],
    ids=["of other wood", "of another size", "taped a little otherwise"],
)
def test_board_that_was_cut_is_known_by_what_it_was(book, sheet, done, other, is_same):
    cut(book, sheet, Cut(("bench",) if not done else ()))
    yard = Yard(name="Sorrel", stock=(other,))
    if is_same:
        as_offered(yard, pile_of(book))
        return
    for ask in (lambda: as_offered(yard, pile_of(book)), lambda: record(book, yard)):
        with pytest.raises(BookError, match=r"board A, .* has the name of another one in the book"):
            ask()


def test_what_is_no_polygon_is_no_wood():
    with pytest.raises(BookError, match="board A: what the book holds of it is no board"):
        board_of("A", {**board_data(A), "outline": [[[0, 0], [1, 1]]]})


def test_keep_out_that_somebody_calls_sawn_out_is_kept(tmp_path):
    """Openings are known by what no file can say: metal is never lost by what it is called."""
    nail = replace(circle("metal", 100, 50, 4), note="sawn out", source="bench")
    rot = replace(circle("groove", 300, 50, 9), note="sawn out")
    board = plank(keep_outs=[nail, rot])
    with opened(tmp_path / "b", create=True) as book:
        record(book, Yard(stock=(board,), needs=(CLEAT,)))
        cut(book, sheet_of(laid(board, (CLEAT, 1500, 3, 1))), Cut(kept=Kept.REST))
        assert board_in(board_named(book, "A")).keep_outs == (nail, rot)
        cut_rest = board_in(board_named(book, "A"))
    assert cut_rest.species == "teak"


def test_thin_web_is_no_wood_but_a_piece_still_to_be_sawn_is(book):
    """What is left beside a thwart as wide as its board falls off; a slat beside it stays."""
    wide, slat = need("thwart", 900.0, 186.5), need("slat", 900.0, 8.0)
    with book.writing("Teasel", "wants") as writing:
        for part in ("thwart", "slat"):
            body = {**book.row("want", "Teasel", "bench")["body"], "labels": [part]}
            writing.put("want", {"project": "Teasel", "part": part, "body": body})
    sheet = sheet_of(laid(plank("B"), (wide, 1, 1), (slat, 1, 191.0)))
    cut(book, sheet, Cut(("thwart",)))
    rest = board_in(board_named(book, "B"))
    assert rest.area_mm2 == pytest.approx(1096 * 200 + 900 * 8, rel=1e-2)
    assert cut(book, sheet, Cut(("slat",), kept=Kept.REST)).pieces == ["slat"]
    rest = board_in(board_named(book, "B"))
    assert (rest.length_mm, rest.width_mm) == pytest.approx((1096, 200), abs=10)
