"""Where a project stands by its book, and what it may nest."""

from dataclasses import replace

import pytest
from book_shop import Yard, laid, need, plank, sheet_of
from shapely.geometry import box

from nesting.accounts.account import account_for
from nesting.book.bench import discard
from nesting.book.cut_told import Cut, Kept
from nesting.book.cutting import cut
from nesting.book.holds import Planned, hold, release, reserve
from nesting.book.offered import as_offered
from nesting.book.opening import opened
from nesting.book.record import record
from nesting.book.rows import board_in, board_named
from nesting.book.standing import standing
from nesting.book.steps import pile_of
from nesting.book.words import chart_svg, headline, stand, tables_of, text_chart
from nesting.need import Misfit, Need
from nesting.nest import CuttingPlan, Unplaced
from nesting.outline import Mark, MarkKind, Outline
from nesting.outputs import write_outputs
from nesting.shop.kinds import Output
from nesting.units import Unit
from nesting.written_measures import format_volume

A, B = plank(), plank("B", 900.0, 150.0, 40.0, "iroko")
BOLTED = Need.of(
    "beam",
    Outline(box(0, 0, 600, 80), 25, marks=(Mark(MarkKind.BOLT, ((50, 40),), diameter_mm=10.0),)),
    ["teak"],
    quantity=2,
)
BOLTED = replace(BOLTED, family="deck beam", hands=("starboard", "port"), mirrored=(False, True))
CLEAT = need(quantity=3)
YARD = Yard(stock=(A, B), needs=(BOLTED, CLEAT))
PLAN = {
    "pieces": ["beam, starboard", "beam, port", "cleat, 1 of 3"], "boards": ["A"],
    "left_over": [["cleat", 2, "no room"]], "scrap_percent": 20.0,
    "bungs": [["beam, port", 12.0], ["beam, port", 12.0], ["beam, starboard", 10.0]],
}  # fmt: skip


@pytest.fixture
def book(tmp_path):
    times = iter(f"2026-05-{day:02d}T08:00:00Z" for day in range(4, 31))
    with opened(tmp_path / "stock.book", create=True, clock=lambda: next(times)) as found:
        record(found, YARD)
        reserve(found, Planned("Teasel", ("A",), PLAN))
        yield found


def half_done(book):
    sheet = sheet_of(laid(A, (BOLTED, 3, 3, 1), (BOLTED, 3, 100, 2), (CLEAT, 700, 3, 1)))
    cut(book, sheet, Cut(("beam, starboard", "cleat, 1 of 3"), spoiled=("cleat, 1 of 3",)))
    return sheet


def test_parts_are_told_by_system_of_the_boat(book):
    half_done(book)
    deck, other = standing(book, "Teasel").systems
    assert (deck.system, deck.wanted, deck.done, deck.nested, deck.left_over) == (
        "deck",
        2,
        1,
        1,
        0,
    )
    assert (other.wanted, other.done, other.nested, other.left_over, other.spoiled) == (
        3,
        0,
        1,
        2,
        1,
    )


def test_wood_metal_bungs_and_what_is_to_buy(book):
    half_done(book)
    now = standing(book)
    assert [(w.species, w.thickness_mm, w.boards, w.reserved) for w in now.wood] == [
        ("iroko", 40.0, 1, {}), ("teak", 30.0, 1, {"Teasel": 1}),
    ]  # fmt: skip
    assert now.wood[0].volume_mm3 == 900 * 150 * 40
    assert (now.bolts, now.bungs) == ({10.0: 1}, {12.0: 2})
    assert now.to_buy == (("Teasel", "cleat", 2, "no room"),)
    assert now.planned_percent == {"Teasel": 20.0}


STRIP = need("strip", 1900.0, 60.0)


def offcut_of(book, project="Teasel"):
    """Saw a strip off A, keep what lies above it; return its name and area."""
    sheet = replace(sheet_of(laid(A, (STRIP, 3, 3, 1)), project), offcuts=(box(3, 70, 1950, 197),))
    (name,) = cut(book, sheet, Cut()).left
    return name, 1947.0 * 127.0


@pytest.fixture
def two(tmp_path):
    """A book of two projects, of one pile."""
    with opened(tmp_path / "two.book", create=True) as found:
        record(found, replace(YARD, needs=(STRIP, CLEAT)))
        record(found, Yard(name="Sorrel", needs=(CLEAT,)))
        yield found


def sawn_up(book, name, project, kept=None):
    """Saw a cleat of 300 x 60 mm off an offcut."""
    board = board_in(board_named(book, name))
    x, y, *_ = board.shape.bounds
    nest = laid(board, (CLEAT, x + 3, y + 3, 1))
    return cut(book, replace(sheet_of(nest, project), offcuts=()), Cut(kept=kept))


def test_offcut_that_was_sawn_itself_counts_once(two):
    name, area = offcut_of(two)
    strip, cleat = 1900.0 * 60.0, 300.0 * 60.0
    assert standing(two).scrap_percent == pytest.approx(100 * (1 - (strip + area) / A.area_mm2))
    sawn_up(two, name, "Teasel")
    for project in (None, "Teasel"):
        told = standing(two, project).scrap_percent
        assert told == pytest.approx(100 * (1 - (strip + cleat) / A.area_mm2))


def test_what_is_left_of_an_offcut_is_back_whatever_it_is_called(two):
    """The cleat is sawn out of its middle, so that two rests stay."""
    name, area = offcut_of(two)
    board = board_in(board_named(two, name))
    tall = need("tall", 60.0, 127.0)
    record(two, replace(YARD, needs=(STRIP, CLEAT, tall)))
    x, y, *_ = board.shape.bounds
    nest = laid(board, (tall, x + 900, y, 1))
    left = cut(two, replace(sheet_of(nest), offcuts=()), Cut(kept=Kept.REST)).left
    assert len(left) == 2
    kerf = 2 * 3.0 * 127.0
    told = 100 * (A.area_mm2 - 1900.0 * 60.0 - area + kerf) / A.area_mm2
    assert standing(two, "Teasel").scrap_percent == pytest.approx(told, abs=0.05)


def test_offcut_that_another_project_sawed_was_no_scrap_of_this_one(two):
    name, area = offcut_of(two)
    before = standing(two, "Teasel").scrap_percent
    release(two, "Teasel")
    sawn_up(two, name, "Sorrel")
    assert standing(two, "Teasel").scrap_percent == pytest.approx(before)
    told = 100 * (1 - 300.0 * 60.0 / area)
    assert standing(two, "Sorrel").scrap_percent == pytest.approx(told)
    discard(two, "Teasel", ["B"])
    assert standing(two, "Teasel").scrap_percent == pytest.approx(before)


def test_scrap_so_far_is_what_was_sawn_and_is_neither_part_nor_back(book):
    assert standing(book).scrap_percent is None
    sheet = half_done(book)
    cut(book, sheet)
    parts = 2 * 600 * 80
    back = sum(row[0] for row in book.asked("SELECT area_mm2 FROM board WHERE parent = 'A'"))
    assert back > 0
    lost = A.area_mm2 - parts - back
    told = standing(book, "Teasel").scrap_percent
    assert told == pytest.approx(100 * lost / A.area_mm2, rel=1e-3)


def test_chart_in_letters_says_how_many_of_the_days_it_shows(book):
    half_done(book)
    assert "\nday by day: = in stock" in text_chart(standing(book), Unit.MM)
    for number in range(12):
        hold(book, "Teasel", ["B"] if number % 2 else ["A"])
        release(book, "Teasel")
    now = standing(book)
    lines = text_chart(now, Unit.MM).splitlines()
    assert len(now.days) == 26 and len(lines) == 16
    assert lines[1] == "day by day, the last 14 of 26: = in stock, # in parts, . lost"


@pytest.mark.parametrize("width", [30, 40, 60, 80])
def test_chart_in_letters_has_room_in_a_narrow_terminal(book, width):
    half_done(book)
    now = standing(book)
    wide, narrow = (text_chart(now, Unit.MM, room).splitlines()[2:] for room in (None, width))
    assert max(map(len, narrow)) <= max(width, 39)
    assert [row.split()[0] for row in narrow] == [row.split()[0] for row in wide]
    assert "=" in narrow[-1] and ("#" in narrow[-1] or width == 30)


def test_days_add_up_to_what_is_there_now(book):
    half_done(book)
    days = standing(book).days
    assert [day.date[-2:] for day in days] == ["04", "05", "06"]
    last = days[-1]
    assert last.parts_mm2 == pytest.approx(600 * 80)
    whole = A.area_mm2 + B.area_mm2
    assert last.stock_mm2 + last.parts_mm2 + last.lost_mm2 == pytest.approx(whole)
    drawn = chart_svg(standing(book), Unit.INCH)
    assert drawn.count("<polyline") == 3
    assert "2026-05-06" in drawn
    assert "2026-05-06  =" in text_chart(standing(book), Unit.MM)


def test_it_is_told_in_words(book):
    half_done(book)
    now = standing(book)
    assert headline(now, Unit.MM).startswith("1 of 5 pieces done, 2 nested, 2 to buy; 2 boards")
    titles = [table.title for table in tables_of(now, Unit.MM) if table.rows]
    assert titles == [
        "Parts",
        "Wood in stock",
        "To buy, by the reserved plans",
        "Metal and bungs still needed",
    ]


def half_planned():
    """Return a plan of what is left, one piece of it over."""
    nest = laid(A, (BOLTED, 3, 3, 2), (CLEAT, 700, 3, 1), (CLEAT, 700, 80, 2))
    return CuttingPlan((nest,), (Unplaced(CLEAT, 1, Misfit.NO_ROOM),))


def test_page_goes_by_its_own_plan_and_not_by_the_reserved_one(book):
    half_done(book)
    plan = half_planned()
    told = stand(book.path, YARD, plan, account_for(plan, YARD.rules, workers=1))
    assert told.table.columns[0] == "system"
    assert told.table.rows == (
        ("deck", "2", "1", "1", "0", "0", "0"),
        ("other", "3", "0", "2", "1", "0", "1"),
    )
    begins = f"By the stock book, after its step {book.last_step}, and this plan: 1 of 5 pieces"
    assert told.lines[0].startswith(f"{begins} done, 3 nested, 1 to buy; 2 boards in stock")
    assert "reserved" not in " ".join(told.lines)
    assert told.sawn == {"beam, starboard": "A"}
    (now,) = [row for row in standing(book, "Teasel").systems if row.system == "other"]
    assert now.left_over == 2


def test_page_says_nothing_where_the_book_has_nothing(book, tmp_path):
    plan = half_planned()
    account = account_for(plan, YARD.rules, workers=1)
    missing = tmp_path / "none.book"
    assert stand(missing, YARD, plan, account) is None
    assert not missing.exists()
    assert stand(book.path, replace(YARD, name="Other"), plan, account) is None


def test_plan_is_written_though_its_book_cannot_be_read(tmp_path):
    (tmp_path / "stock.book").write_text("no book")
    plan, said = half_planned(), list[str]()
    job = replace(YARD, book=tmp_path / "stock.book")
    account = account_for(plan, YARD.rules, workers=1)
    files = write_outputs(
        job, plan, account, tmp_path / "out", also=[Output.PAGE], on_remark=said.append, workers=1
    )
    assert "page.html" in [path.name for path in files]
    assert said == [
        f"the page does not say where you are: {tmp_path / 'stock.book'} is no stock book: it is "
        "no SQLite file"
    ]


def test_pieces_not_sawn_keep_their_names_and_hands(book):
    half_done(book)
    found = as_offered(YARD, pile_of(book))
    beam = next(one for one in found.needs if one.part == "beam")
    (placement,) = laid(A, (beam, 3, 3)).placements
    assert (beam.quantity, placement.label, placement.is_mirrored) == (1, "beam, port", True)
    assert len(found.sawn) == 1
    assert {board.name for board in found.stock} == {"A", "B"}


def test_boards_that_another_holds_are_left_out_and_named(book):
    other = replace(YARD, name="Sorrel")
    found = as_offered(other, pile_of(book))
    assert [board.name for board in found.stock] == ["B"]
    assert found.notes[0] == "1 board left out, reserved by Teasel: A"


def test_boards_that_a_project_has_sawn_up_itself_are_not_told_as_another_s(book):
    """Whatever others hold beside."""
    sheet = half_done(book)
    record(book, replace(YARD, name="Sorrel"))
    hold(book, "Sorrel", ["B"])
    cut(book, sheet, Cut(("beam, port",), kept=Kept.NOTHING))
    notes = as_offered(YARD, pile_of(book)).notes
    assert "1 board left out, reserved by Sorrel: B" in notes
    assert not [note for note in notes if "sawn up by" in note]
    assert (
        "1 board sawn up by Teasel: A"
        in as_offered(replace(YARD, name="Sorrel"), pile_of(book)).notes
    )


def test_board_that_is_not_in_the_book_is_taken_as_it_stands(book):
    found = as_offered(replace(YARD, stock=(A, B, plank("C"))), pile_of(book))
    assert [board.name for board in found.stock] == ["A", "B", "C"]
    assert "1 board not in the book yet" in found.notes[0]


def test_board_taped_anew_in_its_file_counts_before_it_is_recorded(book):
    longer = plank("B", 950.0, 150.0, 40.0, "iroko")
    found = as_offered(replace(YARD, stock=(A, longer)), pile_of(book))
    assert found.stock[1] == longer


def test_leaf_in_an_older_book_is_known_by_the_stock_file(tmp_path):
    leaf = replace(A, name="A/2", leaf=(2, 3))
    with opened(tmp_path / "stock.book", create=True) as found:
        record(found, replace(YARD, stock=(replace(leaf, leaf=None), B)))
        pile = pile_of(found)
    assert as_offered(replace(YARD, stock=(leaf, B)), pile).stock == (leaf, B)


def test_wood_left_is_told_in_board_feet_as_two_published_examples_reckon_it(tmp_path):
    """On public pages that teach board measure: 3 in x 8 in x 10 ft is 20, 2 x 4 x 8 ft is 5.33."""
    inch = 25.4
    stock = (
        plank("A", 120 * inch, 8 * inch, 3 * inch, "teak"),
        plank("B", 96 * inch, 4 * inch, 2 * inch, "white oak"),
    )
    with opened(tmp_path / "stock.book", create=True) as book:
        record(book, Yard(stock=stock, needs=(need(),)))
        wood = standing(book).wood
    found = {left.species: left.volume_mm3 / (144 * inch**3) for left in wood}
    assert found == pytest.approx({"teak": 20.0, "white oak": 16 / 3})
    assert [format_volume(left.volume_mm3, Unit.INCH) for left in wood] == [
        "20.0 board feet", "5.3 board feet",
    ]  # fmt: skip
