"""Days of a book: by the reader's calendar, and though a clock was wrong now and then."""

from __future__ import annotations

import time
from itertools import combinations

import pytest
from book_shop import Yard, plank
from hypothesis import given
from hypothesis import strategies as st

from nesting.book import bench
from nesting.book.days import rising
from nesting.book.history import history_lines
from nesting.book.opening import opened
from nesting.book.record import record
from nesting.book.standing import standing
from nesting.book.store import time_here


@pytest.fixture
def zone(monkeypatch):
    """Set the zone of this machine."""

    def set_to(name):
        monkeypatch.setenv("TZ", name)
        time.tzset()

    yield set_to
    monkeypatch.undo()
    time.tzset()


def year(path, *times):
    """Return the days and the history of a book whose steps were at some times."""
    clock = iter(times)
    with opened(path, create=True, clock=lambda: next(clock)) as book:
        boards = [plank(f"B{number}", 1000.0, 100.0) for number in range(len(times))]
        record(book, Yard(stock=tuple(boards)))
        for board in boards[1:]:
            bench.discard(book, "Teasel", [board.name])
        return standing(book).days, list(history_lines(book))


def test_evening_in_new_york_is_no_day_later(tmp_path, zone):
    zone("America/New_York")
    days, lines = year(tmp_path / "b", "2026-05-04T20:00:00Z", "2026-05-05T01:30:00Z")
    assert [day.date for day in days] == ["2026-05-04"]
    assert "2026-05-04 21:30" in lines[1]
    zone("Pacific/Auckland")
    with opened(tmp_path / "b") as book:
        assert [day.date for day in standing(book).days] == ["2026-05-05"]
        assert "2026-05-05 13:30" in list(history_lines(book))[1]


@pytest.mark.parametrize("wrong", ["2036-01-01T08:00:00Z", "1970-01-01T00:00:10Z"])
def test_one_wrong_clock_moves_no_other_day(tmp_path, zone, wrong):
    zone("UTC")
    times = [f"2026-05-{day:02d}T08:00:00Z" for day in (4, 5, 6, 7)]
    days, _ = year(tmp_path / "b", *times[:2], wrong, *times[2:])
    assert [day.date for day in days] == [time[:10] for time in times]
    gone = [day.lost_mm2 / 100_000.0 for day in days]
    assert gone == pytest.approx([0, 2, 3, 4])


def test_what_is_no_time_is_shown_as_it_stands():
    assert time_here("yesterday") == "yesterday"


@given(st.lists(st.sampled_from("abcde"), max_size=8))
def test_days_rise_and_as_few_as_can_be_are_changed(days):
    found = rising(days)
    assert found == sorted(found)
    most = max(
        (n for n in range(len(days) + 1) for some in combinations(days, n) if _rises(some)),
        default=0,
    )
    assert sum(a == b for a, b in zip(days, found, strict=True)) >= most


def _rises(some):
    return list(some) == sorted(some)
