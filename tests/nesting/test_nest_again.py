"""Nesting again with the last plan in view, from the command line; what differs, in words."""

import argparse
import json
from pathlib import Path

import pytest

from nesting import cli
from nesting.changes import Fate, LastPlan, Sheet, changes_between, plan_as_last, told_changes
from nesting.commands.again import tell_broken
from nesting.last_plan import read_last_plan
from nesting.nest import CuttingPlan, Nest
from nesting.project import read_project
from nesting.sheets.changes_view import changes_drawing
from nesting.sheets.drawing import Area, Polyline, Role, Text
from nesting.summary.file import read_summary
from nesting.summary.read_plan import plan_from

TEXT = """\
version: 1
name: Bench
unit: mm
stock:
  - {board: A, species: teak, thickness: 30, length: 900, width: 300%s}
  - {board: B, species: teak, thickness: 30, length: 900, width: 300}
  - {board: C, species: teak, thickness: 30, length: 2900, width: 300}
parts:
  - {part: seat, family: plank, species: teak, quantity: 2,
     shape: {length: 400, width: 250, thickness: 22}}
  - {part: rung, family: plank, species: teak, quantity: 3,
     shape: {length: 400, width: 25, thickness: 22}}
"""
NAIL = ", keep_outs: [{kind: metal, at: [100, 100], diameter: 5}]"


@pytest.fixture
def project(tmp_path, monkeypatch):
    """A project file and a folder with its plan, before a nail is found in board A."""
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "bench.yaml"
    path.write_text(TEXT % "")
    assert run(path) == 0
    return path


def run(path, *more):
    return cli.main(
        ["nest", str(path), "--rounds", "2", "--workers", "1", "--write", "nothing", "-q",
         "-o", "out", *more]
    )  # fmt: skip


def lying(path, folder="out"):
    """Return where every piece lies, by its name."""
    made = read_project(path)
    plan, _ = plan_from(read_summary(made.path.parent / folder), made.needs, made.stock)
    return {
        p.label: (nest.board.name, p.x_mm, p.y_mm, p.angle_deg, p.is_turned_over)
        for nest in plan.nests
        for p in nest.placements
    }


def sheets():
    return [row["sheet"] for row in read_summary(Path("out"))["boards"]]


def test_only_the_piece_with_the_nail_moves(project, capsys):
    before = lying(project)
    project.write_text(TEXT % NAIL)
    assert run(project, "--again", "--overwrite") == 0
    after = lying(project)
    moved = [label for label in before if before[label] != after[label]]
    assert len(moved) == 1 and moved[0].startswith("seat")
    said = capsys.readouterr().out
    assert "Against the last plan:" in said and "4 pieces stay, 1 moved" in said
    assert "throw away and print anew: A (marked " in said
    assert cli.main(["remeasure", str(project), "-o", "out"]) == 0


def test_again_without_any_change_leaves_every_sheet_true(project, capsys):
    words = sheets()
    assert run(project, "--again", "--overwrite") == 0
    assert "2 sheets stay true: A, B" in capsys.readouterr().out
    assert words == sheets()


def test_moving_costs_what_is_said(project):
    """Where moving is for nothing, no more boards are opened than in a plan made anew."""
    project.write_text(TEXT % NAIL)
    assert run(project, "--again", "--moving", "0 m2", "--overwrite") == 0
    assert len({board for board, *_ in lying(project).values()}) == 2


@pytest.mark.parametrize(
    ("more", "code", "words"),
    [
        (["--again"], 5, "would be overwritten"),
        (["--again", "nowhere", "--overwrite"], 5, "nowhere/summary.json is not there"),
        (["--moving", "1 m2"], 2, "--moving goes with --again"),
        (["--again", "--overwrite", "--moving", "3"], 2, "--moving: '3' is no area of wood"),
    ],
)
def test_mistakes_are_told(project, capsys, more, code, words):
    assert run(project, *more) == code
    assert words in capsys.readouterr().err


def test_fixed_piece_stays_whatever_else_moves(project):
    before = lying(project)
    (label,) = [name for name in before if name.startswith("seat, 1")]
    project.write_text(TEXT % "" + f'wishes:\n  - {{fixed: "{label}"}}\n')
    assert run(project, "--overwrite", "--seed", "7") == 0
    assert lying(project)[label] == before[label]
    assert cli.main(["remeasure", str(project), "-o", "out"]) == 0


def test_fixed_piece_that_is_moved_in_the_written_plan_is_found(project, capsys):
    project.write_text(TEXT % "" + 'wishes:\n  - {fixed: "seat, 1 of 2"}\n')
    assert run(project, "--overwrite") == 0
    path = project.parent / "out/summary.json"
    content = json.loads(path.read_text())
    content["fixed"][0]["x_mm"] += 0.5
    path.write_text(json.dumps(content))
    assert cli.main(["remeasure", str(project), "-o", "out"]) == 6
    assert "wish 1: seat, 1 of 2 is fixed at" in capsys.readouterr().out


def test_fixed_piece_on_a_nail_is_an_error_at_its_wish(project, capsys):
    before = lying(project)
    (label,) = [name for name, lie in before.items() if lie[1] < 100 and name.startswith("seat")]
    project.write_text(TEXT % NAIL + f'wishes:\n  - {{fixed: "{label}"}}\n')
    assert run(project, "--overwrite") == 3
    said = capsys.readouterr().err
    assert "wish 1: fixed: A: clear of metal: seat" in said and "bench.yaml:14:" in said


def test_check_says_what_keeps_a_fixed_piece_from_staying(project, capsys):
    made = TEXT.replace("name: Bench", "name: Bench\noutputs: {folder: out}")
    project.write_text(made % "" + 'wishes:\n  - {fixed: "seat, 1 of 2"}\n')
    assert cli.main(["check", str(project)]) == 0
    assert "Nothing is wrong with the file." in capsys.readouterr().out
    smaller = (made % "").replace("length: 900, width: 300}", "length: 380, width: 300}", 1)
    project.write_text(smaller + 'wishes:\n  - {fixed: "seat, 1 of 2"}\n')
    assert cli.main(["check", str(project)]) == 0
    assert "wish 1: fixed: A: inside the board: seat, 1 of 2" in capsys.readouterr().out


def test_fixed_piece_without_any_plan_is_an_error(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "bench.yaml"
    path.write_text(TEXT % "" + "wishes:\n  - {fixed: seat}\n")
    assert run(path) == 3
    assert "lies nowhere in out, where no plan is: nest once without" in capsys.readouterr().err


def test_wish_broken_in_the_written_plan_is_found_by_remeasure(project, capsys):
    project.write_text(TEXT % "" + "wishes:\n  - {board: A, use: held back}\n")
    assert cli.main(["remeasure", str(project), "-o", "out"]) == 6
    assert "board A: wish 1: it is held back, and parts lie on it" in capsys.readouterr().out


def test_changes_are_told_and_drawn_for_paper_without_colour(project, capsys):
    project.write_text(TEXT % NAIL)
    assert run(project, "--again", "out", "-o", "later") == 0
    capsys.readouterr()
    given = ["changes", str(project), "out", "-o", "later", "--drawing", "c.svg"]
    assert cli.main(given) == 0
    assert "board A: 3 pieces stay; moved to B: seat" in capsys.readouterr().out
    assert "moved from A" in Path("c.svg").read_text()
    assert cli.main(given) == 5  # It is there.
    assert cli.main([*given[:-1], "c.pdf"]) == 0

    made = read_project(project)
    was = read_last_plan(project.parent / "out", made.needs)
    now = read_last_plan(project.parent / "later", made.needs)
    found = changes_between(was, now, made.stock)
    drawing = changes_drawing(found, made.stock, made.needs, title="Changes")
    roles = [e.role for e in drawing.entities if isinstance(e, Polyline)]
    assert roles.count(Role.PART) == 4 and roles.count(Role.SAW_OUTLINE) == 1
    assert roles.count(Role.MARK_FRAME) == 1
    assert sum(isinstance(entity, Area) for entity in drawing.entities) == 1
    texts = [entity.text for entity in drawing.entities if isinstance(entity, Text)]
    assert any("moved to B" in text for text in texts)


def test_plan_of_a_part_that_is_gone_and_a_board_that_is_gone_is_read(project):
    project.write_text((TEXT % "").replace("board: A,", "board: E,").replace("rung", "spar"))
    changed = read_project(project)
    was = read_last_plan(project.parent / "out", changed.needs)
    assert {at.placement.need.part for at in was.pieces} == {"seat"}
    assert sum(len(labels) for labels in was.labels.values()) == 5
    assert run(project, "--again", "--overwrite") == 0
    now = read_last_plan(project.parent / "out", changed.needs)
    found = changes_between(was, now, changed.stock)
    told = list(told_changes(found, changed.needs))
    assert any("no longer asked for: rung" in line for line in told)


def test_sheet_is_known_by_its_word_alone_where_nothing_moved(project):
    made = read_project(project)
    was = read_last_plan(project.parent / "out", made.needs)
    board = next(iter(was.labels))
    old = LastPlan(was.pieces, was.labels, {**was.sheets, board: "ABCDEF"})
    (anew,) = [b for b in changes_between(old, was, made.stock).boards if b.board == board]
    assert anew.is_same and anew.sheet is Sheet.ANEW
    unknown = LastPlan(was.pieces, was.labels, dict.fromkeys(was.sheets, ""))
    assert {b.sheet for b in changes_between(unknown, was, made.stock).boards} == {Sheet.UNKNOWN}
    nothing = LastPlan((), {}, {})
    assert {b.sheet for b in changes_between(was, nothing, made.stock).boards} == {Sheet.AWAY}
    assert changes_between(nothing, was, made.stock).counts[Fate.NEW] == 5


def test_later_stage_is_no_shortage_and_nothing_to_buy(project, capsys):
    project.write_text(TEXT % "" + "stage: 1\nwishes:\n  - {part: rung, stage: 2}\n")
    assert run(project, "--overwrite", "--must-place-all") == 0
    made = read_project(project)
    plan, _ = plan_from(read_summary(project.parent / "out"), made.needs, made.stock)
    assert plan_as_last(plan).labels == {"A": ("seat, 1 of 2", "seat, 2 of 2")}
    assert plan.unplaced[0].count == 3
    assert read_summary(project.parent / "out")["to_buy"] == []
    assert cli.main(["plank", str(project), "-o", "out", "--width", "60", "-q"]) == 0
    assert "no part is left over: nothing to buy" in capsys.readouterr().out
    assert cli.main(["remeasure", str(project), "-o", "out"]) == 0


FIRST = "  - {board: C, use: first, price: 0.001 m2}\n"
TOLD_FIRST = "wish 1 is broken: board C: it is to be used first, and is not opened"


@pytest.mark.parametrize(
    ("more", "is_told"),
    [
        ("", True),
        # Each keeps every piece off C, or only some, or at a price that breaking it may be worth.
        ("  - {part: [seat, rung], not_from: C}\n", False),
        ("  - {part: [seat, rung], not_from: C, price: 0.01 m2}\n", True),
        ("  - {part: [seat, 'rung, 2 of 3'], not_from: C}\n", True),
        ("  - {part: seat, from: A}\n  - {part: rung, not_from: C}\n", False),
        ("  - {part: seat, not_from: C}\n  - {part: rung, stage: 2}\nstage: 1\n", False),
        ("  - {part: seat, not_from: C}\n  - {part: rung, stage: 2}\nstage: 2\n", True),
        ("  - {fixed: [seat, rung]}\n", False),
        ("  - {fixed: [seat, 'rung, 1 of 3']}\n", True),
    ],
)
def test_board_to_be_used_first_is_told_unless_all_is_kept_off_it(project, capsys, more, is_told):
    """C lies unused in the plan, but only where something may come from it is anything saved."""
    project.write_text(TEXT % "" + "wishes:\n" + FIRST + more)
    assert (TOLD_FIRST in told_of_the_plan(project, capsys)) is is_told


@pytest.mark.parametrize(
    ("board", "is_told"),
    [
        ("thickness: 30, length: 2900, width: 300", True),
        ("thickness: 20, length: 2900, width: 300", False),
        ("thickness: 30, length: 350, width: 300", False),
    ],
)
def test_board_to_be_used_first_is_told_where_something_can_come_from_it(
    project, capsys, board, is_told
):
    """C lies unused in the plan: too thin or too short for all parts, nothing is saved."""
    text = TEXT.replace("thickness: 30, length: 2900, width: 300", board) % ""
    project.write_text(text + "wishes:\n" + FIRST)
    assert (TOLD_FIRST in told_of_the_plan(project, capsys)) is is_told


def told_of_the_plan(project, capsys):
    """Return what is said of wishes that the plan in the folder breaks; C is not opened in it."""
    made = read_project(project)
    last = read_last_plan(Path("out"), made.needs)
    plan, _ = plan_from(read_summary(Path("out")), made.needs, made.stock)
    assert "C" not in {nest.board.name for nest in plan.nests}
    capsys.readouterr()
    tell_broken(argparse.Namespace(unit=made.unit), made, plan, last)
    return capsys.readouterr().err


@pytest.mark.parametrize(
    ("nail", "more", "why"),
    [
        (NAIL, "", "it may not lie there any more: clear of metal: seat, 1 of 2 lies over"),
        ("", "  - {part: seat, not_from: A}\n", "it may not lie there any more: wish 2 keeps it"),
    ],
)
def test_piece_that_is_fixed_at_a_price_and_cannot_stay_is_told_with_why(
    project, capsys, nail, more, why
):
    wish = "wishes:\n  - {fixed: 'seat, 1 of 2', price: 0.05 m2}\n"
    was = lying(project)["seat, 1 of 2"]
    assert was[0] == "A" and was[1] < 100 < was[1] + 400
    project.write_text(TEXT % nail + wish + more)
    how = ("--again", "--overwrite", "--rounds", "0", "--workers", "1", "--write", "nothing")
    assert cli.main(["nest", str(project), "-o", "out", *how]) == 0
    told = capsys.readouterr().err
    assert "note: wish 1 is broken: board A: seat, 1 of 2 is fixed at (" in told
    assert why in told


def tell_of_seats_on(project, price, board):
    """Tell what is broken where the seats, fixed at a price on A, lie on a board, or on none."""
    project.write_text(TEXT % "" + f"wishes:\n  - {{fixed: seat, price: {price}}}\n")
    made = read_project(project)
    last = read_last_plan(Path("out"), made.needs)
    stock = {board.name: board for board in made.stock}
    seats = tuple(at.placement for at in last.pieces if at.placement.need.part == "seat")
    plan = CuttingPlan((Nest(stock[board], seats),) if board else ())
    tell_broken(argparse.Namespace(unit=made.unit), made, plan, last)


def test_price_is_told_as_it_was_set_however_small(project, capsys):
    tell_of_seats_on(project, "0.25 cm2", "B")
    lines = capsys.readouterr().err.splitlines()
    assert [line.endswith("; that was worth 0.25 cm2") for line in lines] == [True, True]


def test_piece_that_is_fixed_at_a_price_and_was_moved_for_less_wood_is_told(project, capsys):
    """The seats lie on A in the last plan; here each lies on B, where nothing else does."""
    tell_of_seats_on(project, "0.05 m2", "A")
    assert capsys.readouterr().err == ""
    tell_of_seats_on(project, "0.05 m2", "B")
    told = capsys.readouterr().err.splitlines()
    assert len(told) == 2
    for line, number in zip(told, "12", strict=True):
        assert line.startswith(f"note: wish 1 is broken: board A: seat, {number} of 2 is fixed at")
        assert "and lies on board B, (" in line and line.endswith("; that was worth 0.05 m2")
    tell_of_seats_on(project, "0.05 m2", None)
    assert "seat, 2 of 2 is fixed there, and left over; that was worth" in capsys.readouterr().err
