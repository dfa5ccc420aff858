"""What ``remeasure`` says of a folder that was tampered with: in words, one sentence each."""

from __future__ import annotations

import json
import os
import re
import shutil
from pathlib import Path

import ezdxf
import pytest
from written_plans import FORMS, Form, drawn_once, form, write

from nesting.errors import OutputError
from nesting.read_back.remeasure import remeasured

quick = pytest.fixture(autouse=True, scope="module")(drawn_once)


def small(number: int) -> Form:
    """Return a project and plan of a deck board and a chip, in the first two forms."""
    return form(*FORMS[number], is_whole=False)


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> dict[int, Path]:
    """Two written folders, one new and one of R12, never changed."""
    return {number: write(small(number), tmp_path_factory.mktemp("kept")) for number in (0, 1)}


@pytest.fixture
def folder(kept: dict[int, Path], tmp_path: Path) -> Path:
    return Path(shutil.copytree(kept[0], tmp_path / "out"))


def faults(folder: Path, made: Form | None = None) -> list[str]:
    return [str(fault) for fault in remeasured((made or small(0)).project, folder)[1]]


def edited(folder: Path, change, name: str = "board-deck-07.dxf") -> list[str]:
    """Return the faults after a change to a sheet by the library."""
    document = ezdxf.readfile(folder / name)
    change(document, document.modelspace())
    document.saveas(folder / name)
    return faults(folder)


def cut(space):
    return space.query("LWPOLYLINE[layer=='SAW_OUTLINE']").first


@pytest.mark.parametrize("number", [0, 1])
def test_folder_saved_again_without_change_is_left_in_peace(number, kept, tmp_path):
    folder = Path(shutil.copytree(kept[number], tmp_path / "out"))
    for path in folder.glob("*.dxf"):
        ezdxf.readfile(path).saveas(path)
    summary = folder / "summary.json"
    summary.write_text(json.dumps(json.loads(summary.read_text(encoding="utf-8"))))
    (folder / "notes.txt").write_text("measured on Tuesday")
    ezdxf.new().saveas(folder / "my own shed.dxf")
    assert faults(folder, small(number)) == []


def add_bulge(document, space):
    points = list(cut(space).get_points("xyb"))
    points[0] = (*points[0][:2], 0.1)
    cut(space).set_points(points, format="xyb")


def mirror(document, space):
    cut(space).dxf.extrusion = (0, 0, -1)


def draw_twice(document, space):
    space.add_entity(cut(space).copy())


def add_line(document, space):
    space.add_line((0, 0), (90, 20), dxfattribs={"layer": "SAW_OPENING"})


def add_metal(document, space):
    space.add_circle((300, 60), 4, dxfattribs={"layer": "METAL"})


def move_cut(document, space):
    cut(space).dxf.layer = "OFFCUT_KEPT"


def freeze(document, space):
    document.layers.get("SAW_OUTLINE").freeze()


def put_off(document, space):
    document.layers.get("OLD_HOLE").off()


def inches(document, space):
    document.header["$INSUNITS"] = 1


def rename(document, space):
    label = next(e for e in space.query("TEXT") if "carlin" in e.dxf.text)
    label.dxf.text = label.dxf.text.replace("carlin", "beam")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (add_bulge, "sheet: cut line: "),
        (mirror, "is turned out of the plane of the board"),
        (draw_twice, "is drawn 2 times"),
        (add_line, "a LINE on SAW_OPENING is no line of the plan"),
        (add_metal, "a circle on METAL at (300.0, 60.0) mm is not of this plan"),
        (move_cut, "lies on OFFCUT_KEPT, must lie on SAW_OUTLINE"),
        (freeze, "layer SAW_OUTLINE is not seen"),
        (put_off, "layer OLD_HOLE is not seen"),
        (inches, "$INSUNITS is 1, must be 4"),
        (rename, "is missing or changed"),
    ],
)
def test_change_in_a_sheet_is_named(change, said, folder):
    found = edited(folder, change)
    assert any(said in fault and "board deck-07" in fault for fault in found), found


def test_bulge_on_the_board_edge_is_measured(folder):
    def bend(document, space):
        edge = space.query("LWPOLYLINE[layer=='BOARD_EDGE']").first
        points = list(edge.get_points("xyb"))
        points[0] = (*points[0][:2], 0.1)
        edge.set_points(points, format="xyb")

    # The lower edge, 1700 mm long, bulges outward by 0.1 x 1700 / 2 mm.
    (said,) = [fault for fault in edited(folder, bend) if "board outline" in fault]
    assert float(said.split()[-3]) == pytest.approx(85, abs=0.005)


def test_files_too_many_and_too_few_are_named(folder):
    (folder / "overview.dxf").unlink()
    shutil.copy(folder / "board-chip.dxf", folder / "board-old.dxf")
    shutil.copy(folder / "board-chip.dxf", folder / "last week.dxf")
    assert faults(folder) == [
        "files: overview.dxf is not there",
        "files: board-old.dxf is a sheet of another plan: take it away",
        "files: last week.dxf is a sheet of another plan: take it away",
    ]


def test_sheets_of_two_versions_are_named(folder, kept):
    made = small(0)
    old = form(FORMS[0][0], "R12", is_whole=False)
    other = write(old, folder.parent / "old")
    shutil.copy(other / "board-chip.dxf", folder / "board-chip.dxf")
    found = faults(folder, made)
    assert found == ["files: they are DXF AC1009 and AC1024, must all be of one version"]


def stated(folder: Path, change) -> list[str]:
    path = folder / "summary.json"
    content = json.loads(path.read_text(encoding="utf-8"))
    change(content)
    path.write_text(json.dumps(content))
    return faults(folder)


def test_figures_of_the_summary_are_reckoned_anew(folder):
    def change(content):
        content["value_placed"] += 1
        content["boards"][1]["area_percent"]["oddments"] -= 0.5
        content["boards"][0]["parts"][0]["left_percent"] = 100.5

    found = stated(folder, change)
    assert [fault.partition(" is ")[0] for fault in found] == [
        "summary: value_placed",
        "summary: boards / deck-07 / parts / carlin / left_percent",
        "summary: boards / chip / area_percent / oddments",
    ]


@pytest.mark.parametrize(
    "change",
    [
        lambda content: content.update(seed=4),
        lambda content: content["ideal"].update(most_value=99.0, value_percent=1.0),
        lambda content: content["unplaced"][0].update(outlook="never"),
    ],
    ids=["seed", "bound", "outlook"],
)
def test_what_cannot_be_reckoned_must_be_what_the_overview_carries(change, folder):
    assert any(fault.startswith("overview: entities") for fault in stated(folder, change))


@pytest.mark.parametrize("copy", [0, -1])
def test_piece_without_a_number_of_its_own_is_told_in_one_sentence(copy, folder):
    def change(content):
        content["boards"][1]["parts"][0]["copy"] = copy

    with pytest.raises(OutputError, match=f"copy is {copy}, must be from 1"):
        stated(folder, change)


def test_seed_that_is_no_number_is_found(folder):
    found = stated(folder, lambda content: content.update(seed=str(content["seed"])))
    assert len(found) == 1 and found[0].startswith("summary: seed is '")


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b'{"version": NaN}', "NaN is no figure of a plan"),
        (b'{"version": 1e999}', "1e999 is no figure of a plan"),
        (b'{"version": 1' + b"0" * 5000 + b"}", "is no figure of a plan"),
        (b"[" * 100_000 + b"]" * 100_000, "lie too deep in each other"),
        (b'{"a": ' * 100_000 + b"1" + b"}" * 100_000, "lie too deep in each other"),
        (b'{"version": "\xff"}', "cannot be read"),
        (b'{"version": 5, "version": 5}', "'version' is given twice"),
        (b"", "cannot be read"),
        (b"[]", "is no summary of a cutting plan"),
        (b'{"version": 5}', "boards"),
        (b'{"version": 5, "boards": {}, "unplaced": []}', "boards is a block of keys, must be"),
        (b'{"version": 5, "boards": [1], "unplaced": []}', "must be a list of entries"),
        (b'{"version": [2]}', "is of form [2]"),
    ],
)  # fmt: skip
def test_summary_that_cannot_be_read_is_told_in_one_sentence(content, said, folder):
    (folder / "summary.json").write_bytes(content)
    with pytest.raises(OutputError) as caught:
        faults(folder)
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 400


def test_summary_that_is_a_folder_is_told_in_one_sentence(folder):
    (folder / "summary.json").unlink()
    (folder / "summary.json").mkdir()
    with pytest.raises(OutputError, match="cannot be read"):
        faults(folder)


def test_huge_summary_is_not_read(folder):
    with (folder / "summary.json").open("wb") as file:
        file.truncate(300_000_000)
    with pytest.raises(OutputError, match="larger than 200 MB"):
        faults(folder)


@pytest.mark.parametrize("content", [b"", b"\x89PNG\xff", b"  0\nSECTION\n", b"AutoCAD Binary DXF"])
def test_sheet_and_overview_that_cannot_be_read_are_faults(content, folder):
    for name in ("board-chip.dxf", "overview.dxf"):
        (folder / name).write_bytes(content)
    found = faults(folder)
    assert any(fault.startswith("board chip: sheet: ") for fault in found)
    assert any(fault.startswith("overview: ") for fault in found)


def odd(path: Path, kind: str) -> None:
    """Put what is no plain file in a file's place."""
    path.unlink(missing_ok=True)
    if kind == "pipe":
        os.mkfifo(path)
    elif kind == "folder":
        path.mkdir()
    else:
        path.symlink_to("/dev/zero" if kind == "device" else "nowhere")


ODD = pytest.mark.parametrize("kind", ["folder", "pipe", "device", "dangling link"])


@ODD
def test_what_is_no_file_by_the_name_of_a_list_is_no_list(kind, folder):
    odd(folder / "list-boards.csv", kind)
    assert faults(folder) == []


@ODD
def test_what_is_no_file_in_the_place_of_a_sheet_is_told_and_not_waited_for(kind, folder):
    odd(folder / "board-chip.dxf", kind)
    assert "files: board-chip.dxf is not there" in faults(folder)


@pytest.mark.parametrize("kind", ["pipe", "device"])
def test_summary_that_is_no_file_is_told_and_not_waited_for(kind, folder):
    odd(folder / "summary.json", kind)
    with pytest.raises(OutputError, match="cannot be read: it is no plain file"):
        faults(folder)


@pytest.mark.parametrize("code", [11, 21])
def test_words_that_lack_half_of_their_place_are_told(code, folder):
    """Other readers put them at 0 where the figure is missing."""
    path = folder / "board-deck-07.dxf"
    pairs = re.findall(r"(.*)\n(.*)\n", path.read_text(encoding="utf-8"))
    texts = [at for at, pair in enumerate(pairs) if pair == ("  0", "TEXT")]
    at = next(at for at in range(texts[0], len(pairs)) if int(pairs[at][0]) == code)
    del pairs[at]
    path.write_text("".join(f"{one}\n{other}\n" for one, other in pairs), encoding="utf-8")
    assert any("groups 11 and 21 belong together" in fault for fault in faults(folder))
