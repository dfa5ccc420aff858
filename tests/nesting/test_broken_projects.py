"""Broken project files: read right, or refused in one sentence a fault; never a traceback.

``BROKEN_PROJECTS=10000 python -m pytest tests/nesting/test_broken_projects.py`` tries that many.
"""

import os
from itertools import islice

import pytest
from broken_projects import STOCK_FILE, Breaker, judged
from project_texts import BOARD, findings_of, project_text, written

from nesting import cli

CASES = int(os.environ.get("BROKEN_PROJECTS", "90"))
EVERY = 1 if CASES > 1000 else 3
"""Which figures are tried in turn."""

NESTED = max(4, CASES // 100)
BOATS = 0.0 if CASES < 1000 else 0.001

STRAKE = (
    "  - {part: s, family: ceiling strake, species: teak, shape: {length: 900, width: 50, "
    "thickness: 25, frame_spacing: 300}}\n"
)


def _told(faults: list[str]) -> str:
    return f"{len(faults)} faults\n" + "\n".join(faults[:20])


def test_no_figure_of_a_project_may_be_anything_else(tmp_path):
    faults, count = [], 0
    for case in islice(Breaker(1).every_figure(), 0, None, EVERY):
        _, wrong = judged(case, tmp_path)
        faults += [f"{case.what}: {one}" for one in wrong]
        count += 1
    assert not faults, _told(faults)
    assert count > 300 // EVERY


def test_broken_project_is_read_right_or_refused_in_words(tmp_path):
    faults, read = [], []
    for case in Breaker(2).cases(CASES, with_boats=BOATS):
        code, wrong = judged(case, tmp_path)
        faults += [f"{case.what}: {one}" for one in wrong]
        read += [case] if code == cli.ALL_PLACED else []
    assert not faults, _told(faults)
    assert CASES // 50 < len(read) < CASES // 3


def test_sound_projects_are_read(tmp_path):
    breaker = Breaker(3)
    for number in range(12):
        trees = breaker.small(number)
        case = breaker._case("sound", trees, "project.yaml", _written(trees["project.yaml"]))
        assert judged(case, tmp_path) == (cli.ALL_PLACED, [])


def _written(tree) -> bytes:
    from broken_projects import text_of

    return text_of(tree).encode()


def test_what_is_read_of_a_broken_project_is_nested_and_agrees_with_its_sheets(tmp_path, capsys):
    nested = 0
    for case in Breaker(4).cases(CASES, with_boats=0):
        code, _ = judged(case, tmp_path)
        if code != cli.ALL_PLACED:
            continue
        folder = str(tmp_path / f"out-{nested}")
        project = str(tmp_path / "project.yaml")
        ends = [
            cli.main(["nest", project, "-o", folder, "--rounds", "0", "--workers", "1", "-q"]),
            cli.main(["remeasure", project, "-o", folder, "-q"]),
        ]
        assert ends == [0, 0], f"{case.what}: {capsys.readouterr()}"
        nested += 1
        if nested == NESTED:
            break
    assert nested == NESTED


@pytest.mark.parametrize("given", ["-1", "metal", "{kind: rot}"])
def test_default_keep_outs_that_are_no_list_are_not_passed_over(tmp_path, given):
    """Boards with keep-outs of their own lost the common ones without a word."""
    stock = STOCK_FILE.replace("[{kind: rot, at: [9, 3], diameter: 1}]", given)
    written(tmp_path, stock, "stock.yaml")
    text = project_text(stock=BOARD + "  - {file: stock.yaml}\n", parts=STRAKE)
    found = findings_of(written(tmp_path, text))
    assert any(one.startswith("stock.yaml:2:52: defaults: keep_outs: ") for one in found), found


def test_note_that_no_sheet_has_room_for_is_refused(tmp_path):
    stock = BOARD.replace("}", f", came_from: {'aft ' * 126}}}")
    (found,) = findings_of(written(tmp_path, project_text(stock=stock, parts=STRAKE)))
    assert found.endswith("board D-01: came_from: 503 characters long; at most 500")
