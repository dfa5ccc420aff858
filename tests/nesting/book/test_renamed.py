"""A project that gets another name keeps what it has sawn and reserved; its book lies elsewhere."""

from __future__ import annotations

import shutil

import pytest
from book_shop import Yard, laid, need, plank, sheet_of, told

from nesting.book.cut_told import Cut
from nesting.book.cutting import cut
from nesting.book.export import export, rebuild
from nesting.book.holds import hold, planned, reserve
from nesting.book.integrity import faults
from nesting.book.offered import as_offered
from nesting.book.opening import opened
from nesting.book.record import record
from nesting.book.standing import standing
from nesting.book.steps import pile_of, undo
from nesting.errors import BookError

CLEAT, SEAT = need("cleat", quantity=4), need("seat", 420.0, 180.0)
A, B = plank(), plank("B")
NEST = laid(A, (CLEAT, 3, 3, 1), (CLEAT, 3, 80, 2), (SEAT, 900, 5))
PLAN = {
    "project": "Teasel",
    "boards": [
        {"board": "A", "bungs": [], "parts": [
            {"label": p.label, "part": p.need.part, "x_mm": p.x_mm, "y_mm": p.y_mm,
             "angle_deg": p.angle_deg, "turned_over": p.is_turned_over} for p in NEST.placements
        ]},
    ],
    "unplaced": [], "scrap_percent": 20.0, "uncredited_scrap_percent": 20.0,
}  # fmt: skip


def yard(name="Teasel", stock=(A, B), needs=(CLEAT, SEAT)):
    return Yard(name=name, stock=stock, needs=needs)


@pytest.fixture
def book(tmp_path):
    with opened(tmp_path / "stock.book", create=True) as found:
        record(found, yard())
        reserve(found, planned(PLAN))
        cut(found, sheet_of(NEST), Cut(("cleat, 1 of 4",)))
        yield found
        assert faults(found) == []


def counted(book, name):
    (system,) = standing(book, name).systems
    return system.done, system.nested


def test_new_name_takes_pieces_plan_and_boards_with_it(book):
    before, scrap = counted(book, "Teasel"), standing(book, "Teasel").scrap_percent
    tables = pile_of(book).tables
    assert record(book, yard("Dipper"), was="Teasel").said == "Teasel is called so now"
    assert counted(book, "Dipper") == before == (1, 2)
    assert standing(book, "Dipper").scrap_percent == scrap
    assert [row["held_by"] for row in book.rows("board", "held_by IS NOT NULL")] == ["Dipper"]
    assert as_offered(yard("Dipper"), pile_of(book)).notes == ()
    assert book.row("project", "Teasel") is None
    # Its old steps are its own: they can be taken back under the new name.
    undo(book, "Dipper")
    assert pile_of(book).tables == tables
    record(book, yard("Dipper"), was="Teasel")
    undo(book, "Dipper")
    with pytest.raises(BookError, match="is of the project Teasel"):
        undo(book, "Dipper")


def test_old_sheets_are_cut_by_and_old_boards_taped_under_the_new_name(book):
    record(book, yard("Dipper"), was="Teasel")
    cut(book, sheet_of(NEST, "Dipper"), Cut(("cleat, 2 of 4",)))
    assert counted(book, "Dipper") == (2, 1)
    shorter = (A, plank("B", length=900.0))
    assert record(book, yard("Dipper", shorter)).changed == ["B"]


def test_old_name_is_free_for_nobody_and_the_project_may_have_it_again(book):
    record(book, yard("Dipper"), was="Teasel")
    record(book, yard("Dipper"))
    with pytest.raises(BookError, match="the project Dipper was called Teasel once"):
        record(book, yard("Teasel", stock=()))
    record(book, yard("Teasel"), was="Dipper")
    assert counted(book, "Teasel") == (1, 2)
    with pytest.raises(BookError, match="the project Teasel was called Dipper once"):
        record(book, yard("Dipper", stock=()))


def test_project_that_was_entered_under_its_new_name_by_mistake_can_still_be_told(book):
    found = record(book, yard("Dipper"))
    (note,) = found.notes
    assert "Dipper is new to the book, and has 2 parts of Teasel" in note
    assert "--was 'Teasel'" in note
    record(book, yard("Dipper"), was="Teasel")
    assert counted(book, "Dipper") == (1, 2)


@pytest.mark.parametrize(
    ("was", "message"),
    [
        ("Teasle", "knows no project Teasle; did you mean Teasel"),
        ("Quite another", "knows no project Quite another: it has Sorrel, Teasel"),
    ],
)
def test_what_was_no_project_is_refused(book, was, message):
    record(book, yard("Sorrel", stock=(plank("S"),), needs=(need("oar", 900.0),)))
    before = pile_of(book).tables
    with pytest.raises(BookError, match=message):
        record(book, yard("Dipper"), was=was)
    assert pile_of(book).tables == before


def test_name_that_a_project_has_is_no_new_one(book):
    with pytest.raises(BookError, match="the project is called Teasel already"):
        record(book, yard(), was="Teasel")


def test_two_projects_do_not_become_one(book):
    record(book, yard("Sorrel", stock=(plank("S"),)))
    hold(book, "Sorrel", ["S"])
    with pytest.raises(BookError, match="Sorrel holds boards of its own: release them"):
        record(book, yard("Sorrel"), was="Teasel")
    cut(book, sheet_of(laid(plank("S"), (CLEAT, 3, 3, 1)), "Sorrel"))
    with pytest.raises(BookError, match="Sorrel has sawn pieces of its own"):
        record(book, yard("Sorrel"), was="Teasel")


def test_renamed_project_is_exported_and_made_again(book, tmp_path):
    record(book, yard("Dipper"), was="Teasel")
    export(book, tmp_path / "plain")
    rebuild(tmp_path / "plain", tmp_path / "again.book")
    with opened(tmp_path / "again.book") as again:
        assert pile_of(again).tables == pile_of(book).tables
        assert faults(again) == []


PROJECT = """\
version: 1
name: Old name
unit: mm
book: pile.book
outputs: {folder: out, write: []}
stock:
  - {board: A, species: teak, thickness: 30, length: 1000, width: 120}
  - {board: B, species: teak, thickness: 30, length: 1000, width: 120}
parts:
  - {part: bar, family: plank, quantity: 4, species: teak,
     shape: {length: 450, width: 100, thickness: 25}}
"""


@pytest.fixture
def shop(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "p.yaml").write_text(PROJECT)
    told("book", "record", "p.yaml")
    told("nest", "p.yaml", "--rounds", "0", "-q")
    told("book", "reserve", "p.yaml")
    told("book", "cut", "p.yaml", "A", "--pieces", "bar, 1 of 4")
    (tmp_path / "p.yaml").write_text(PROJECT.replace("Old name", "New name"))
    return tmp_path


def test_new_name_in_the_project_file_is_noticed_and_told(shop, capsys):
    told("book", "status", "p.yaml", code=3)
    said = capsys.readouterr().err
    assert "knows no project New name, only Old name" in said
    assert "if it has a new name: record with --was 'Old name'" in said
    for words in (("cut", "p.yaml", "B"), ("reserve", "p.yaml")):
        told("book", *words, code=3)
        assert "if it has a new name: record with --was 'Old name'" in capsys.readouterr().err
    told("nest", "p.yaml", "--rounds", "0", "--overwrite", "-o", "other", code=3)
    assert "New name is new to the book, and has 1 part of Old name" in capsys.readouterr().err
    told("book", "record", "p.yaml", "--was", "Old name")
    assert "Old name is called so now" in capsys.readouterr().out
    told("book", "status", "p.yaml")
    assert "1 of 4 pieces done, 3 nested" in capsys.readouterr().out
    told("book", "reserve", "p.yaml")
    told("book", "cut", "p.yaml", "B")
    told("nest", "p.yaml", "--rounds", "0", "--overwrite", "--again")
    assert "1 piece stays" in capsys.readouterr().out


def test_folder_that_moved_leaves_its_book_behind(shop, capsys, tmp_path):
    """A book is begun where none is, and that is said: it may only be looked for elsewhere."""
    moved = tmp_path / "moved"
    moved.mkdir()
    shutil.copy("p.yaml", moved)
    told("nest", "moved/p.yaml", "--rounds", "0", "-o", "moved/out")
    err = capsys.readouterr().err
    assert "moved/pile.book is not there yet: nothing is known to be sawn or reserved" in err
    told("book", "record", "moved/p.yaml", "--was", "Old name", code=3)
    assert "moved/pile.book is not there" in capsys.readouterr().err
    assert not (moved / "pile.book").exists()
    told("book", "record", "moved/p.yaml")
    assert "note: a new book is begun: moved/pile.book" in capsys.readouterr().err
