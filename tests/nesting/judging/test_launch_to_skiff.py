"""The demo of the whole job: its README's lines, typed as they stand, do what it says.

``WHOLE_JOB=1`` in the environment draws as many piles and searches as long as the README says.
"""

from __future__ import annotations

import csv
import io
import json
import os
import re
import shlex
import shutil
import subprocess
from contextlib import redirect_stdout
from pathlib import Path

import pytest
from captions import in_file

from nesting import cli

DEMO = Path(__file__).parents[3] / "demo_projects" / "launch_to_skiff"
README = (DEMO / "README.md").read_text(encoding="utf-8")
IS_WHOLE = bool(os.environ.get("WHOLE_JOB"))


def lines():
    """Yield every line of the README that is typed."""
    for block in re.findall(r"```sh\n(.*?)```", README, re.DOTALL):
        yield from block.splitlines()


def typed(line):
    """Type a line, and return what it prints."""
    arguments = shlex.split(line)
    if arguments[0] != "salvage-nest":
        subprocess.run(["sh", "-c", line], check=True)
        return ""
    if arguments[1] in ("judge", "nest"):
        arguments += ["--workers", "1", "--no-progress"]
    if not IS_WHOLE:
        arguments = ["2" if word in ("50", "20") else word for word in arguments]
    with redirect_stdout(io.StringIO()) as out:
        assert cli.main(arguments[1:]) == cli.ALL_PLACED, line
    return out.getvalue()


def judged(folder):
    """Return what is written of each member and of each part, by name."""
    with (folder / "sedge" / "judged" / "judged.csv").open(encoding="utf-8-sig") as file:
        return {row[0]: row for row in csv.reader(file) if row}


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    folder = tmp_path_factory.mktemp("job") / "copy"
    shutil.copytree(DEMO, folder)
    told = []
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        for line in lines():
            out = typed(line)
            told.append((line, out, judged(folder) if " judge " in line else {}))
    return folder, told


def of(told, word):
    return [(out, rows) for line, out, rows in told if f"salvage-nest {word} " in line]


def test_deck_is_worth_pulling_and_its_beams_are_not(job):
    _, told = job
    _, rows = of(told, "judge")[0]
    verdicts = {name: rows[name][1] for name in ("decking", "deck beam", "frame", "locker front")}
    assert verdicts == {
        "decking": "save", "deck beam": "scrap", "frame": "scrap", "locker front": "save",
    }  # fmt: skip
    assert "cut between" in rows["decking to deck beam"]


def test_mistakes_are_found_and_gone_once_they_are_mended(job):
    _, told = job
    first, mended, last = (out for out, _ in of(told, "check"))
    assert "D-5: is D-4 to the last figure" in first
    assert "D-6" in first
    assert "52 mm thick" in first
    assert "D-5" not in mended
    assert "D-6" not in mended
    assert "part stern post: no board can give it" in last


def test_forecast_ends_where_the_real_pile_does(job):
    """Chances come to be as the plan is, board by board: what it says last came true."""
    folder, told = job
    chances = [{part: rows[part][2] for part in ("thwart", "stern post", "knee")}
               for _, rows in of(told, "judge")]  # fmt: skip
    assert len(chances) == 4
    assert chances[-1] == {"thwart": "100 %", "stern post": "0 %", "knee": "100 %"}
    assert chances[0]["stern post"] != "0 %"
    summary = json.loads((folder / "plan" / "summary.json").read_text(encoding="utf-8"))
    assert [(one["part"], one["count"]) for one in summary["unplaced"]] == [("stern post", 1)]


def test_paper_and_what_to_buy_are_there(job):
    folder, told = job
    assert {path.name for path in (folder / "plan" / "forms").iterdir()} == {
        "blank.pdf", "contact.pdf", "labels.pdf",
    }  # fmt: skip
    assert "stern post" in (folder / "plan" / "list-buy.csv").read_text(encoding="utf-8-sig")
    ((plank, _),) = of(told, "plank")
    assert "white oak" in plank


def test_no_line_and_no_other_text_runs_through_lettering_of_any_sheet(job):
    sheets = sorted((job[0] / "plan").glob("board-*.dxf"))
    assert len(sheets) > 5
    assert [(sheet.stem, fault) for sheet in sheets for fault in in_file(sheet)] == []
