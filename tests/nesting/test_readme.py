"""What the README says can be copied from it and holds."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest
from project_texts import written

from nesting import cli
from nesting.arguments import make_parser
from nesting.fields import file_name_of
from nesting.project import read_project
from parts.boat.plan import BoatPlan
from parts.families.planks import Plank
from parts.lines import read_hull
from parts.lines.table_cells import SETTINGS

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def block_after(marker: str) -> str:
    """Return the block of code after a comment, or after the first line that holds the text."""
    found = re.search(rf"{re.escape(marker)}.*?```\w*\n(.*?)```", README, re.DOTALL)
    assert found is not None, marker
    return found[1]


def test_demo_command_ends_with_exit_code_0_though_a_part_is_left_over(tmp_path, capsys):
    command = shlex.split(block_after("<!-- demo command -->").rpartition("&& ")[2])
    assert command[0].endswith("salvage-nest")
    arguments = [str(ROOT / a) if a.endswith(".yaml") else a for a in command[1:]]
    given = make_parser().parse_args(arguments)
    assert not given.must_place_all
    assert cli.main([*arguments, "--seconds", "0", "-o", str(tmp_path / "out")]) == 0
    assert "breasthook" in capsys.readouterr().out


def test_first_example_is_a_whole_project(tmp_path):
    project = read_project(written(tmp_path, block_after("<!-- first example -->")))
    assert [need.part for need in project.needs] == ["thwart", "cleat"]
    assert {need.family for need in project.needs} == {"plank"}
    assert project.needs[0].outline.thickness_word == "thickness"
    assert cli.main(["check", str(project.path)]) == 0


def test_plain_planks_can_be_copied_into_it(tmp_path, capsys):
    head = block_after("<!-- first example -->").partition("parts:\n")[0]
    path = written(tmp_path, head + "parts:\n" + block_after("<!-- plain planks -->"))
    project = read_project(path)
    assert all(isinstance(part, Plank) for part in project.parts.values())
    assert len(project.parts) == 4
    assert cli.main(["check", str(path)]) == 0
    assert "Nothing is wrong with the file." in capsys.readouterr().out


def test_table_of_offsets_is_fair_and_every_setting_is_told_of(tmp_path):
    path = written(tmp_path, block_after("<!-- table of offsets -->"), "lines.csv")
    hull = read_hull(path)
    assert hull.odd == ()
    assert len(hull.table.stations) == 7
    told = section("### The table of offsets")
    assert [
        word for word in SETTINGS if word not in ("version", "name") and f"`{word}`" not in told
    ] == []


def test_every_key_of_the_boat_is_told_of_and_no_other():
    rows = [
        row for row in section("### The construction plan").splitlines() if row.startswith("| `")
    ]
    told = {}
    for row in rows:
        key, _, inner = row.split("`")[1].partition(": ")
        told[key] = set(inner.strip("{}").split(", ")) - {""}
    assert set(told) == {file_name_of(name) for name in BoatPlan.model_fields}
    for name, field in BoatPlan.model_fields.items():
        model = next(
            (m for m in (field.annotation, *_options(field.annotation)) if has_fields(m)), None
        )
        keys = {file_name_of(key) for key in model.model_fields} if model else set()
        assert told[file_name_of(name)] == keys, name


def has_fields(kind: object) -> bool:
    return hasattr(kind, "model_fields")


def _options(annotation: object) -> tuple[object, ...]:
    return getattr(annotation, "__args__", ())


def section(heading: str) -> str:
    level = heading.partition(" ")[0]
    return re.split(rf"\n#{{2,{len(level)}}} ", README.split(heading + "\n")[1])[0]


def test_script_runs_as_printed(tmp_path):
    """With no guard around it, as in a notebook; in a folder of its own, on a path to this code."""
    script = block_after("<!-- script -->")
    assert "__main__" not in script
    (tmp_path / "script.py").write_text(script)
    done = subprocess.run(
        [sys.executable, "script.py"], cwd=tmp_path, capture_output=True, text=True, check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("3 parts on 1 board\n")
    assert {"board-D-1.dxf", "overview.dxf", "summary.json"} <= {
        path.name for path in (tmp_path / "out").iterdir()
    }


def test_section_for_scripts_is_short():
    assert len(section("## From a script").strip().splitlines()) <= 25


def test_family_of_ones_own_can_be_copied_into_a_project(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    (tmp_path / "lids.py").write_text(block_after("<!-- own family -->"))
    head = block_after("<!-- first example -->").partition("parts:\n")[0]
    project = f"""{head.replace("unit: in", "unit: in" + chr(10) + "families: lids.py")}parts:
  - {{part: lid, family: round lid, species: teak, shape: {{across: 4, thickness: 3/4}}}}
"""
    path = written(tmp_path, project)
    assert cli.main(["check", str(path)]) == 3
    assert "nobody has allowed it to run" in capsys.readouterr().err
    assert cli.main(["check", str(path), "--allow-code"]) == 0
    assert cli.main(["families", "--project", str(path), "round lid"]) == 0
    assert "across" in capsys.readouterr().out


@pytest.mark.parametrize(
    "at",
    ["frame 8", "station 5", "8 ft 3 in", "frames 2 to 14 by 3", "[frame 2, frames 4 to 6]"],
)
def test_places_of_the_page_are_read(tmp_path, at):
    assert f"`at: {at}`" in section("### Where a part stands")
    text = block_after("<!-- table of offsets -->")
    written(tmp_path, text, "lines.csv")
    project = f"""\
version: 1
name: Places
unit: in
boat:
  lines: lines.csv
  frames: {{first: 20, spacing: 10, count: 26, siding: 1, moulding: 1 1/2}}
  keel: {{siding: 4, top: 1 1/2}}
stock:
  - {{board: B1, species: teak, thickness: 2, length: 10 ft, width: 8}}
parts:
  - part: beam
    family: deck beam
    at: {at}
    species: teak
    shape: {{siding: 1 1/2, moulding: 2}}
"""
    needs = read_project(written(tmp_path, project)).needs
    assert len(needs) == {"frames 2 to 14 by 3": 5, "[frame 2, frames 4 to 6]": 4}.get(at, 1)


def test_referee_takes_nothing_from_the_packer():
    code = (
        "import sys, nesting.referee.check, nesting.referee.offcuts, nesting.referee.break_down\n"
        "import nesting.read_back.sheet\n"
        "print(*sorted(m for m in sys.modules if m.startswith(('nesting.', 'parts'))))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    # What it shares with the packer, as README and its own first lines say.
    assert set(done.stdout.split()) == {
        *("nesting.referee", "nesting.read_back", "nesting.read_back.sheet"),
        *(
            f"nesting.referee.{name}"
            for name in (
                "break_down",
                "bungs",
                "check",
                "fault",
                "grain",
                "matching",
                "near",
                "offcuts",
            )
        ),
        *(
            f"nesting.{name}"
            for name in (
                "errors",
                "units",
                "ideal",
                "run_out",
                "sheet_goods",
                "sources",
                "words",
            )
        ),
        *(f"nesting.{name}" for name in ("new_timber_rules", "left_over", "unseen", "given")),
        *(
            f"nesting.{name}"
            for name in ("piece_names", "grain", "need", "nest", "outline", "rules")
        ),
        *(
            "nesting.flat_geometry",
            "nesting.flat_geometry.overlay",
            "nesting.flat_geometry.without_heights",
            "nesting.processes",
        ),
        *(f"nesting.processes.{name}" for name in ("all_cores", "garbage", "signals", "workers")),
        *("nesting.stock", "nesting.stock.board_outline"),
        *("nesting.stock.board", "nesting.stock.keep_out"),
    }
