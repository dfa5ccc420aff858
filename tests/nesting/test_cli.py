"""The command line as a user meets it: what it writes, prints and answers."""

import json
import os
import pty
import re
import signal
import subprocess
import sys
import threading
from contextlib import nullcontext
from pathlib import Path

import pytest

from nesting import cli
from nesting.errors import RefereeError
from nesting.work import Step, untold

DEMO = Path(__file__).parents[2] / "demo_projects" / "first_cut" / "project.yaml"

SMALL = """\
version: 1
name: Small job
unit: in
stock:
  - {board: D-01, species: teak, thickness: 1 3/8, length: 8 ft, width: 5}
parts:
  - part: strake
    family: ceiling strake
    shape: {length: 6 ft, width: 3, thickness: 1, frame_spacing: 10}
    species: teak
"""


@pytest.fixture
def small(tmp_path):
    path = tmp_path / "small.yaml"
    path.write_text(SMALL)
    return path


def nest(path, folder, *more):
    return cli.main(["nest", str(path), "-o", str(folder), "--rounds", "0", *more])


def files_in(folder):
    return sorted(path.name for path in folder.rglob("*"))


def test_nest_writes_a_sheet_a_board_an_overview_and_a_summary(small, tmp_path, capsys):
    assert nest(small, tmp_path / "out") == cli.ALL_PLACED
    assert files_in(tmp_path / "out") == ["board-D-01.dxf", "overview.dxf", "summary.json"]
    out = capsys.readouterr().out
    assert "1 of 1 part placed on 1 board;" in out
    assert "metal detector" in out
    assert "wrote 1 cut sheet," in out


def test_summary_shares_add_up_to_the_board(small, tmp_path):
    nest(small, tmp_path / "out", "-q")
    found = json.loads((tmp_path / "out" / "summary.json").read_text())
    assert sum(found["area_percent"].values()) == pytest.approx(100)
    assert sum(found["volume_percent"].values()) == pytest.approx(100)
    area = found["area_mm2"]
    assert area["opened"] == pytest.approx(96 * 25.4 * 5 * 25.4)
    kept = area["parts"] + area["offcuts"]
    assert found["scrap_percent"] == pytest.approx(100 * (1 - kept / area["opened"]))


def test_part_left_over_is_no_failure_and_goes_on_a_buy_list(small, tmp_path, capsys):
    small.write_text(SMALL.replace("length: 6 ft", "length: 9 ft"))
    assert nest(small, tmp_path / "out") == cli.ALL_PLACED == 0
    out = capsys.readouterr().out
    assert "too long" in out
    assert "Left to buy" in out
    assert files_in(tmp_path / "out") == ["overview.dxf", "summary.json"]


@pytest.mark.parametrize(("length", "code"), [("9 ft", cli.PARTS_LEFT), ("6 ft", cli.ALL_PLACED)])
def test_script_that_must_place_all_gets_exit_code_4_if_a_part_is_left(
    small, tmp_path, length, code
):
    small.write_text(SMALL.replace("length: 6 ft", f"length: {length}"))
    assert nest(small, tmp_path / "out", "--must-place-all", "-q") == code
    assert cli.PARTS_LEFT == 4
    assert (tmp_path / "out" / "summary.json").exists(), "the plan is written all the same"


def test_json_prints_one_object_and_nothing_else(small, tmp_path, capsys):
    nest(small, tmp_path / "out", "--json")
    assert json.loads(capsys.readouterr().out)["parts_placed"] == 1


def test_wrong_project_is_told_in_full_and_nothing_is_written(small, tmp_path, capsys):
    small.write_text(SMALL.replace("teak", "teek").replace("width: 5", "widht: 5"))
    assert nest(small, tmp_path / "out") == cli.PROJECT_WRONG
    told = capsys.readouterr().err
    assert "things to put right; nothing was written" in told
    assert "small.yaml:5:" in told
    assert "teek" in told
    assert "width" in told
    assert "Traceback" not in told
    assert not (tmp_path / "out").exists()


def test_missing_project_file_is_one_sentence(tmp_path, capsys):
    assert nest(tmp_path / "none.yaml", tmp_path / "out") != 0
    told = capsys.readouterr().err
    assert "none.yaml" in told
    assert "Traceback" not in told


def test_earlier_plan_is_not_overwritten_unasked(small, tmp_path, capsys):
    nest(small, tmp_path / "out", "-q")
    before = (tmp_path / "out" / "summary.json").read_bytes()
    assert nest(small, tmp_path / "out") == cli.NO_FILE
    assert "--overwrite" in capsys.readouterr().err
    assert (tmp_path / "out" / "summary.json").read_bytes() == before


def test_overwriting_clears_old_sheets_and_keeps_the_user_s_own_files(small, tmp_path):
    folder = tmp_path / "out"
    nest(small, folder, "-q")
    (folder / "my notes.txt").write_text("keep me")
    small.write_text(SMALL.replace("D-01", "D-02"))
    assert nest(small, folder, "-q", "--overwrite") == cli.ALL_PLACED
    assert files_in(folder) == ["board-D-02.dxf", "my notes.txt", "overview.dxf", "summary.json"]


def test_folder_that_cannot_be_written_is_told_before_the_search(small, tmp_path, capsys):
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    assert nest(small, blocked / "out") == cli.NO_FILE
    assert "cannot be written" in capsys.readouterr().err
    assert blocked.read_text() == "in the way"


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_folder_without_permission_is_told(small, tmp_path, capsys):
    locked = tmp_path / "locked"
    locked.mkdir(mode=0o500)
    assert nest(small, locked / "out") == cli.NO_FILE
    assert "cannot be written" in capsys.readouterr().err


def test_refused_plan_is_not_written(small, tmp_path, capsys, monkeypatch):
    def refuse(*_):
        raise RefereeError(["board D-01: kerf and trim: too close"])

    monkeypatch.setattr("nesting.referee.check.require_sound", refuse)
    assert nest(small, tmp_path / "out") == cli.REFEREE_SAYS_NO
    assert "referee refused" in capsys.readouterr().err
    assert files_in(tmp_path / "out") == []


def test_sheet_that_reads_back_wrong_stops_the_write(small, tmp_path, capsys, monkeypatch):
    from dataclasses import replace

    from nesting import sheet_task
    from nesting.sheets import read_back

    def shifted(path):
        record = read_back(path)
        return replace(record, thickness_mm=record.thickness_mm + 0.02)

    monkeypatch.setattr(sheet_task, "read_back", shifted)
    assert nest(small, tmp_path / "out") == cli.REFEREE_SAYS_NO
    assert "sheet: thickness" in capsys.readouterr().err
    assert files_in(tmp_path / "out") == []


def test_remeasure_agrees_with_what_was_written(small, tmp_path, capsys):
    nest(small, tmp_path / "out", "-q")
    assert cli.main(["remeasure", str(small), "-o", str(tmp_path / "out")]) == cli.ALL_PLACED
    assert "1 sheet read back" in capsys.readouterr().out


def test_remeasure_sees_a_cut_line_moved_by_a_tenth_of_a_millimetre(small, tmp_path, capsys):
    import ezdxf

    nest(small, tmp_path / "out", "-q")
    path = tmp_path / "out" / "board-D-01.dxf"
    drawing = ezdxf.readfile(path)
    (cut,) = drawing.modelspace().query("LWPOLYLINE[layer=='SAW_OUTLINE']")
    cut.translate(0.1, 0, 0)
    drawing.saveas(path)
    code = cli.main(["remeasure", str(small), "-o", str(tmp_path / "out")])
    assert code == cli.REFEREE_SAYS_NO
    assert "strake is 0.0039 in off" in capsys.readouterr().out


def test_remeasure_sees_that_the_project_changed(small, tmp_path, capsys):
    nest(small, tmp_path / "out", "-q")
    small.write_text(SMALL.replace("thickness: 1 3/8", "thickness: 1"))
    code = cli.main(["remeasure", str(small), "-o", str(tmp_path / "out")])
    assert code == cli.REFEREE_SAYS_NO
    assert "thickness" in capsys.readouterr().out


def test_remeasure_says_why_a_changed_parts_list_makes_so_many_faults(small, tmp_path, capsys):
    nest(small, tmp_path / "out", "-q")
    small.write_text(SMALL.replace("family:", "quantity: 7\n    family:"))
    code = cli.main(["remeasure", str(small), "-o", str(tmp_path / "out")])
    assert code == cli.REFEREE_SAYS_NO
    assert "number of pieces than the parts list asks for: if that was" in capsys.readouterr().err


def test_remeasure_without_a_plan_says_what_to_do(small, tmp_path, capsys):
    assert cli.main(["remeasure", str(small), "-o", str(tmp_path)]) == cli.NO_FILE
    assert "nest the project first" in capsys.readouterr().err


def test_check_counts_stock_and_parts(capsys):
    assert cli.main(["check", str(DEMO)]) == cli.ALL_PLACED
    out = capsys.readouterr().out
    assert "boards" in out
    assert "no board can give" in out


def test_families_lists_each_and_describes_one(capsys):
    assert cli.main(["families"]) == cli.ALL_PLACED
    listed = capsys.readouterr().out
    for family in ("ceiling strake", "deck beam", "drawn outline", "floor timber", "knee"):
        assert family in listed
    cli.main(["families", "knee"])
    assert "throat" in capsys.readouterr().out


def test_unknown_family_offers_the_nearest(capsys):
    assert cli.main(["families", "deck beem"]) == cli.PROJECT_WRONG
    assert "did you mean deck beam?" in capsys.readouterr().err


def test_schema_is_written_once_and_not_over_itself(tmp_path, capsys):
    target = tmp_path / "project.schema.json"
    assert cli.main(["schema", "-o", str(target)]) == cli.ALL_PLACED
    assert json.loads(target.read_text())["type"] == "object"
    assert cli.main(["schema", "-o", str(target)]) == cli.NO_FILE
    assert "is there already" in capsys.readouterr().err


def test_no_command_shows_help_and_is_a_wrong_use(capsys):
    assert cli.main([]) == cli.USAGE
    assert "examples:" in capsys.readouterr().out


@pytest.mark.parametrize("flag", ["--rounds", "--seconds", "--seed"])
def test_limits_below_zero_are_refused(flag, small, tmp_path, capsys):
    with pytest.raises(SystemExit) as stop:
        nest(small, tmp_path / "out", flag, "-1")
    assert stop.value.code == cli.USAGE
    assert flag in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["book", "found", "p.yaml", "D-1", "--metl", "5 at 90"], "book found: error: not known"),
        (["book", "found", "p.yaml", "D-1", "--metl", "5 at 90"], "did you mean --metal?"),
        (["nest", "p.yaml", "--outptu=x"], "nest: error: not known here: --outptu=x; did you mean"),
        (["nest", "p.yaml", "q.yaml"], "nest: error: not known here: q.yaml"),
        (["--debg", "nest", "p.yaml"], "did you mean --debug?"),
    ],
)
def test_option_that_is_not_known_is_told_by_its_command_with_the_nearest(words, told, capsys):
    with pytest.raises(SystemExit) as ended:
        cli.main(words)
    assert ended.value.code == 2
    assert told in capsys.readouterr().err


def test_version_is_printed(capsys):
    assert cli.main(["-V"]) == cli.ALL_PLACED
    assert capsys.readouterr().out.startswith("salvage-nest ")


def modules_after(code: str) -> set[str]:
    """Return the top-level modules loaded by a fresh interpreter after some code."""
    tail = "\nimport sys; print(' '.join({name.split('.')[0] for name in sys.modules}))"
    done = subprocess.run(
        [sys.executable, "-c", code + tail], capture_output=True, text=True, check=True
    )
    return set(done.stdout.splitlines()[-1].split())


def test_help_loads_nothing_heavy():
    loaded = modules_after(
        "from nesting.cli import main\ntry: main(['--help'])\nexcept SystemExit: pass"
    )
    heavy = {"numpy", "shapely", "ezdxf", "numba", "cadquery", "pydantic", "rich", "matplotlib"}
    assert not loaded & heavy


def test_checking_a_project_loads_no_solids_no_drawings_and_no_compiler():
    loaded = modules_after(f"from nesting.cli import main\nmain(['check', {str(DEMO)!r}])")
    assert not loaded & {"cadquery", "OCP", "numba", "matplotlib"}


def test_solids_are_written_as_step(small, tmp_path, capsys):
    import cadquery as cq

    folder = tmp_path / "out"
    assert cli.main(["solids", str(small), "-o", str(folder)]) == cli.ALL_PLACED
    (file,) = (folder / "solids").iterdir()
    solid = cq.importers.importStep(str(file))
    assert solid.val().Volume() == pytest.approx(72 * 3 * 1 * 25.4**3)
    assert cli.main(["solids", str(small), "-o", str(folder)]) == cli.NO_FILE
    assert "--overwrite" in capsys.readouterr().err


def test_ctrl_c_writes_the_best_plan_so_far(tmp_path):
    # A demo of which no plan is proven best, or the search might end by itself before.
    command = [sys.executable, "-m", "nesting", "nest", str(DEMO), "-o", str(tmp_path / "out")]
    screen, terminal = pty.openpty()
    with subprocess.Popen(
        [*command, "--seconds", "300", "--workers", "1"],
        stdout=subprocess.PIPE,
        stderr=terminal,
        text=True,
        env=os.environ | {"TERM": "xterm", "COLUMNS": "200"},
    ) as running:
        os.close(terminal)
        said = read_until(screen, "parts placed")
        running.send_signal(signal.SIGINT)
        threading.Thread(target=read_until, args=(screen, None), daemon=True).start()
        out, _ = running.communicate(timeout=240)
    assert running.returncode == cli.STOPPED
    stages = ["reading the project", "making the first plan", "parts placed"]
    assert sorted(stages, key=said.index) == stages
    placed = re.search(r"(\d+) of 12 parts placed", out)
    assert placed is not None
    assert int(placed.group(1)) >= 6  # a quick first plan at least
    assert {"overview.dxf", "summary.json"} < set(files_in(tmp_path / "out"))


def read_until(screen: int, words: str | None) -> str:
    """Return what a terminal shows until it shows some words, or to its end."""
    said = ""
    while words is None or words not in said:
        try:
            said += os.read(screen, 4096).decode(errors="replace")
        except OSError:  # The other end is closed.
            break
    return said


TWO_WOODS = (
    SMALL
    + """\
  - part: rail
    family: ceiling strake
    shape: {length: 3 ft, width: 7, thickness: 3/4, frame_spacing: 10}
    species: white oak
  - part: stem knee
    family: knee
    shape: {kind: hanging, siding: 2, beam_arm: 12, side_arm: 16, throat: 5 1/2, tip_moulding: 2,
            grain: grown, slope_of_grain: 1 in 4}
    species: live oak
"""
)


def plank(path, folder, *more, width="4 in"):
    return cli.main(
        ["plank", str(path), "-o", str(folder), "--width", width, "--seconds", "0", *more]
    )


@pytest.fixture
def left_over(small, tmp_path, capsys):
    """A plan of which a strake of teak, a rail of oak and a grown knee are left over."""
    small.write_text(TWO_WOODS.replace("length: 6 ft", "length: 9 ft"))
    nest(small, tmp_path / "out", "-q")
    capsys.readouterr()
    return small


def test_plank_gives_the_length_to_buy_for_what_is_left_over(small, tmp_path, capsys):
    small.write_text(SMALL.replace("length: 6 ft", "length: 9 ft"))
    nest(small, tmp_path / "out", "-q")
    capsys.readouterr()
    assert plank(small, tmp_path / "out") == cli.ALL_PLACED
    out = capsys.readouterr().out
    assert "Planks to buy, 4 in wide" in out
    (row,) = [line.split() for line in out.splitlines() if line.startswith("teak")]
    # 108 in, and at each end 25 mm and the trim of 1.5 mm.
    assert row[:4] == ["teak", "5/4", "110", "1/8"]
    assert row[-1] == "strake"


def test_plank_names_what_is_too_wide_or_grown_and_goes_on(left_over, tmp_path, capsys):
    assert plank(left_over, tmp_path / "out") == cli.ALL_PLACED
    out, err = capsys.readouterr()
    assert "note: rail wants a plank of 7 3/8 in or wider: left out" in err
    assert "note: stem knee: bought as grown crook" in err
    assert "teak" in out
    assert "Too wide for such a plank" in out
    assert "live oak, 1 grown crook, 10/4 (2 1/2 in) thick" in out
    assert " mm" not in out + err


def test_plank_width_that_does_for_the_widest_is_the_one_it_names(left_over, tmp_path, capsys):
    assert plank(left_over, tmp_path / "out", width="7 3/8 in") == cli.ALL_PLACED
    out, err = capsys.readouterr()
    assert "rail" not in err
    assert "Too wide" not in out


def test_plank_too_narrow_for_every_part_names_them_before_any_search(small, tmp_path, capsys):
    small.write_text(SMALL.replace("length: 6 ft", "length: 9 ft"))
    nest(small, tmp_path / "out", "-q")
    capsys.readouterr()
    assert plank(small, tmp_path / "out", width="1 in") == cli.USAGE
    told = capsys.readouterr().err
    assert "--width 1 in is too narrow for every part left over" in told
    assert "strake 3 3/8 in" in told


@pytest.mark.parametrize(
    ("width", "words"),
    [("8 furlongs", "--width: '8 furlongs' is no length"), ("0", "--width 0 is not over 0"),
     ("-3 in", "--width -3 in is not over 0")],
    ids=["unit", "zero", "below"],
)  # fmt: skip
def test_plank_width_that_is_none_names_the_option(left_over, tmp_path, capsys, width, words):
    command = ["plank", str(left_over), "-o", str(tmp_path / "out"), f"--width={width}"]
    assert cli.main(command) == cli.USAGE
    assert words in capsys.readouterr().err


def test_plank_without_a_plan_says_to_nest_first(small, tmp_path, capsys):
    assert plank(small, tmp_path / "none") == cli.NO_FILE
    assert "nest the project first" in capsys.readouterr().err


def test_plank_with_nothing_left_over_says_there_is_nothing_to_buy(small, tmp_path, capsys):
    nest(small, tmp_path / "out", "-q")
    capsys.readouterr()
    assert plank(small, tmp_path / "out") == cli.ALL_PLACED
    assert capsys.readouterr().out.startswith("no part is left over: nothing to buy\n")
    assert plank(small, tmp_path / "out", "--json") == cli.ALL_PLACED
    assert json.loads(capsys.readouterr().out) == {"planks": [], "not_planks": [], "too_wide": []}


def test_plank_gives_json_and_nothing_else(left_over, tmp_path, capsys):
    assert plank(left_over, tmp_path / "out", "--json") == cli.ALL_PLACED
    out, err = capsys.readouterr()
    found = json.loads(out)
    assert err == ""
    assert [(p["species"], p["thickness_mm"]) for p in found["planks"]] == [("teak", 31.75)]
    assert [line["sold_as"] for line in found["not_planks"]] == ["grown crook"]
    assert [part["part"] for part in found["too_wide"]] == ["rail"]


def test_buy_list_of_a_plan_says_what_one_orders(small, tmp_path, capsys):
    small.write_text(TWO_WOODS.replace("length: 6 ft", "length: 9 ft"))
    nest(small, tmp_path / "out")
    out = " ".join(capsys.readouterr().out.split())
    assert "teak, sawn timber 5/4 (1 1/4 in): " in out
    assert "1 3 1/2 in x 111 in" in out
    assert "live oak, 1 grown crook" in out
    rows = json.loads((tmp_path / "out" / "summary.json").read_text())["to_buy"]
    assert [(row["species"], row["sold_as"]) for row in rows] == [
        ("live oak", "grown crook"), ("teak", "sawn timber"), ("white oak", "sawn timber"),
    ]  # fmt: skip


def test_writing_of_sheets_is_told_on_a_terminal_and_not_when_quiet(small, tmp_path, monkeypatch):
    told = []

    def shown(console, *, is_shown):
        return nullcontext(told.append if is_shown else untold)

    monkeypatch.setattr("nesting.console.live_work", shown)
    nest(small, tmp_path / "out")
    assert Step("writing cut sheets", 1, 1) in told
    told.clear()
    cli.main(["remeasure", str(small), "-o", str(tmp_path / "out")])
    assert Step("reading cut sheets back", 1, 1) in told
    told.clear()
    for silent in ("-q", "--no-progress", "--json"):
        nest(small, tmp_path / silent, silent)
    assert told == []


def test_solids_are_told_one_by_one(small, tmp_path, monkeypatch):
    told = []
    monkeypatch.setattr("nesting.console.live_work", lambda *_, is_shown: nullcontext(told.append))
    assert cli.main(["solids", str(small), "-o", str(tmp_path / "out")]) == cli.ALL_PLACED
    assert told == [Step("reading the project"), Step("making the solid of strake", 0, 1)]


def test_plank_of_crooks_alone_lists_them_and_searches_nothing(small, tmp_path, capsys):
    strake, _, rest = TWO_WOODS.partition("  - part: rail")
    small.write_text(strake + rest[rest.index("  - part: stem knee") :])
    nest(small, tmp_path / "out", "-q")
    capsys.readouterr()
    assert plank(small, tmp_path / "out") == cli.ALL_PLACED
    out = capsys.readouterr().out
    assert "live oak, 1 grown crook" in out
    assert "Planks to buy" not in out
