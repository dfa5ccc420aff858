"""The names that a script uses: which there are, that they load late, and that they do the job."""

import ast
import doctest
import inspect
import subprocess
import sys
import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from importlib import import_module
from pathlib import Path

import pytest

import nesting as n
from nesting.front_door.packing import Plan

ROOT = Path(__file__).parents[2]

PUBLIC = """
    Account BearingZone Bevel Board BoardAccount Bung ClusterError CuttingPlan DrawingError Edge
    Family FamilyMaker Fault GrainPath Holes InUseError JobError KeepOut KeepOutKind LeastOffcut
    LengthError Mark MarkKind Misfit Need Nest NewTimberRules Offcut OptionError Outline
    OutputError OwnCodeError Part PartError Placement Plan Progress Project ProjectFileError
    Prospect RefereeError Rules SalvageNestError ShapeError ShapedPart Shares Step ToBuy Unit
    Unplaced Wish account_for board_outline check_plan circle crossings edge_row families family
    pack parse_length part_from_outline part_from_solid read_plan read_project region remeasured
    require_sound row slot straight_grain widths_outline write
""".split()  # noqa: SIM905
"""Whoever adds a name or takes one away says so here."""


def named_for_types():
    """Return the names that a type checker sees, with where they come from."""
    tree = ast.parse((ROOT / "nesting/__init__.py").read_text(encoding="utf-8"))
    (block,) = (
        node
        for node in tree.body
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
    )
    return {alias.asname: node.module for node in block.body for alias in node.names}


def test_public_names_are_these_and_no_others():
    assert n.__all__ == PUBLIC
    assert set(PUBLIC) <= set(dir(n))


def test_type_checkers_see_each_name_where_it_is_loaded_from():
    assert named_for_types() == n._HOME_OF


def test_no_public_name_is_that_of_a_module():
    """Importing such a module would put it in the name's place."""
    modules = {path.stem for path in (ROOT / "nesting").iterdir()}
    assert modules.isdisjoint(PUBLIC)


def test_name_that_is_not_there_is_said_so():
    with pytest.raises(AttributeError, match="no attribute 'pakc'"):
        getattr(n, "pakc")  # noqa: B009


def test_importing_loads_nothing_of_ours_and_no_library():
    code = (
        "import sys; before = set(sys.modules); import nesting\n"
        "print(*{m.partition('.')[0] for m in set(sys.modules) - before} - sys.stdlib_module_names)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["nesting"]


@pytest.mark.parametrize("name", PUBLIC)
def test_every_public_name_says_what_it_is(name):
    found = getattr(n, name)
    assert inspect.getdoc(found)
    assert "nesting" in found.__module__ or "parts" in found.__module__


@pytest.mark.parametrize("name", [name for name in PUBLIC if inspect.isfunction(getattr(n, name))])
def test_every_public_function_shows_an_example_and_says_what_it_refuses(name):
    told = inspect.getdoc(getattr(n, name))
    assert ">>>" in told
    assert "Raises" in told or name in ("families", "straight_grain", "account_for")


def with_examples():
    """Return the modules whose docstrings show an example."""
    files = [path for package in ("nesting", "parts") for path in (ROOT / package).rglob("*.py")]
    shown = [path for path in files if ">>> " in path.read_text(encoding="utf-8")]
    names = (path.relative_to(ROOT).with_suffix("").as_posix().split("/") for path in shown)
    return sorted(".".join(name).removesuffix(".__init__") for name in names)


def test_examples_are_looked_for_everywhere():
    assert {"nesting", "nesting.unseen", "parts.shaped"} < set(with_examples())


@pytest.mark.parametrize("home", with_examples())
def test_examples_hold(home):
    failed, tried = doctest.testmod(
        import_module(home), optionflags=doctest.IGNORE_EXCEPTION_DETAIL
    )
    assert (failed, tried > 0) == (0, True)


BAR = [(0, 0), (500, 0), (500, 40), (0, 40)]


def job(count=1, **more):
    """Return needs for so many boards, a bar on each, and the boards."""
    bar = n.part_from_outline(BAR, 20)
    boards = [n.Board.rectangle(f"B-{k}", 520, 60, 26, "teak", **more) for k in range(count)]
    return [n.Need.of("bar", bar, ["teak"], quantity=count)], boards


@pytest.mark.long
def test_same_seed_and_rounds_give_the_same_plan():
    needs, boards = job(2)
    plans = [n.pack(needs, boards, rounds=2, seed=4) for _ in range(2)]
    assert plans[0] == plans[1]
    assert plans[0].seed == 4


def test_progress_is_told_and_seconds_end_the_search():
    told = []
    needs, boards = job(2)
    plan = n.pack(needs, boards, seconds=0.1, on_progress=told.append)
    assert told
    assert told[-1].placed == 2
    assert plan.rules == n.Rules()


def test_one_name_for_two_boards_is_refused():
    needs, boards = job()
    with pytest.raises(n.JobError, match="2 boards are called 'B-0': give each its own name"):
        n.pack(needs, boards * 2, rounds=0)


def test_one_name_for_two_needs_is_refused():
    needs, boards = job()
    with pytest.raises(n.JobError, match="2 needs are called 'bar'"):
        n.pack(needs * 2, boards, rounds=0)


def test_one_wood_in_two_spellings_is_refused():
    needs, _ = job()
    board = n.Board.rectangle("B", 520, 60, 26, "Teak")
    with pytest.raises(n.JobError, match="'Teak' and 'teak' are one wood in two spellings"):
        n.pack(needs, [board], rounds=0)


@pytest.mark.parametrize(
    "limit",
    [{"seconds": -1}, {"seconds": float("nan")}, {"seconds": "10"}, {"rounds": 1.5},
     {"rounds": -1}, {"rounds": True}, {"workers": 0}, {"seed": "one"}],
    ids=str,
)  # fmt: skip
def test_limit_that_cannot_be_is_refused_by_name(limit):
    needs, boards = job()
    with pytest.raises((n.JobError, n.ShapeError), match=next(iter(limit))):
        n.pack(needs, boards, **limit)


def test_quantity_is_a_whole_number_and_not_yes():
    bar = n.part_from_outline([(0, 0), (500, 0), (500, 40), (0, 40)], 20)
    with pytest.raises(n.ShapeError, match="the quantity is true, must be a whole number"):
        n.Need.of("bar", bar, ["teak"], quantity=True)


@pytest.mark.parametrize(("needs", "boards"), [(0, 1), (1, 0)])
def test_nothing_to_do_is_said_so(needs, boards):
    given = job()
    with pytest.raises(n.JobError, match="there is no"):
        n.pack(given[0][:needs], given[1][:boards], rounds=0)


def test_referee_goes_by_what_was_asked_for_even_if_the_plan_forgot_it():
    needs, boards = job()
    forgotten = Plan((), needs=tuple(needs), boards=tuple(boards))
    with pytest.raises(n.RefereeError, match="bar: 0 placed and 0 left over make 0, 1 are wanted"):
        n.require_sound(forgotten)


@pytest.mark.parametrize(
    ("other", "said"),
    [
        ({"name": "Q"}, "board Q: boards: it is none of those that were given"),
        ({"thickness_mm": 60.0}, "board B-0: boards: it is not as it was given"),
        (
            {"keep_outs": [n.circle("metal", 9, 9, 3)]},
            "board B-0: boards: it is not as it was given",
        ),
    ],
    ids=["another", "thicker", "nailed"],
)
def test_board_that_was_not_given_is_seen_by_the_referee_and_not_written(tmp_path, other, said):
    (need,), (board,) = job()
    nest = n.Nest(board, [n.Placement(need, 10, 10)])
    given = {"needs": (need,), "rules": n.Rules()}
    assert n.check_plan(Plan((nest,), boards=(board,), **given)) == ()
    plan = Plan((nest,), boards=(replace(board, **other),), **given)
    if "name" in other:
        plan = Plan((replace(nest, board=replace(board, **other)),), boards=(board,), **given)
    assert [str(fault) for fault in n.check_plan(plan)] == [said]
    with pytest.raises(n.RefereeError, match=said):
        n.write(plan, tmp_path / "out")


def test_unsound_plan_is_not_written(tmp_path):
    needs, boards = job()
    beyond = n.Nest(boards[0], [n.Placement(needs[0], 200, 10)])
    plan = Plan((beyond,), needs=tuple(needs), boards=tuple(boards))
    with pytest.raises(n.RefereeError, match="inside the board"):
        n.write(plan, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_plan_that_does_not_say_what_it_is_made_of_is_asked_for_it():
    plan = n.CuttingPlan(())
    with pytest.raises(n.JobError, match="give needs"):
        n.require_sound(plan)
    with pytest.raises(n.JobError, match="give rules"):
        n.account_for(plan)
    n.require_sound(plan, [], n.Rules())


def test_sheets_carry_name_and_unit_and_are_read_back_by_them(tmp_path):
    needs, boards = job()
    plan = n.pack(needs, boards, rounds=0)
    files = n.write(plan, tmp_path, name="A ladder", unit="in", dxf="R12")
    assert "A ladder" in files[0].read_text(encoding="utf-8", errors="replace")
    assert n.remeasured(plan, tmp_path, name="A ladder", unit="in") == ()
    assert n.remeasured(plan, tmp_path, name="Another", unit="in") != ()
    again = n.read_plan(tmp_path, needs, boards)
    assert (again.nests, again.seed) == (plan.nests, plan.seed)
    with pytest.raises(n.OutputError, match="would be overwritten"):
        n.write(plan, tmp_path)
    n.write(again, tmp_path, overwrite=True)


def test_letter_that_r12_cannot_hold_is_refused_before_anything_is_written(tmp_path):
    needs, boards = job(came_from="the \N{SAILBOAT} and \N{ANCHOR}, \U0001f6a3 too")
    plan = n.pack(needs, boards, rounds=0)
    with pytest.raises(n.JobError, match="write R2010"):
        n.write(plan, tmp_path / "out", dxf="R12")
    assert not (tmp_path / "out").exists()


SCRIPT = """
import nesting as n
bar = n.part_from_outline([(0, 0), (500, 0), (500, 40), (0, 40)], 20)
boards = [n.Board.rectangle(f"B-{k}", 520, 60, 26, "teak") for k in range(7)]
plan = n.pack([n.Need.of("bar", bar, ["teak"], quantity=7)], boards, rounds=0)
print(len(n.write(plan, "out")), "files")
"""


def test_script_without_a_main_guard_packs_and_writes_many_sheets(tmp_path):
    path = tmp_path / "ladder.py"
    path.write_text(SCRIPT)
    done = subprocess.run(
        [sys.executable, path.name], cwd=tmp_path, capture_output=True, text=True, check=False,
        env={"PYTHONPATH": str(ROOT), "PATH": "", "HOME": str(tmp_path)},
    )  # fmt: skip
    assert (done.returncode, done.stdout, done.stderr) == (0, "9 files\n", "")


def all_pictures():
    nail, rot = n.circle("metal", 90, 30, 1), n.region("rot", [(0, 0), (60, 0), (0, 60)])
    needs, boards = job(keep_outs=[nail, rot])
    (board,) = boards
    named = n.Need.of('<a> & "b"', n.part_from_outline(BAR, 20), ["teak"])
    plan = n.CuttingPlan(
        (n.Nest(board, [n.Placement(named, 10, 10)]),),
        (n.Unplaced(needs[0], 1, n.Misfit.NO_ROOM),),
    )
    grown = n.Board.outlined(
        "K & L", [(0, 0), (900, 0), (900, 90), (0, 80)], 40, "oak",
        grain=n.GrainPath(((0, 10), (400, 40), (900, 60))),
    )  # fmt: skip
    return {
        "board": board._repr_svg_(),
        "crook": grown._repr_svg_(),
        "outline": needs[0].outline._repr_svg_(),
        "part": n.part_from_outline(BAR, 20)._repr_svg_(),
        "nest": plan.nests[0]._repr_svg_(),
        "plan": plan._repr_html_(),
    }


@pytest.mark.parametrize(("what", "shown"), all_pictures().items(), ids=list(all_pictures()))
def test_picture_for_a_notebook_is_well_formed_and_of_a_sensible_size(what, shown):
    top = ElementTree.fromstring(shown)
    pictures = [node for node in top.iter() if node.tag.endswith("}svg")]
    assert len(pictures) == 1
    width, height = (float(pictures[0].get(side)) for side in ("width", "height"))
    assert 60 < width <= 900
    assert 30 < height <= 400
    words = [node.text for node in top.iter() if node.text]
    assert {"nest": '<a> & "b"', "plan": '<a> & "b"', "crook": "K & L"}.get(what) in (None, *words)


@pytest.mark.parametrize(
    ("thing", "said"),
    [
        (lambda: job(keep_outs=[n.circle("knot", 9, 9, 5)])[1][0],
         "Board('B-0', teak, 520 x 60 x 26 mm, 1 keep-out)"),
        (lambda: job()[0][0], "Need('bar', 1 of 500 x 40 mm, 20 mm thick, of teak)"),
        (lambda: n.part_from_outline(BAR, 20).outline(), "Outline(500 x 40 mm, 20 mm thick)"),
        (lambda: n.slot("rot", (0, 0), (9, 0), 1), "KeepOut(rot, 10 mm across, at (4.5, 0) mm)"),
        (lambda: n.pack(*job(2), rounds=0), "Plan(2 parts on 2 boards)"),
        (lambda: n.pack(*job(2), rounds=0).nests[0], "Nest('B-0': 1 part)"),
        (lambda: n.account_for(n.pack(*job(2), rounds=0)),
         "Account(2 boards: 64.1 % parts, 35.9 % scrap)"),
        (lambda: n.account_for(n.pack(*job(), rounds=0)).boards[0],
         "BoardAccount('B-0': 64.1 % parts, 35.9 % scrap)"),
        (lambda: n.family("knee"), "family('knee')"),
    ],
)  # fmt: skip
def test_representation_is_one_short_line(thing, said):
    assert repr(thing()) == said


def test_printed_plan_lists_boards_and_what_is_left_over():
    needs, boards = job()
    more = [n.Need.of("beam", n.part_from_outline([(0, 0), (900, 0), (0, 80)], 20), ["teak"])]
    assert str(n.pack(needs + more, boards, rounds=0)).splitlines() == [
        "1 part on 1 board, 1 left over",
        "  B-0: bar",
        "  left over: 1 x beam: too long or too wide for any such board",
    ]


def test_family_says_everything_that_is_wrong_in_words():
    with pytest.raises(n.PartError) as caught:
        n.family("plank", unit="in")(length="long", thickness=1, wdth=3)
    assert "'long' is no length" in str(caught.value)
    assert "wdth: unknown key, did you mean width?" in str(caught.value)


def test_family_that_is_not_there_offers_the_nearest():
    with pytest.raises(n.PartError, match="did you mean knee"):
        n.family("kne")


def test_fitted_family_needs_a_project_file():
    with pytest.raises(n.PartError, match="takes its shape from a boat's lines"):
        n.family("clamp")


def test_printed_family_shows_its_parameters():
    assert "throat" in str(n.family("knee"))


def test_files_are_measured_again_under_the_name_that_they_bear(tmp_path):
    bar = n.part_from_outline([(0, 0), (500, 0), (500, 40), (0, 40)], 20)
    plan = n.pack(
        [n.Need.of("bar", bar, ["teak"])], [n.Board.rectangle("B", 900, 90, 30, "teak")], rounds=0
    )
    n.write(plan, tmp_path / "out", name="A ladder")
    assert n.remeasured(plan, tmp_path / "out") == ()
    assert n.remeasured(plan, tmp_path / "out", name="A ladder") == ()
    assert n.remeasured(plan, tmp_path / "out", name="A stair") != ()
    with pytest.raises(n.ShapeError, match="name is 3, must be a text"):
        n.remeasured(plan, tmp_path / "out", name=3)
