"""The boat command: parts in the boat as STEP, picture and drawing."""

import io
import re
import xml.etree.ElementTree as ET
from contextlib import nullcontext, redirect_stdout
from pathlib import Path

import ezdxf
import pytest

from nesting import cli
from nesting.cautions import CAUTIONS
from nesting.errors import OutputError
from nesting.project import read_project
from parts.solids import volume_mm3

LINES = Path(__file__).parents[2] / "demo_projects" / "lines" / "withy_offsets.csv"

PROJECT = f"""\
version: 1
name: Two beams
unit: in
boat:
  lines: {LINES}
  frames: {{first: 16, spacing: 10, count: 27, siding: 1 1/4, moulding: 1 3/4}}
  keel: {{siding: 5}}
  deck: {{thickness: 7/8}}
stock:
  - {{board: D-07, species: white oak, thickness: 2, length: 9 ft, width: 9}}
parts:
  - part: beam
    family: deck beam
    at: [frame 9, frame 20]
    species: white oak
    shape: {{siding: 1 1/2, moulding: 2 1/4}}
"""

FILES = ["boat.step", "boat.dxf", "boat.svg", "boat.png"]


@pytest.fixture(scope="module")
def project(tmp_path_factory):
    path = tmp_path_factory.mktemp("boat") / "two.yaml"
    path.write_text(PROJECT)
    return path


@pytest.fixture(scope="module")
def written(project):
    """Nested, then drawn, once for all tests."""
    folder = project.parent / "out"
    nested = cli.main(["nest", str(project), "-o", str(folder), "--rounds", "0", "-q"])
    assert nested == cli.ALL_PLACED
    assert cli.main(["boat", str(project), "-o", str(folder)]) == cli.ALL_PLACED
    return folder


def test_all_four_files_are_written(written):
    assert all((written / name).stat().st_size > 1000 for name in FILES)
    assert (written / "boat.png").read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"


def test_solids_of_the_step_file_have_the_volumes_of_the_parts(project, written):
    import cadquery as cq

    read = cq.importers.importStep(str(written / "boat.step")).solids().vals()
    made = [volume_mm3(part.solid()) for part in read_project(project).parts.values()]
    assert sorted(s.Volume() for s in read) == pytest.approx(sorted(made), rel=1e-6)


def test_step_file_says_which_board_gave_which_piece(written):
    text = (written / "boat.step").read_text(encoding="latin-1")
    assert "'board D-07'" in text
    assert "'beam, frame 9 (D-07)'" in text


@pytest.fixture(scope="module")
def never_nested(project):
    """What the command says and tells of a boat that was never nested, drawn once for all tests."""
    from nesting import boat_outputs

    told, out = [], io.StringIO()
    with pytest.MonkeyPatch.context() as patch, redirect_stdout(out):
        patch.setattr(boat_outputs, "picture_of", lambda *_: b"picture")
        patch.setattr("nesting.console.live_work", lambda *_, is_shown: nullcontext(told.append))
        done = cli.main(["boat", str(project), "-o", str(project.parent / "new")])
    assert done == cli.ALL_PLACED
    return " ".join(out.getvalue().split()), [step.what for step in told]


def test_no_two_pieces_that_run_into_each_other_is_said(never_nested):
    assert "no two of the 2 pieces run into each other" in never_nested[0]


CROWDED = """\
  - part: other
    family: deck beam
    at: 98 in
    species: white oak
    shape: {siding: 1 1/2, moulding: 2 1/4}
"""


def test_pieces_that_run_into_each_other_are_told_with_volume_and_place(
    project, monkeypatch, capsys
):
    from nesting import boat_outputs

    monkeypatch.setattr(boat_outputs, "picture_of", lambda *_: b"picture")
    path = project.with_name("crowded.yaml")
    path.write_text(PROJECT + CROWDED)
    assert cli.main(["boat", str(path), "-o", str(path.parent / "crowded")]) == cli.ALL_PLACED
    out = capsys.readouterr().out
    assert "1 pair of the 3 pieces run into each other:" in out
    # Frame 9 stands at 96 in, its beam from 96 5/8 to 98 1/8; the other from 97 1/4 to 98 3/4.
    found = re.search(
        r"  (\S+) cu in: beam, frame 9 and other, 1 11/16 in aft of frame 9, across", out
    )
    # Both are 7/8 in thick there, as deep as the beam, and the boat some 6 ft wide.
    assert found is not None and 0.9 < float(found[1]) / (7 / 8 * 2.25 * 72) < 1.1


@pytest.mark.parametrize(("are_all", "named"), [(False, 5), (True, 7)])
def test_worst_pairs_are_named_first_and_all_if_asked(project, are_all, named):
    from nesting.boat_meetings import Meetings, meeting_lines
    from parts.model.meeting import Overlap

    pairs = tuple(
        Overlap(f"a{n}", f"b{n}", 16387.064 / (n + 1), (400, -5, 900), (412.8, 5, 930), n + 1)
        for n in range(7)
    )
    boat, unit = read_project(project).boat, read_project(project).unit
    lines = meeting_lines(Meetings(12, pairs, ("keel",)), boat, unit, are_all=are_all)
    assert lines[0] == "7 pairs of the 12 pieces run into each other:"
    assert lines[1].startswith("  1.00 cu in: a0 and b0, at frame 1, across the centreline, 36 in")
    assert lines[2].endswith("above the base line and in 1 more place")
    assert sum(" cu in: " in line for line in lines) == named
    assert ("  and 2 more pairs: --all-pairs names them" in lines) is not are_all
    assert lines[-1].startswith("keel: its solid is not closed")


def test_dxf_opens_without_fault_and_has_the_parts(written):
    document = ezdxf.readfile(written / "boat.dxf")
    assert not document.audit().errors
    assert any(entity.dxf.layer == "PART_IN_BOAT" for entity in document.modelspace())
    words = {entity.dxf.text for entity in document.modelspace().query("TEXT")}
    assert "beam, frame 9: D-07" in words


def test_svg_is_one_page_with_the_boats_name(written):
    root = ET.parse(written / "boat.svg").getroot()
    assert any("with her parts" in (text.text or "") for text in root.iter())


def test_files_are_not_overwritten_unasked(project, written, capsys):
    assert cli.main(["boat", str(project), "-o", str(written)]) == cli.NO_FILE
    assert "--overwrite" in capsys.readouterr().err


def test_boat_that_was_never_nested_says_that_no_piece_has_a_board(never_nested):
    out, _ = never_nested
    assert "no piece has a board" in out
    assert all(caution.full in out for caution in CAUTIONS)


def test_boat_tells_every_part_and_file_as_it_comes_on(never_nested):
    _, named = never_nested
    assert named[0] == "reading the project"
    assert named[1].startswith("making the solid of beam")
    assert named[-3:] == [
        "writing boat.step", "drawing the lines with 2 pieces", "drawing the picture",
    ]  # fmt: skip


def test_picture_that_cannot_be_drawn_leaves_the_rest_written(project, monkeypatch, capsys):
    from nesting import boat_outputs

    def refuse(*_):
        raise OutputError("this machine cannot draw off screen")

    monkeypatch.setattr(boat_outputs, "picture_of", refuse)
    folder = project.parent / "blind"
    assert cli.main(["boat", str(project), "-o", str(folder)]) == cli.NO_FILE
    assert "off screen" in capsys.readouterr().err
    assert sorted(p.name for p in folder.iterdir()) == sorted(FILES[:3])


def test_project_without_a_boat_is_told_what_to_give(project, capsys):
    path = project.with_name("plain.yaml")
    start, end = PROJECT.index("boat:"), PROJECT.index("stock:")
    beam = "shape: {siding: 1, moulding: 2, span: 60, camber: 1, bearing: 3}"
    text = PROJECT[:start] + PROJECT[end:].replace("    at: [frame 9, frame 20]\n", "")
    path.write_text(text.replace("shape: {siding: 1 1/2, moulding: 2 1/4}", beam))
    assert cli.main(["boat", str(path), "-o", str(path.parent / "plain")]) == cli.NO_FILE
    assert "names no boat" in capsys.readouterr().err
