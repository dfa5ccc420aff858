"""What a project file may say, and hardly means."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest
from project_texts import BOARD, PART, only_blocks, project_text, written

from nesting import cli
from nesting.project import read_project
from nesting.remarks import remarks

DEMOS = Path(__file__).parents[2] / "demo_projects"

LINES = DEMOS / "lines" / "withy_offsets.csv"

BOAT = """\
version: 1
name: Odd lines
unit: in
boat:
  lines: lines/withy.csv
  frames: {first: 20, spacing: 10, count: 26, siding: 1, moulding: 1 1/2}
  keel: {siding: 4, top: 1 1/2}
stock:
  - {board: B1, species: Douglas-fir, thickness: 2, length: 10 ft, width: 8}
parts:
  - part: beam
    family: deck beam
    at: frame 12
    species: Douglas-fir
    shape: {siding: 1 1/2, moulding: 2 1/2}
"""


@pytest.fixture
def only_block_family(monkeypatch):
    monkeypatch.setattr("nesting.project.own_families.known_families", only_blocks)


def told(path: Path) -> list[str]:
    """Return the remarks on a project: line:column and message, after the file if another."""
    own = str(path)
    return [
        ("" if found.file == own else f"{Path(found.file).name}:")
        + f"{found.line}:{found.column}: {found.message}"
        for found in remarks(read_project(path))
    ]


def of(folder: Path, **texts: str) -> list[str]:
    return told(written(folder, project_text(**texts)))


# ---- parts that no board can hold ----------------------------------------------------------


@pytest.mark.usefixtures("only_block_family")
def test_part_longer_than_every_board_is_named_with_the_nearest(tmp_path):
    # Turned as far as 1 in 12 lets it: 3000 cos 4.76 + 60 sin 4.76 degrees.
    parts = PART.replace("length: 300", "length: 3000")
    assert of(tmp_path, parts=parts) == [
        "7:5: part pad: no board can give it: it takes at least 2995 mm along a board by 60 mm "
        "across, and the nearest board of its wood and thickness, inside the trim, on D-01, has "
        "1997 mm by 147 mm"
    ]


@pytest.mark.usefixtures("only_block_family")
def test_part_that_just_fits_inside_the_trim_is_not_named_and_one_a_hair_wider_is(tmp_path):
    # Square to the grain's limit, a block as wide as the board less twice the trim of 1.5 mm.
    fits = PART.replace("length: 300, width: 60", "length: 1997, width: 147")
    assert of(tmp_path, parts=fits) == []
    wide = fits.replace("width: 147", "width: 147.1")
    assert "no board can give it" in of(tmp_path, parts=wide)[0]


@pytest.mark.usefixtures("only_block_family")
def test_part_may_lean_across_the_grain_as_far_as_its_limit_before_it_is_called_too_long(tmp_path):
    # 1 in 1 is 45 degrees: a block 200 x 10 then takes (200 + 10) / sqrt(2) = 148.5 mm along.
    short = BOARD.replace("length: 2000, width: 150", "length: 152, width: 152")
    steep = "slope_of_grain: 1 in 1, siding: 25, length: 200, width: 10"
    parts = PART.replace("siding: 25, length: 300, width: 60", steep)
    assert of(tmp_path, stock=short, parts=parts) == []
    assert (
        "no board can give it" in of(tmp_path, stock=short, parts=parts.replace("1 in 1", "2"))[0]
    )


METAL = (
    ", keep_outs: [{kind: metal, diameter: 8, row: "
    "{from: [100, 75], to: [1900, 75], spacing: 200}}]}"
)


@pytest.mark.usefixtures("only_block_family")
def test_metal_in_the_way_makes_the_free_stretches_too_small(tmp_path):
    stock = BOARD.replace("}", METAL).replace("kind: metal", "kind: rot")
    rows = stock.replace("diameter: 8", "diameter: 160")
    (found,) = of(tmp_path, stock=rows)
    assert "the nearest stretch free of what it may not hold, on D-01, has " in found
    # 20 mm clear of spots of 8 mm, inside a trim of 1.5: strips of 49.5 mm on both sides of the
    # row, and 152 mm from spot to spot.
    narrow = PART.replace("width: 60", "width: 49")
    assert of(tmp_path, stock=stock, parts=narrow) == [], "a long strip is left on each side"
    (found,) = of(tmp_path, stock=stock)
    assert "deep it takes at least 299 mm along a board by 60 mm across, and the nearest " in found
    assert found.endswith("mm by 147 mm so deep")


CROOK = """\
  - board: K-1
    species: white oak
    thickness: 40
    outline: [[0, 0], [420, 0], [420, {tip}], [{throat}, {throat}], [{tip}, 420], [0, 420]]
    grain: [[420, 20], [120, 30], [40, 50], [30, 120], [20, 420]]
"""
KNEE = """\
  - part: knee
    family: knee
    species: white oak
    shape: {kind: hanging, siding: 30, beam_arm: 380, side_arm: 380, throat: 120, tip_moulding: 50,
            bolt: 8, grain: grown, slope_of_grain: 1 in 1}
"""


@pytest.mark.parametrize(
    ("tip", "throat", "is_named"), [(70, 130, False), (30, 60, True)], ids=["stout", "slender"]
)
def test_crook_too_slender_for_a_knee_is_no_board_for_it(tmp_path, tip, throat, is_named):
    stock = CROOK.format(tip=tip, throat=throat)
    found = [said for said in of(tmp_path, stock=stock, parts=KNEE) if "no board" in said]
    assert len(found) == is_named
    assert all("on K-1, has " in said and "too slender for it" in said for said in found)


@pytest.mark.usefixtures("only_block_family")
def test_holes_in_the_way_of_clear_wood_are_no_matter_where_they_may_be_plugged(tmp_path):
    # Holes of 14 mm right across a strip of 16: a bung of 15.9 mm closes one.
    stock = BOARD.replace("width: 150}", "width: 16" + METAL).replace("metal", "hole")
    stock = stock.replace("[100, 75], to: [1900, 75]", "[100, 8], to: [1900, 8]")
    stock = stock.replace("diameter: 8", "diameter: 14").replace("thickness: 40", "thickness: 30")
    narrow = PART.replace("width: 60", "width: 5").replace(
        "shape: {", "shape: {slope_of_grain: 99, "
    )
    assert "free of what it may not hold" in of(tmp_path, stock=stock, parts=narrow)[0]
    plugged = narrow.replace("shape", "holes: plugged, shape", 1)
    assert of(tmp_path, stock=stock, parts=plugged) == []


@pytest.mark.usefixtures("only_block_family")
@pytest.mark.parametrize(
    ("part", "why"),
    [
        ("siding: 38", "it is 38 mm thick, and the thickest board of its wood, D-01, 37 mm when"),
        ("siding: 25", "there is no board of white oak or live oak"),
    ],
    ids=["thickness", "species"],
)
def test_part_whose_wood_nothing_has_is_named(tmp_path, part, why):
    wood = "teak" if part == "siding: 38" else "white oak, live oak"
    parts = PART.replace("siding: 25", part).replace("teak", wood)
    (found,) = of(tmp_path, parts=parts)
    assert found.startswith(f"7:5: part pad: no board can give it: {why}")


def test_the_demos_leave_over_only_what_their_pages_say():
    named = {
        re.search(r"part ([^:]*):", message)[1]
        for name in ("first_cut", "launch_to_dinghy", "tender_to_sloop")
        for message in told(DEMOS / name / "project.yaml")
        if "was never recorded" not in message and "would meet metal" not in message
    }
    assert named == {
        *("breasthook", "stem apron knee"),
        *("ballast floor", "stem knee", "clamp strake"),
    }


# ---- boards with a figure that is hardly meant --------------------------------------------------


@pytest.mark.usefixtures("only_block_family")
@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("thickness: 40", "thickness: 254", "5:45: board D-01: 254 mm thick is no board"),
        (
            "thickness: 40, length: 2000, width: 150",
            "thickness: 150, length: 2000, width: 40",
            "5:45: board D-01: 150 mm thick and 40 mm wide: are the two exchanged?",
        ),
        (
            "length: 2000, width: 150",
            "length: 150, width: 2000",
            "5:57: board D-01: 150 mm long with the grain and 2000 mm wide across it: are length",
        ),
        ("width: 150", "width: 150, grain: 90", "are length and width exchanged, or is its grain"),
        ("width: 150", "width: 1500", "5:70: board D-01: 1500 mm wide is no board"),
        ("length: 2000", "length: 25000", "5:57: board D-01: 25000 mm long is no board"),
        (
            "length: 2000, width: 150",
            "length: 60, width: 12",
            "5:57: board D-01: 60 mm long is no board: is its unit right?",
        ),
        ("thickness: 40", "thickness: 2", "cleaning up both faces leaves nothing of 2 mm"),
        (
            "thickness: 40, length: 2000, width: 150",
            "thickness: 150, length: 50, width: 2000",
            "5:45: board D-01: 150 mm thick and 50 mm long: are the two exchanged?",
        ),
        (
            "length: 2000, width: 150",
            "length: 150, width: 25000",
            "5:69: board D-01: 25000 mm wide is no board",
        ),
    ],
    ids=[
        "ten-inches",
        "thickness-and-width",
        "length-and-width",
        "grain-across",
        "too-wide",
        "too-long",
        "too-short",
        "nothing-left",
        "thickness-and-length",
        "as-wide-as-long",
    ],
)
def test_board_with_a_doubtful_size_is_remarked_on_where_it_stands(tmp_path, old, new, says):
    assert of(tmp_path) == []
    assert says in "\n".join(of(tmp_path, stock=BOARD.replace(old, new)))


@pytest.mark.usefixtures("only_block_family")
def test_thickness_of_a_stock_files_defaults_is_remarked_on_once(tmp_path):
    written(
        tmp_path,
        "unit: mm\ndefaults: {species: teak, thickness: 254, width: 150}\nboards:\n"
        "  - {board: A, length: 900}\n  - {board: B, length: 900}\n",
        "stock.yaml",
    )
    thick = PART.replace("siding: 25", "siding: 100")
    found = of(tmp_path, stock="  - {file: stock.yaml}\n", parts=thick)
    assert found == ["stock.yaml:2:38: defaults: 254 mm thick is no board: is its unit right?"]


@pytest.mark.usefixtures("only_block_family")
def test_boards_alike_are_remarked_on_once_and_a_thick_one_to_be_resawn_by_what_lies_there(
    tmp_path,
):
    thick = BOARD.replace("thickness: 40", "thickness: 320, resaw: 5, count: 3")
    (found,) = of(tmp_path, stock=thick)
    assert "320 mm thick is no board" in found
    flitch = BOARD.replace("thickness: 40", "thickness: 254, resaw: 5")
    assert of(tmp_path, stock=flitch) == []


# ---- figures of the table of offsets ----------------------------------------------------------

SHEER = "3-6-2+,   3-9-4,  3-10-7, 3-10-5+"
"""Half-breadths of the sheer at stations 5 to 8."""


@pytest.fixture(scope="module")
def odd_project(tmp_path_factory):
    """The demo's table with the two slips of a builder, 2 in and 1 ft: faired once."""
    folder = tmp_path_factory.mktemp("odd")
    text = LINES.read_text(encoding="utf-8")
    for old, new in (
        (SHEER, SHEER.replace("3-9-4", "3-7-4")),
        ("1-8-0,  1-8-4+", "2-8-0,  1-8-4+"),
    ):
        assert old in text
        text = text.replace(old, new)
    written(folder, text, "lines/withy.csv")
    return written(folder, BOAT)


SHEER_TOLD = re.compile(
    r"withy\.csv:24:8: table of offsets: station 6, sheer half-breadth: 3-7-4 is 0-(1-7\+?|2-0\+?) "
    r"less than a fair line has; it probably should read 3-9-[345]"
)
BUTTOCK_TOLD = re.compile(
    r"withy\.csv:20:9: table of offsets: station 7, buttock 2-0-0: 2-8-0 is (0-11-7\+?|1-0-0\+?) "
    r"more than a fair line has; it probably should read 1-(7-7|8-0)\+?\n"
)


def test_odd_figures_are_told_in_the_tables_place_and_notation(odd_project):
    found = "\n".join(told(odd_project)) + "\n"
    assert SHEER_TOLD.search(found), found
    assert BUTTOCK_TOLD.search(found), found
    assert found.count("table of offsets") == 2


@pytest.mark.parametrize("command", ["check", "nest", "boat"])
def test_every_command_that_goes_by_the_lines_tells_their_odd_figures(
    odd_project, tmp_path, capsys, monkeypatch, command
):
    monkeypatch.setattr("nesting.boat_outputs.picture_of", lambda *_: b"picture")
    arguments = [command, str(odd_project)]
    arguments += [] if command == "check" else ["-o", str(tmp_path / "out")]
    arguments += ["--rounds", "0"] if command == "nest" else []
    assert cli.main(arguments) == cli.ALL_PLACED
    shown = capsys.readouterr()
    text = shown.out if command == "check" else shown.err
    assert SHEER_TOLD.search(text), text
    assert BUTTOCK_TOLD.search(text), text
    assert text.count("note: ") == 2


def test_nest_in_json_tells_odd_figures_beside_the_object(odd_project, tmp_path, capsys):
    import json

    code = cli.main(
        ["nest", str(odd_project), "-o", str(tmp_path / "out"), "--rounds", "0", "--json"]
    )
    shown = capsys.readouterr()
    assert code == cli.ALL_PLACED
    assert json.loads(shown.out)["parts_placed"] == 1
    assert "buttock 2-0-0" in shown.err


def test_fair_lines_are_told_nothing_of(tmp_path):
    written(tmp_path, LINES.read_text(encoding="utf-8"), "lines/withy.csv")
    assert told(written(tmp_path, BOAT)) == []


def test_check_with_remarks_counts_them_and_without_says_that_nothing_is_wrong(
    odd_project, tmp_path, capsys
):
    assert cli.main(["check", str(odd_project)]) == cli.ALL_PLACED
    assert "It can be nested; 2 things to look at:\nnote: " in capsys.readouterr().out
    written(tmp_path, LINES.read_text(), "lines/withy.csv")
    assert cli.main(["check", str(written(tmp_path, BOAT))]) == cli.ALL_PLACED
    assert "Nothing is wrong with the file.\n" in capsys.readouterr().out


def test_remarks_compile_nothing():
    code = (
        "import sys; from nesting.project import read_project\n"
        "from nesting.remarks import remarks\n"
        f"remarks(read_project({str(DEMOS / 'tender_to_sloop' / 'project.yaml')!r})); "
        "print('numba' in sys.modules, 'cadquery' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "False"]


@pytest.mark.usefixtures("only_block_family")
def test_board_that_its_trim_uses_up_is_no_room_at_all(tmp_path):
    stock = BOARD.replace("length: 2000, width: 150", "length: 190, width: 20")
    (found,) = of(tmp_path, stock=stock, rest="rules: {trim: 10}\n")
    assert found.endswith("there is no board of its wood and thickness, inside the trim")


# ---- what was never recorded -------------------------------------------------------------------


@pytest.mark.usefixtures("only_block_family")
def test_of_many_boards_never_recorded_a_few_are_named_and_the_rest_counted(tmp_path):
    stock = "".join(BOARD.replace("D-01", f"D-{n:02}") for n in range(1, 31))
    parts = PART.replace("shape", "heartwood_only: true, shape", 1)
    (found,) = of(tmp_path, stock=stock, parts=parts)
    assert "the heartwood of D-01, D-02, " in found
    assert "D-08 and 22 more was never recorded" in found and "D-09" not in found
    (of_one,) = of(tmp_path, parts=parts)
    assert "the heartwood of D-01 was never recorded, so it passes as all heartwood" in of_one


# ---- metal before the saw that parts a board into leaves --------------------------------------


@pytest.mark.usefixtures("only_block_family")
@pytest.mark.parametrize(
    ("depth", "is_met"), [("", True), (", depth: 10", False), (", depth: 14", True)]
)
def test_metal_that_reaches_the_resawing_blade_is_told(tmp_path, depth, is_met):
    """40 mm in two by a kerf of 3: leaves of 18.5, and the blade keeps 6 mm from metal."""
    nail = f"[{{kind: metal, at: [700, 60], diameter: 6{depth}}}]"
    stock = BOARD.replace("width: 150", f"width: 150, resaw: 2, keep_outs: {nail}")
    found = [words for words in of(tmp_path, stock=stock) if "would meet metal" in words]
    assert len(found) == is_met
    if is_met:
        assert "board D-01: the saw that parts D-01/1 from the leaf below" in found[0]
        assert "in 1 place, first at (700 mm, 60 mm): draw it" in found[0]


# ---- letters that paper cannot show ------------------------------------------------------------


@pytest.mark.usefixtures("only_block_family")
def test_letters_that_no_face_of_paper_has_are_told_with_their_code(tmp_path):
    stock = BOARD.replace("width: 150", "width: 150, note: '\u0e44\u0e21\u0e49 teak'")
    (found,) = of(tmp_path, stock=stock)
    assert "'\u0e44\u0e21\u0e49 teak' holds \u0e44 (U+0E44), which printed paper has no" in found
    assert r"there it reads \u0e44\u0e21\u0e49 teak;" in found


@pytest.mark.usefixtures("only_block_family")
def test_letters_that_a_face_of_paper_has_are_not_told(tmp_path):
    stock = BOARD.replace("width: 150", "width: 150, note: '\u67da\u6728 \u05d0 \u0395'")
    assert of(tmp_path, stock=stock) == []
