"""Whose plan a folder holds, and what of an earlier plan still holds for the parts of now."""

import json
from types import SimpleNamespace

import pytest

import nesting as n
from nesting.changes import Fate, LastPlan, PieceChange, Sheet, changes_between, told_changes
from nesting.errors import OutputError
from nesting.last_plan import read_last_plan, require_own
from nesting.nest import At
from nesting.summary.of_plan import SUMMARY_VERSION

BAR = n.part_from_outline([(0, 0), (500, 0), (500, 40), (0, 40)], 20)


def job(name="Skiff", parts=("a", "b"), boards=(("A", 30.0), ("B", 30.0)), wood="teak"):
    return SimpleNamespace(
        name=name,
        needs=[n.Need.of(part, BAR, ["teak"], quantity=3) for part in parts],
        stock=[n.Board.rectangle(board, 900, 90, thick, wood) for board, thick in boards],
    )


def piece(part, number=1, label="", **more):
    lie = {"x_mm": 10.0, "y_mm": 10.0, "angle_deg": 0.0, "turned_over": False}
    named = {"part": part, "copy": number, "number": number, "label": label or part}
    return {**named, **lie, **more}


def board(name, *parts, thick=30.0, **more):
    return {"board": name, "species": "teak", "thickness_mm": thick, "parts": list(parts), **more}


def written(folder, *boards, name="Skiff", version=SUMMARY_VERSION):
    content = {"version": version, "project": name, "boards": list(boards)}
    (folder / "summary.json").write_text(json.dumps(content))
    return folder


def test_plan_that_bears_the_name_is_its_own_whatever_it_holds(tmp_path):
    folder = written(tmp_path, board("Z", piece("z")))
    assert require_own(folder, job()) == ""


@pytest.mark.parametrize(
    ("parts", "boards", "is_own"),
    [
        # Half of the parts, and half of the boards that are known, are enough; less is not.
        (("a", "b"), (("A", 30.0), ("B", 30.0)), True),
        (("a", "z"), (("A", 30.0), ("B", 30.0)), True),
        (("y", "z"), (("A", 30.0), ("B", 30.0)), False),
        (("a", "y", "z"), (("A", 30.0), ("B", 30.0)), False),
        (("a", "b"), (("A", 30.0), ("B", 35.0)), True),
        (("a", "b"), (("A", 35.0), ("B", 35.0)), False),
        (("a", "b"), (("A", 30.04), ("B", 30.04)), True),
        (("a", "b"), (("A", 30.06), ("B", 30.06)), False),
        (("a", "b"), (("A", 30.0), ("Y", 30.0), ("Z", 30.0)), True),
        (("a", "b"), (("Y", 30.0), ("Z", 30.0)), False),
    ],
)
def test_plan_of_another_name_is_known_by_its_parts_and_boards(tmp_path, parts, boards, is_own):
    rows = [board(name, thick=thick) for name, thick in boards]
    rows[0]["parts"] = [piece(part) for part in parts]
    folder = written(tmp_path, *rows, name="Old skiff")
    if is_own:
        said = require_own(folder, job())
        assert said.endswith("was written for Old skiff; it has the parts of Skiff")
    else:
        with pytest.raises(OutputError, match="is of the project Old skiff, not of Skiff: name"):
            require_own(folder, job())


def test_plan_of_another_name_without_any_part_or_of_other_wood_is_not_its_own(tmp_path):
    for other in (job(wood="oak"), job()):
        row = board("A", piece("a")) if other.stock[0].species == "oak" else board("A")
        folder = written(tmp_path, row, name="Old skiff")
        with pytest.raises(OutputError, match="is of the project"):
            require_own(folder, other)


def test_pieces_go_by_their_number_among_all_and_by_the_copy_where_no_number_stands(tmp_path):
    needs = job().needs
    old = piece("a", 3)
    del old["number"]
    rows = board("A", piece("a", 1, copy=2), piece("b", 9), old)
    plan = read_last_plan(written(tmp_path, rows), needs)
    assert [(at.placement.need.part, at.placement.copy) for at in plan.pieces] == [
        ("a", 1),
        ("a", 3),
    ]
    assert plan.labels["A"] == ("a, 1 of 3", "b", "a, 3 of 3")


@pytest.mark.parametrize("version", [4, SUMMARY_VERSION])
def test_older_form_without_words_of_sheets_is_read(tmp_path, version):
    rows = board("A", piece("a"), **({"sheet": "ABC"} if version > 4 else {}))
    plan = read_last_plan(written(tmp_path, rows, version=version), job().needs)
    assert plan.sheets == {"A": "ABC" if version > 4 else ""}


def test_other_form_is_refused(tmp_path):
    with pytest.raises(OutputError, match=f"is of form 3, not {SUMMARY_VERSION}"):
        read_last_plan(written(tmp_path, version=3), job().needs)


NEED = job().needs[0]


def at(where, copy=1, x_mm=10.0):
    return At(where, n.Placement(NEED, x_mm, 10.0, copy=copy))


def plan(*lying, sheets=None, sawn=()):
    labels: dict[str, tuple[str, ...]] = {}
    for one in lying:
        labels[one.board] = (*labels.get(one.board, ()), one.placement.label)
    return LastPlan(tuple(lying), labels, sheets or dict.fromkeys(labels, ""), frozenset(sawn))


def changed(was, now):
    found = changes_between(was, now, job().stock)
    return {b.board: b for b in found.boards}, list(told_changes(found, [NEED]))


def test_each_piece_has_its_fate_and_the_other_board():
    was, now = plan(at("A", 1), at("A", 2), at("B", 3)), plan(at("A", 1, 20.0), at("B", 2))
    boards, told = changed(was, now)
    fates = {
        (name, one.fate, one.piece[1], one.other) for name, b in boards.items() for one in b.pieces
    }
    assert fates == {
        ("A", Fate.MOVED, 1, ""),
        ("A", Fate.WENT, 2, "B"),
        ("B", Fate.CAME, 2, "A"),
        ("B", Fate.GONE, 3, ""),
    }
    assert told[0] == "0 pieces stay, 2 moved (1 of them to another board), 0 new, 1 gone"
    assert PieceChange(("a", 1), Fate.STAYS, at("A"), at("A")).other == ""


def test_sheets_are_new_thrown_away_or_anew_by_what_is_on_them():
    was = plan(at("A", 1), at("C", 2), sheets={"A": "AAA", "C": "CCC"})
    now = plan(at("A", 1), at("B", 2), sheets={"A": "AAB", "B": "BBB"})
    boards, told = changed(was, now)
    assert {name: b.sheet for name, b in boards.items()} == {
        "A": Sheet.ANEW,
        "B": Sheet.NEW,
        "C": Sheet.AWAY,
    }
    assert "1 sheet to print: B" in told
    assert "1 sheet to throw away and print anew: A (marked AAA)" in told
    assert "1 sheet to throw away: C (marked CCC)" in told
    assert list(boards) == ["A", "B", "C"], "those that the stock lacks come last"


def test_what_was_sawn_is_told_apart_from_what_nobody_asks_for():
    was = plan(at("A", 1))
    was = LastPlan(
        was.pieces, {"A": ("a, 1 of 3", "gunwale", "thwart")}, {"A": ""}, frozenset({"thwart"})
    )
    boards, told = changed(was, plan(at("A", 1)))
    assert (boards["A"].lost, boards["A"].sawn) == (("gunwale",), ("thwart",))
    assert boards["A"].sheet is Sheet.ANEW and not boards["A"].is_same
    assert told[0].endswith("0 new, 1 gone, 1 sawn")
    assert "board A: 1 piece stays; sawn: thwart; no longer asked for: gunwale" in told


@pytest.mark.parametrize(
    ("labels", "sawn", "x_mm", "is_same"),
    [
        ((), (), 10.0, True),
        ((), (), 20.0, False),
        (("thwart",), ("thwart",), 10.0, False),
        (("thwart",), (), 10.0, False),
    ],
    ids=["nothing changed", "one moved", "one sawn", "one not asked for"],
)
def test_board_is_the_same_where_nothing_came_went_or_moved(labels, sawn, x_mm, is_same):
    was = LastPlan((at("A", 1),), {"A": ("a, 1 of 3", *labels)}, {"A": ""}, frozenset(sawn))
    boards, told = changed(was, plan(at("A", 1, x_mm)))
    assert boards["A"].is_same is is_same
    assert any(line.startswith("board A:") for line in told) is not is_same
