"""Sheets that are not drawn again, and those that must be."""

import pickle
from dataclasses import replace

import pytest
from shapely.geometry import box

from nesting import outputs, sheet_task, sheets_kept
from nesting.accounts.account import account_for
from nesting.engine.pack import pack
from nesting.engine.stop import MaxRounds
from nesting.project import read_project
from nesting.read_back.remeasure import remeasured
from nesting.rules import Rules
from nesting.sheets_kept import is_carried_over, key_of, marked
from nesting.shop.kinds import Output
from nesting.stock.board import Board

PROJECT = """version: 1
name: Two boards
unit: mm
stock:
  - {board: A, species: teak, thickness: 30, length: 900, width: 150}
  - {board: B, species: teak, thickness: 30, length: 900, width: 150}
parts:
  - part: bar
    family: plank
    quantity: 4
    species: teak
    shape: {length: 400, width: 100, thickness: 25}
"""


@pytest.fixture
def project(tmp_path):
    (tmp_path / "project.yaml").write_text(PROJECT)
    return read_project(tmp_path / "project.yaml")


@pytest.fixture
def plan(project):
    found = pack(project.needs, project.stock, project.rules, stop=MaxRounds(0))
    assert [nest.board.name for nest in found.nests] == ["A", "B"]
    return found


@pytest.fixture
def drawn(monkeypatch):
    """The boards whose sheets are drawn."""
    names, cut_sheet = [], sheet_task.cut_sheet

    def noted(nest, *given, **named):
        names.append(nest.board.name)
        return cut_sheet(nest, *given, **named)

    monkeypatch.setattr(sheet_task, "cut_sheet", noted)
    return names


def written(project, plan, folder, **named):
    account = account_for(plan, project.rules)
    return outputs.write_outputs(project, plan, account, folder, overwrite=True, **named)


def test_sheets_that_show_the_same_are_not_drawn_again(project, plan, drawn, tmp_path):
    files = written(project, plan, tmp_path / "out")
    before = [path.read_bytes() for path in files[:2]]
    assert sorted(drawn) == ["A", "B"]
    drawn.clear()
    assert [path.read_bytes() for path in written(project, plan, tmp_path / "out")[:2]] == before
    assert drawn == []
    assert remeasured(project, tmp_path / "out") == (2, ())


def test_only_the_sheet_of_a_changed_board_is_drawn(project, plan, drawn, tmp_path):
    written(project, plan, tmp_path / "out")
    drawn.clear()
    first, second = plan.nests
    moved = replace(second.placements[0], y_mm=second.placements[0].y_mm + 5.0)
    changed = replace(second, placements=(moved, *second.placements[1:]))
    written(project, replace(plan, nests=(first, changed)), tmp_path / "out")
    assert drawn == ["B"]


@pytest.mark.parametrize("harm", ["a byte", "cut short", "no keys", "gone", "version"])
def test_sheet_that_is_not_as_it_was_drawn_is_drawn_again(project, plan, drawn, tmp_path, harm):
    files = written(project, plan, tmp_path / "out")
    drawn.clear()
    content = files[0].read_bytes()
    named = {}
    if harm == "a byte":
        files[0].write_bytes(content.replace(b"900.0", b"901.0", 1))
        assert files[0].read_bytes() != content
    elif harm == "cut short":
        files[0].write_bytes(content[:-200])
    elif harm == "no keys":
        files[0].write_bytes(content.split(b"\n", 2)[-1])
    elif harm == "gone":
        files[0].unlink()
    else:
        named = {"dxf_version": "R12"}
    written(project, plan, tmp_path / "out", **named)
    assert drawn == (["A", "B"] if harm == "version" else ["A"])


def test_sheet_drawn_by_another_program_is_drawn_again(project, plan, drawn, tmp_path, monkeypatch):
    written(project, plan, tmp_path / "out")
    drawn.clear()
    monkeypatch.setattr(sheets_kept, "_program", lambda: b"another")
    written(project, plan, tmp_path / "out")
    assert sorted(drawn) == ["A", "B"]


def test_keys_tell_content_apart_and_not_how_it_is_held():
    board = Board("A", box(0, 0, 900, 150), 30, "teak")
    assert key_of(board, Rules()) == key_of(replace(board), Rules())
    assert board.keep_out_boxes.shape == (0, 4)
    keys = {
        key_of(board, Rules()),
        key_of(replace(board, name="B"), Rules()),
        key_of(replace(board, shape=box(0, 0, 900, 150.0000001)), Rules()),
        key_of(board, Rules(kerf_mm=2.5)),
        key_of(("a", "b"), "c"),
        key_of("a", ("b", "c")),
        key_of(1),
        key_of(1.0),
        key_of("1"),
        key_of(None),
    }
    assert len(keys) == 10
    with pytest.raises(TypeError, match="set"):
        key_of({1, 2})


def test_file_with_other_keys_is_not_carried_over(tmp_path):
    path, copy = tmp_path / "a.dxf", tmp_path / "b.dxf"
    path.write_bytes(marked(b"0\nEOF\n", "key"))
    assert not is_carried_over(path, copy, "other key")
    assert not copy.exists()
    assert is_carried_over(path, copy, "key")
    assert copy.read_bytes() == path.read_bytes()


BESIDE = (Output.PRINT, Output.LISTS, Output.PAGE)


def test_processes_begun_before_draw_the_same_and_end_with_their_block(
    project, plan, tmp_path, monkeypatch
):
    """What draws is loaded while a plan is measured; a process lost by then changes nothing."""
    alone = [path.read_bytes() for path in written(project, plan, tmp_path / "alone", also=BESIDE)]
    assert len(alone) > 10
    monkeypatch.setattr(outputs, "FEW_SHEETS", 1)
    monkeypatch.setattr(outputs.os, "cpu_count", lambda: 2)
    for number, is_lost in enumerate((False, True)):
        with outputs.drawing_beside(plan) as helpers:
            (process,) = helpers._processes
            if is_lost:
                process.kill()
                process.join()
            files = written(project, plan, tmp_path / str(number), helpers=helpers, also=BESIDE)
            assert process.is_alive() is not is_lost
        assert not process.is_alive()
        assert [path.read_bytes() for path in files] == alone


def test_few_sheets_are_drawn_here(plan):
    with outputs.drawing_beside(plan) as helpers:
        assert helpers is None


def test_project_travels_with_its_parts_and_leaves_the_words_of_its_files_behind(project):
    there = pickle.loads(pickle.dumps(project))
    assert there.parts.keys() == project.parts.keys()
    assert (there.stock, there.rules, there.unit) == (project.stock, project.rules, project.unit)
    assert project.board_entries and not there.board_entries
