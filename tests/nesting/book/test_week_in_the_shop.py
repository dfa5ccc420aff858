"""The demo of a week in a shop: its README's lines, typed as they stand, do what it says."""

from __future__ import annotations

import json
import re
import shlex
import shutil
from pathlib import Path

import pytest

from nesting import cli
from nesting.book.opening import opened
from nesting.book.rows import board_in, board_named
from nesting.book.steps import pile_of

DEMO = Path(__file__).parents[3] / "demo_projects" / "week_in_the_shop"
README = (DEMO / "README.md").read_text(encoding="utf-8")


def lines():
    """Yield every line of the README that is typed, and the exit code that it ends with."""
    for mark, block in re.findall(r"(<!-- refused -->\n)?```sh\n(.*?)```", README, re.DOTALL):
        for line in block.splitlines():
            yield shlex.split(line)[1:], cli.PROJECT_WRONG if mark else cli.ALL_PLACED


@pytest.fixture(scope="module")
def week(tmp_path_factory):
    folder = tmp_path_factory.mktemp("week") / "copy"
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("*.book*", "plan", "plain"))
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        for arguments, code in lines():
            if arguments[0] == "nest":
                arguments += ["--workers", "1", "--no-progress"]
            assert cli.main(arguments) == code, arguments
        yield folder


def test_week_ends_as_the_readme_says(week, capsys):
    assert cli.main(["book", "status", str(week / "project.yaml"), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert sum(system["done"] for system in told["systems"]) == 9
    assert sum(system["nested"] for system in told["systems"]) == 4
    assert sum(system["left_over"] for system in told["systems"]) == 0
    with opened(week / "stock.book") as book:
        pieces = {row["body"]["label"]: row for row in book.rows("piece", "state = 'sound'")}
        assert pieces["knee, 3 of 4"]["board"] == "W-1.1"
        assert pieces["thwart, 2 of 2"]["board"] == "T-3"
        assert board_in(board_named(book, "T-3.1")).length_mm == 1500
        assert board_named(book, "I-2")["state"] == "in stock"


def test_copies_of_the_book_are_equal_to_it(week):
    with opened(week / "stock.book") as book, opened(week / "again.book") as again:
        assert pile_of(again).tables == pile_of(book).tables
        with opened(week / "friday.book") as friday:
            assert pile_of(friday).tables == pile_of(book).tables
    assert (week / "days.svg").read_text().startswith("<svg")
    assert (week / "plan" / "forms" / "labels.pdf").stat().st_size > 1000


def test_plan_that_was_cut_from_since_is_measured_as_it_was_made(week, capsys):
    """Its boards are sawn up now: the book gives them as they were then."""
    assert cli.main(["remeasure", str(week / "project.yaml")]) == 0
    assert "4 sheets read back: every number agrees" in capsys.readouterr().out
