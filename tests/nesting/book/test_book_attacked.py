"""Odd folders, odd names, odd clocks and odd spreadsheets: right, or refused in a sentence."""

from __future__ import annotations

import os
import sqlite3
import unicodedata

import pytest
from book_shop import Yard, laid, need, plank, sheet_of

from nesting import cli
from nesting.book import bench, opening
from nesting.book.backup import back_up, restore
from nesting.book.cut_told import Cut, Kept
from nesting.book.cutting import cut
from nesting.book.holds import hold
from nesting.book.integrity import faults
from nesting.book.opening import opened
from nesting.book.record import record
from nesting.book.rows import board_in, board_named
from nesting.book.standing import standing
from nesting.book.steps import pile_of, undo
from nesting.book.words import chart_svg, text_chart
from nesting.errors import BookError, OutputError
from nesting.units import Unit

CLEAT = need(quantity=9)
SHOP = Yard(stock=(plank(), plank("B")), needs=(CLEAT,))
HEADS = "unit, in\nspecies, teak\nthickness, 1\nboard, length, width, note\n"
ONE, TWO = (unicodedata.normalize(form, "b\u00e9-1") for form in ("NFC", "NFD"))


@pytest.fixture
def path(tmp_path):
    file = tmp_path / "stock.book"
    with opened(file, create=True) as book:
        record(book, SHOP)
    return file


def recorded(folder, table, capsys):
    """Record a project with a table of boards and return code, what was said, and the boards."""
    file = folder / "yard.yaml"
    file.write_text(
        "version: 1\nname: Yard\nunit: in\nbook: yard.book\nstock: [{file: boards.csv}]\nparts: "
        "[{part: slat, family: plank, species: teak, shape: {length: 9, width: 2, thickness: 1/2}}]"
    )
    given = table if isinstance(table, bytes) else table.encode()
    (folder / "boards.csv").write_bytes(given)
    code = cli.main(["book", "record", str(file)])
    said = "".join(capsys.readouterr())
    if code:
        assert not (folder / "yard.book").exists()
        return code, said, {}
    with opened(folder / "yard.book") as book:
        sizes = book.asked("SELECT name, area_mm2 / 645.16 FROM board")
    return code, said, {name: round(area, 6) for name, area in sizes}


@pytest.mark.parametrize(
    "table",
    [
        (HEADS + "D-1, 86, 5, fine\n").encode("utf-8-sig"),
        HEADS.replace(",", ";") + "D-1; 86; 5; fine\n",
        "sep=;\n" + HEADS.replace(",", ";") + "D-1; 86; 5; fine\n",
        "sep=\t\r\n" + (HEADS + "D-1, 86, 5, fine\n").replace(", ", "\t").replace("\n", "\r\n"),
        HEADS + 'D-1, 86, 5, "two\nlines"\n',
        HEADS.replace("\n", " ,,,\n") + "D-1 , 86 , 5 ,, ,,\n , ,,\n   \n",
        (HEADS + "D-1, 86, 5, fine\n").replace("\n", "\r"),
    ],
    ids=["mark", "semicolons", "said", "tabs said", "two lines", "blanks", "old line ends"],
)
def test_odd_spreadsheet_is_read_right(tmp_path, capsys, table):
    assert recorded(tmp_path, table, capsys)[2] == {"D-1": 430.0}


@pytest.mark.parametrize(
    ("table", "says"),
    [
        ((HEADS + "D-1, 86, 5, x\n").encode("utf-16"), "is in UTF-16; save it as UTF-8"),
        ((HEADS + "D-1, 86, 5, x\n").encode("utf-16-le"), "1 thing to put right"),
        ((HEADS + "D-1, 86, 5, x\n").encode("utf-16-be"), "is in UTF-16; save it as UTF-8"),
        ((HEADS + "D-1, 86, 5, \u00e9\n").encode("cp1252"), "byte 0xe9 is not UTF-8"),
        (HEADS.replace(",", ";") + "D-1; 86,5; 5\n", "'86,5' is no length; write no comma"),
        (HEADS + 'D-1, "1,200", 5\n', "write no comma, as 2.5 or 1200"),
        (HEADS + "D-1, 1e3, 5\n", "'1e3' is no length"),
        (HEADS + 'D-1, 86, 5, x\nboard, length , "width", note\n', "A6: the row of heads stands"),
        (HEADS.replace("note", "length") + "D-1, 86, 5\n", "the column length is there twice"),
        (HEADS + f"{ONE}, 86, 5\n{TWO}, 80, 5\n", "is the name of a board at"),
    ],
)
def test_spreadsheet_that_may_be_misread_is_refused_in_a_sentence(tmp_path, capsys, table, says):
    code, said, _ = recorded(tmp_path, table, capsys)
    assert code == 3
    assert says in said


def test_board_is_known_however_its_letters_are_written(tmp_path, capsys):
    recorded(tmp_path, HEADS + f"{TWO}, 86, 5\n", capsys)
    assert cli.main(["book", "checked", str(tmp_path / "yard.yaml"), TWO]) == 0
    code, said, boards = recorded(tmp_path, HEADS + f"{ONE}, 86, 5\n", capsys)
    assert (code, boards) == (0, {ONE: 430.0})
    assert "nothing new" in said


def test_names_that_differ_in_capitals_are_two_boards_and_told(tmp_path, capsys):
    _, said, boards = recorded(tmp_path, HEADS + "D-1, 86, 5\nd-1, 80, 5\n", capsys)
    assert boards == {"D-1": 430.0, "d-1": 400.0}
    assert "D-1 and d-1 differ only in capital letters" in said


def test_name_written_otherwise_in_an_older_book_is_refused(path):
    older = plank(TWO)
    object.__setattr__(older, "name", TWO)  # as boards kept their names before
    with opened(path) as book:
        record(book, Yard(stock=(older,), needs=(CLEAT,)))
        with pytest.raises(BookError, match="same letters, written in another way"):
            record(book, Yard(stock=(plank(ONE),), needs=(CLEAT,)))


def refusing(monkeypatch, says, name):
    """Let SQLite open no book to write in, as where a folder is read-only."""
    real = opening._connected

    def connected(path, clock, more=""):
        if not more:
            error = sqlite3.OperationalError(says)
            error.sqlite_errorname = name
            with opening.told_plainly(path):
                raise error
        return real(path, clock, more)

    monkeypatch.setattr(opening, "_connected", connected)


@pytest.mark.parametrize("name", ["SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_IOERR_SHMSIZE"])
def test_book_that_cannot_be_written_can_be_read_and_copied(path, tmp_path, monkeypatch, name):
    before = path.read_bytes()
    refusing(monkeypatch, "no", name)
    with opened(path) as book:
        assert faults(book) == []
        assert [row["name"] for row in book.rows("board")] == ["A", "B"]
        back_up(book, tmp_path / "copy.book")
        with pytest.raises(OutputError, match=r"stock\.book cannot be written: no; "):
            hold(book, "Teasel", ["A"])
    assert path.read_bytes() == before
    monkeypatch.undo()
    with opened(tmp_path / "copy.book") as book:
        hold(book, "Teasel", ["A"])


def test_book_with_steps_in_its_log_is_not_read_without_it(path, monkeypatch):
    (path.parent / "stock.book-wal").write_bytes(b"x" * 40)
    refusing(monkeypatch, "no", "SQLITE_READONLY")
    with pytest.raises(OutputError, match="cannot be written"), opened(path):
        pass


def test_backup_into_a_folder_that_is_not_there_is_told(path, tmp_path):
    with opened(path) as book, pytest.raises(OutputError, match="cannot be written: unable"):
        back_up(book, tmp_path / "nowhere" / "copy.book")


def test_beginning_that_came_to_nothing_is_begun_again(tmp_path):
    file = tmp_path / "stock.book"
    connection = sqlite3.connect(file, isolation_level=None)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.close()
    assert file.stat().st_size > 0
    with opened(file, create=True) as book:
        record(book, SHOP)
        assert faults(book) == []


def test_restored_book_is_the_one_that_others_link_to(path, tmp_path):
    link = tmp_path / "linked.book"
    os.symlink(path.name, link)
    with opened(link) as book:
        back_up(book, tmp_path / "copy.book")
        hold(book, "Teasel", ["A"])
    restore(tmp_path / "copy.book", link, overwrite=True)
    assert link.is_symlink()
    with opened(path) as book:
        assert book.last_step == 1
    with opened(tmp_path / "stock.book.before-restore") as book:
        assert book.last_step == 2


def test_undo_after_a_restore_takes_back_what_the_backup_has(path, tmp_path):
    with opened(path) as book:
        bench.check_off(book, "Teasel", ["A"])
        back_up(book, tmp_path / "copy.book")
        bench.discard(book, "Teasel", ["B"])
    restore(tmp_path / "copy.book", path, overwrite=True)
    with opened(path) as book:
        assert undo(book, "Teasel").kind == "checked"
        assert faults(book) == []
        assert not book.row("board", "A")["body"]["checked"]


def test_book_of_another_project_is_told_and_left_alone(path):
    with opened(path) as book:
        for step in (
            lambda: hold(book, "Other", ["A"]),
            lambda: bench.discard(book, "Other", ["A"]),
            lambda: bench.check_off(book, "Other", ["A"]),
        ):
            with pytest.raises(BookError, match="knows no project Other, only Teasel"):
                step()
        assert book.last_step == 1


def test_clock_set_back_leaves_no_day_with_less_than_nothing(path):
    times = iter(("2025-01-02T08:00:00Z", "2035-01-01T08:00:00Z", "2034-12-31T08:00:00Z"))
    with opened(path, clock=lambda: next(times)) as book:
        bench.discard(book, "Teasel", ["A"])
        bench.check_off(book, "Teasel", ["B"])
        bench.discard(book, "Teasel", ["B"])
        now = standing(book)
        assert faults(book) == []
    assert [day.date for day in now.days][1:] == ["2035-01-01"]
    assert all(day.stock_mm2 >= 0 for day in now.days)
    assert now.days[-1].stock_mm2 == 0
    assert "2035-01-01" in text_chart(now, Unit.MM)
    assert "2035-01-01" in chart_svg(now, Unit.MM)


def test_offcut_of_an_offcut_of_an_offcut_keeps_all_wood_and_comes_back_whole(path):
    with opened(path) as book:
        before, name = pile_of(book).tables, "A"
        for number in range(1, 5):
            board = board_in(board_named(book, name))
            drawn = sheet_of(laid(board, (CLEAT, 3, 3, number)))
            sawn = cut(book, drawn, Cut(kept=Kept.OFFCUTS))
            with pytest.raises(BookError, match=r"is left to be sawn|was sawn before"):
                cut(book, drawn, Cut(kept=Kept.OFFCUTS))
            name = sawn.left[0]
            assert faults(book) == []
        for _ in range(4):
            undo(book, "Teasel")
        assert pile_of(book).tables == before


@pytest.mark.parametrize(
    "change",
    ["UPDATE board SET body = '{'", "UPDATE board SET body = '5'", "UPDATE want SET body = '-1'",
     "UPDATE project SET body = '{'", "UPDATE step SET stock_mm2 = 1e308, stock_mm3 = 1e308",
     "UPDATE board SET name = name || 'x'"],
)  # fmt: skip
@pytest.mark.parametrize("word", ["status", "history", "sound", "check"])
def test_damaged_book_ends_no_word_in_a_traceback(path, change, word, capsys):
    project = path.with_name("yard.yaml")
    project.write_text(
        "version: 1\nname: Yard\nunit: in\nbook: stock.book\nstock: [{board: A, species: teak, "
        "thickness: 1, length: 90, width: 9}]\nparts: [{part: slat, family: plank, species: teak, "
        "shape: {length: 9, width: 2, thickness: 1/2}}]"
    )
    assert cli.main(["book", "record", str(project)]) == 0
    with sqlite3.connect(path) as other:
        other.execute(change)
    other.close()
    capsys.readouterr()
    code = cli.main(["check", str(project)] if word == "check" else ["book", word, str(project)])
    said = "".join(capsys.readouterr())
    assert code in (0, cli.PROJECT_WRONG)
    assert code or word != "sound"
    assert not code or "is not sound" in said or "damaged" in said
