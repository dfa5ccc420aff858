"""The file of a book: older and newer forms, strangers, hostile copies, kills, two at once.

``BOOK_KILLS=200`` kills as many writers; the gate some.
"""

from __future__ import annotations

import contextlib
import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest
from book_shop import Yard, laid, need, plank, sheet_of

from nesting.book import bench
from nesting.book.backup import back_up, restore
from nesting.book.cutting import cut
from nesting.book.effects import TABLES
from nesting.book.export import HEAD, STEPS, export, rebuild
from nesting.book.holds import hold
from nesting.book.integrity import faults
from nesting.book.opening import opened
from nesting.book.record import record
from nesting.book.schema import APPLICATION_ID, VERSION, statements
from nesting.book.steps import pile_of
from nesting.errors import BookError, InUseError, OutputError
from nesting.project import read_project

KILLS = int(os.environ.get("BOOK_KILLS", "4"))
ROOT = Path(__file__).parents[3]
CLEAT = need(quantity=3)


@pytest.fixture
def path(tmp_path):
    """A book with two boards, one of them cut."""
    file = tmp_path / "stock.book"
    with opened(file, create=True) as book:
        record(book, Yard(stock=(plank(), plank("B")), needs=(CLEAT,)))
        cut(book, sheet_of(laid(plank(), (CLEAT, 3, 3, 1), (CLEAT, 3, 80, 2))))
    return file


def content(file):
    with opened(file) as book:
        return pile_of(book).tables, list(book.steps())


def as_form_1(file, older):
    """Write a book as form 1 had it: no figures beside the bodies."""
    connection = sqlite3.connect(older, isolation_level=None)
    for statement in statements(1):
        connection.execute(statement)
    connection.execute("ATTACH ? AS newer", (str(file),))
    for table, spec in TABLES.items():
        names = ", ".join(spec.all)
        connection.execute(f"INSERT INTO {table} ({names}) SELECT {names} FROM newer.{table}")
    connection.execute("INSERT INTO step SELECT * FROM newer.step")
    connection.close()


def test_book_of_form_1_is_brought_up_and_kept_beside(path, tmp_path):
    older = tmp_path / "older.book"
    as_form_1(path, older)
    assert content(older) == content(path)
    with opened(older) as book:
        assert faults(book) == []
        assert book.asked("PRAGMA user_version") == [(VERSION,)]
        area = book.asked("SELECT area_mm2 FROM board WHERE name = 'B'")
    assert area == [(400000.0,)]
    kept = sqlite3.connect(tmp_path / "older.book.form-1")
    assert kept.execute("PRAGMA user_version").fetchone() == (1,)
    kept.close()


def test_form_1_is_the_one_that_was_first_written():
    """Its text stands here, so that no later change makes another form 1 of it."""
    board = next(s for s in statements(1) if "TABLE board" in s)
    assert " ".join(board.split()) == (
        "CREATE TABLE board ( name TEXT PRIMARY KEY, state TEXT NOT NULL CHECK (state IN "
        "('in stock', 'sawn up', 'gone')), parent TEXT REFERENCES board (name) DEFERRABLE "
        "INITIALLY DEFERRED, held_by TEXT REFERENCES project (name) DEFERRABLE INITIALLY DEFERRED, "
        "body TEXT NOT NULL ) STRICT"
    )


def change(file, *sql):
    connection = sqlite3.connect(file, isolation_level=None)
    connection.execute("PRAGMA trusted_schema = ON")
    for one in sql:
        connection.execute(one)
    connection.close()


@pytest.mark.parametrize(
    ("sql", "says"),
    [
        (f"PRAGMA user_version = {VERSION + 1}", "form 3, this salvage-nest knows up to 2"),
        ("PRAGMA user_version = 0", "form 0, which there never was"),
        (
            "CREATE TRIGGER t AFTER INSERT ON step BEGIN DELETE FROM board; END",
            "trigger t it has what a book does not",
        ),
        ("CREATE VIEW v AS SELECT * FROM board", "view v it has what a book does not"),
        ("CREATE TABLE more (a)", "table more it has what a book does not"),
        ("DROP INDEX piece_once", "index piece_once it has what"),
        ("ALTER TABLE board ADD COLUMN x TEXT", "table board it has what"),
        ("PRAGMA application_id = 5", "a database of another program"),
    ],
)
def test_book_that_is_not_as_books_are_is_refused_and_left_alone(path, sql, says):
    change(path, "PRAGMA journal_mode = DELETE", sql)
    before = path.read_bytes()
    with pytest.raises(BookError, match=says), opened(path):
        pass
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    "given", [b"no book at all", b"SQLite format 3\x00 cut off", b"\x00" * 200]
)
def test_file_that_is_no_book_is_refused_and_left_alone(tmp_path, given):
    file = tmp_path / "stock.book"
    file.write_bytes(given)
    with pytest.raises(BookError, match=r"stock\.book is no stock book|is damaged"), opened(file):
        pass
    assert file.read_bytes() == given
    assert [each.name for each in tmp_path.iterdir()] == ["stock.book"]


def test_damaged_book_is_told_and_its_backup_takes_its_place(path, tmp_path):
    with opened(path) as book:
        back_up(book, tmp_path / "friday.book")
    before = content(path)
    data = bytearray(path.read_bytes())
    for at in range(4096, len(data), 997):
        data[at : at + 40] = b"\xff" * 40
    path.write_bytes(data)
    with contextlib.suppress(BookError), opened(path) as book:
        assert faults(book) != []
    with pytest.raises(OutputError, match="with --overwrite it is put aside"):
        restore(tmp_path / "friday.book", path)
    assert restore(tmp_path / "friday.book", path, overwrite=True) == 2
    assert content(path) == before
    assert (tmp_path / "stock.book.before-restore").read_bytes() == bytes(data)


@pytest.mark.parametrize(
    ("sql", "says"),
    [
        ("UPDATE board SET state = 'gone' WHERE name = 'B'", "board B is not what the steps make"),
        ("UPDATE piece SET copy = 3 WHERE copy = 2", "piece 2 is not what the steps make of it"),
        ("UPDATE board SET area_mm2 = 1 WHERE name = 'B'", "the figures beside board B"),
        ("UPDATE step SET lost_mm2 = lost_mm2 + 5000 WHERE number = 2", "came from nowhere"),
        ("UPDATE step SET at = 'noon' WHERE number = 2", "step 2 was at 'noon', which is no time"),
        ("DELETE FROM step WHERE number = 1", "step 1 is missing"),
        ("UPDATE step SET effects = '[[\"board\",null,{}]]' WHERE number = 1", "cannot be read"),
        ("UPDATE board SET body = '{}' WHERE name = 'B'", "board B"),
        ("UPDATE piece SET board = 'Z'", "names one of board that is not there"),
    ],
)
def test_integrity_check_finds_what_was_changed_behind_it(path, sql, says):
    change(path, "PRAGMA foreign_keys = OFF", sql)
    with opened(path) as book:
        found = faults(book)
    assert any(says in fault for fault in found), found


def test_export_and_rebuild_give_an_equal_book(path, tmp_path):
    with opened(path) as book:
        bench.found(book, "Teasel", "B", [], why='\'=1+1, "quoted"\tand=')
        bench.check_off(book, "Teasel", ["B"], why="=cmd")
        export(book, tmp_path / "plain")
    rebuild(tmp_path / "plain", tmp_path / "again.book")
    assert content(tmp_path / "again.book") == content(path)
    text = (tmp_path / "plain" / STEPS).read_text()
    assert ',"\'=cmd",' in text


@pytest.mark.parametrize("line_end", [b"\n", b"\r\n"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_export_that_another_machine_saved_makes_an_equal_book(path, tmp_path, line_end, mark):
    with opened(path) as book:
        export(book, tmp_path / "plain")
    steps = tmp_path / "plain" / STEPS
    steps.write_bytes(mark + steps.read_bytes().replace(b"\r\n", line_end))
    rebuild(tmp_path / "plain", tmp_path / "again.book")
    assert content(tmp_path / "again.book") == content(path)


def test_exported_stock_can_be_named_by_a_project(path, tmp_path):
    with opened(path) as book:
        export(book, tmp_path / "plain")
        names = [name for (name,) in book.asked("SELECT name FROM board WHERE state='in stock'")]
    (tmp_path / "p.yaml").write_text(
        "version: 1\nname: P\nunit: mm\nstock: [{file: plain/boards.yaml}]\nparts: [{part: x, "
        "family: plank, species: teak, shape: {length: 300, width: 50, thickness: 20}}]\n"
    )
    assert [board.name for board in read_project(tmp_path / "p.yaml").stock] == sorted(names)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        (HEAD[0], "stap", "the first row must be"),
        ('"recorded"', '"re\u202ecorded"', "nobody sees"),
        ("1,", "7,", "step 7 comes where 1 must"),
        ("in stock", "in the air", "CHECK constraint failed"),
        ('""thickness_mm"":30.0', '""thickness_mm"":1e999', "not JSON compliant"),
        ('""thickness_mm"":30.0', '""thickness_mm"":-3', "board"),
        ('""teak""', '""teak', "cannot be read"),
        ('"0.0"', '"nan"', "a figure is none"),
        ('""labels"":[', '""labels"":[[],', "want"),
        ('""kerf_mm"":2.0', '""kerf_mm"":""x""', "project"),
    ],
)
def test_hostile_exports_are_refused_and_leave_nothing(path, tmp_path, old, new, says):
    with opened(path) as book:
        export(book, tmp_path / "plain")
    file = tmp_path / "plain" / STEPS
    text = file.read_bytes().decode()
    assert old in text
    file.write_bytes(text.replace(old, new).encode())
    before = sorted(p.name for p in tmp_path.iterdir())
    with pytest.raises(BookError, match=says):
        rebuild(tmp_path / "plain", tmp_path / "again.book")
    assert sorted(p.name for p in tmp_path.iterdir()) == before


@pytest.mark.parametrize("given", [b"", b"\xff\xfe", b"a,b\n", b'"open', b"\x00\x01\x02" * 100])
def test_files_that_are_no_export_are_refused(tmp_path, given):
    (tmp_path / STEPS).write_bytes(given)
    with pytest.raises(BookError):
        rebuild(tmp_path, tmp_path / "again.book")
    assert not (tmp_path / "again.book").exists()


def test_another_command_that_writes_is_waited_for_and_told(path, monkeypatch):
    monkeypatch.setattr("nesting.book.opening.PATIENCE_SECONDS", 0.2)
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with opened(path) as book:
        with pytest.raises(InUseError, match="another command is writing in the book"):
            hold(book, "Teasel", ["B"])
        assert len(list(book.steps())) == 2
    other.execute("ROLLBACK")
    other.close()


WRITER = """
import sys
sys.path[:0] = [{root!r}, {here!r}]
from book_shop import Yard, laid, need, plank, sheet_of
from nesting.book import bench
from nesting.book.holds import hold, release
from nesting.book.steps import undo
from nesting.book.opening import opened
from pathlib import Path
board = sys.argv[2]
with opened(Path(sys.argv[1])) as book:
    print("ready", flush=True)
    for n in range(int(sys.argv[3])):
        hold(book, "Teasel", [board], f"round {{n}}")
        print(book.last_step, flush=True)
        release(book, "Teasel", [board])
        print(book.last_step, flush=True)
        if {undoing} and n % 3 == 2:
            undo(book, None)
            undo(book, None)
"""


def writer(path, board, count, *, undoing=False):
    here = str(Path(__file__).parent)
    code = WRITER.format(root=str(ROOT), here=here, undoing=undoing)
    command = [sys.executable, "-c", code, str(path), board, str(count)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)


def test_book_whose_writer_is_killed_opens_and_lacks_at_most_the_step_in_hand(path, tmp_path):
    rng = random.Random(KILLS)
    for _ in range(KILLS):
        with writer(path, "B", 10_000, undoing=True) as process:
            assert process.stdout is not None
            assert process.stdout.readline() == "ready\n"
            time.sleep(rng.uniform(0.0, 0.15))
            process.send_signal(signal.SIGKILL)
            told = [int(line) for line in process.stdout.read().splitlines() if line.isdigit()]
        with opened(path) as book:
            assert faults(book) == []
            if told:
                assert book.last_step >= told[-1]


def test_two_that_write_at_once_both_get_all_their_steps_in(path):
    with opened(path) as book:
        before = book.last_step
    both = [writer(path, board, 12) for board in ("B", "A.1")]
    for process in both:
        process.communicate(timeout=120)
    assert [process.returncode for process in both] == [0, 0]
    with opened(path) as book:
        assert faults(book) == []
        assert book.last_step == before + 2 * 2 * 12


def test_book_begun_by_two_at_once_is_one(tmp_path):
    with opened(tmp_path / "b", create=True) as one, opened(tmp_path / "b", create=True) as two:
        record(one, Yard(stock=(plank(),), needs=(CLEAT,)))
        record(two, Yard(name="Sorrel", stock=(plank("Z"),), needs=(CLEAT,)))
        assert faults(one) == []
        assert two.asked("PRAGMA application_id") == [(APPLICATION_ID,)]
