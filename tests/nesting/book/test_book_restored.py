"""A restored book takes the place of the old one at one moment; until then the old one is there."""

import os

import pytest
from book_shop import Yard, need, plank
from faults import at_every_door, disk_full_from, in_a_child

from nesting.book import bench
from nesting.book.backup import back_up, restore
from nesting.book.export import export, rebuild
from nesting.book.opening import opened
from nesting.book.record import record
from nesting.errors import OutputError


@pytest.fixture
def path(tmp_path):
    """A book of three steps, and a backup of it after the first."""
    file = tmp_path / "stock.book"
    with opened(file, create=True) as book:
        record(book, Yard(stock=(plank(), plank("B")), needs=(need(),)))
        back_up(book, tmp_path / "friday.book")
        for name in ("A", "B"):
            bench.discard(book, "Teasel", [name], "burnt")
    return file


def steps(file):
    with opened(file) as book:
        return book.last_step


def killed_at(nth):
    """Return what ends this process at the n-th door, as a power cut does."""
    seen = [0]

    def tell(_):
        seen[0] += 1
        if seen[0] == nth:
            os._exit(9)

    return tell


def test_book_is_there_whenever_a_restore_is_killed(path, tmp_path):
    ends, nth = [], 0
    while not ends or ends[-1]:
        nth += 1
        tell = killed_at(nth)

        def work(tell=tell):
            with at_every_door(tell):
                restore(tmp_path / "friday.book", path, overwrite=True)

        ends.append(in_a_child(work))
        assert steps(path) in (1, 3)
        (tmp_path / "stock.book.before-restore").unlink(missing_ok=True)
    assert len(ends) > 3
    assert steps(path) == 1


def test_book_stays_where_the_disk_is_full(path, tmp_path):
    def work():
        with at_every_door(disk_full_from(1)), pytest.raises(OutputError):
            restore(tmp_path / "friday.book", path, overwrite=True)

    assert in_a_child(work) == 0
    assert steps(path) == 3


def test_log_of_the_old_book_is_not_read_as_that_of_the_new(path, tmp_path):
    """Who is killed leaves a log; it goes with the book that it belongs to."""
    (tmp_path / "stock.book-wal").write_bytes(b"a log that is none")
    restore(tmp_path / "friday.book", path, overwrite=True)
    assert steps(path) == 1
    assert steps(tmp_path / "stock.book.before-restore") == 3


def test_what_is_put_aside_takes_no_log_of_an_earlier_one(path, tmp_path):
    (tmp_path / "stock.book.before-restore-wal").write_bytes(b"of another day")
    restore(tmp_path / "friday.book", path, overwrite=True)
    assert steps(tmp_path / "stock.book.before-restore") == 3


@pytest.mark.parametrize("ending", ["", "-wal", "-journal"])
@pytest.mark.parametrize("word", ["backup", "rebuild"])
def test_what_a_killed_run_left_goes_with_the_next(path, tmp_path, word, ending):
    left = tmp_path / f".copy.book.{2**22 + 7}.part{ending}"
    left.write_bytes(b"half a book")
    with opened(path) as book:
        if word == "backup":
            back_up(book, tmp_path / "copy.book")
        else:
            export(book, tmp_path / "plain")
            rebuild(tmp_path / "plain", tmp_path / "copy.book")
    assert not left.exists()
    assert steps(tmp_path / "copy.book") == 3
