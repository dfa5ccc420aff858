import subprocess
import sys
from pathlib import Path

import pytest
from project_texts import BOARD, HEAD, PART, findings_of, only_blocks, project_text, written

from nesting.need import Holes
from nesting.new_timber_rules import NewTimberRules
from nesting.project import read_project
from nesting.rules import USUAL_CLEARANCES_MM, LeastOffcut, Rules
from nesting.stock.keep_out import KeepOutKind
from nesting.units import Unit


@pytest.fixture(autouse=True)
def _families(monkeypatch):
    monkeypatch.setattr("nesting.project.own_families.known_families", only_blocks)


def test_smallest_project_is_read(tmp_path):
    project = read_project(written(tmp_path, project_text()))
    assert (project.name, project.unit, project.dxf_version) == ("yard boat", Unit.MM, "R2010")
    assert project.folder is None
    assert project.rules == Rules()
    (board,) = project.stock
    assert (board.name, board.species, board.thickness_mm) == ("D-01", "teak", 40)
    assert board.shape.bounds == (0, 0, 2000, 150)
    (need,) = project.needs
    assert (need.part, need.family, need.quantity, need.holes) == ("pad", "block", 1, Holes.CLEAR)
    assert need.outline.shape.bounds == (0, 0, 300, 60)
    assert list(project.parts) == ["pad"]


def test_path_may_be_text(tmp_path):
    assert read_project(str(written(tmp_path, project_text()))).path == tmp_path / "project.yaml"


def test_bare_number_is_in_the_projects_unit(tmp_path):
    head = HEAD.replace("mm", "in")
    stock = (
        "  - {board: 7, species: teak, thickness: 1 3/4, length: 7 ft 4 1/2 in, width: 150 mm}\n"
    )
    parts = (
        "  - {part: a, family: block, species: teak, shape: {siding: 1, length: 5-7-3, width: 2}}\n"
    )
    project = read_project(written(tmp_path, project_text(head=head, stock=stock, parts=parts)))
    (board,) = project.stock
    assert (board.name, board.thickness_mm, board.width_mm) == ("7", 44.45, 150)
    assert board.length_mm == pytest.approx(2247.9)
    assert project.needs[0].outline.length_mm == pytest.approx(1711.325)


def test_rules_are_read_with_their_units(tmp_path):
    rest = """\
rules:
  kerf: 1/8 in
  trim: 2
  blade_clearance: 8
  clearances: {rot: 1/2 in, worn edge: 3}
  cleaning_loss: 1
  least_offcut: {length: 500, width: 90}
  plugs: [1/2 in, 10]
  reaming: 0.8
  plug_edge: 5
  plugs_per_metre: 4
  surface_check: 2
"""
    assert read_project(written(tmp_path, project_text(rest=rest))).rules == Rules(
        kerf_mm=3.175,
        trim_mm=2,
        blade_clearance_mm=8,
        clearances_mm={KeepOutKind.ROT: 12.7, KeepOutKind.WORN_EDGE: 3},
        cleaning_loss_mm=1,
        least_offcut=LeastOffcut(500, 90),
        plug_sizes_mm=(10, 12.7),
        reaming_mm=0.8,
        plug_edge_mm=5,
        plugs_per_metre=4,
        surface_check_mm=2,
    )


def test_rules_of_new_timber_are_read_with_their_units(tmp_path):
    rest = """\
rules:
  new_timber: {thicknesses: [2 in, 20], planing: 1/8 in, edge: 2, end: 10, defects: 20}
"""
    found = read_project(written(tmp_path, project_text(rest=rest))).rules.new_timber
    assert found == NewTimberRules((20, 50.8), 3.175, 2, 10, 20)


@pytest.mark.parametrize(
    ("unit", "sizes"), [("mm", (16, 19, 22)), ("in", (25.4, 31.75, 38.1))], ids=["mm", "in"]
)
def test_new_timber_is_sold_in_the_sizes_of_the_project_s_unit(tmp_path, unit, sizes):
    head = HEAD.replace("unit: mm", f"unit: {unit}")
    stock = BOARD.replace("2000", "2 m").replace("150", "15 cm").replace("40", "40 mm")
    parts = PART.replace("25", "25 mm").replace("300", "30 cm").replace("60", "6 cm")
    found = read_project(written(tmp_path, project_text(head=head, stock=stock, parts=parts)))
    assert found.rules.new_timber.thicknesses_mm[:3] == pytest.approx(sizes)


def _clearances(folder, rest):
    rules = read_project(written(folder, project_text(rest=rest))).rules
    return {kind: rules.clearance_mm(kind) for kind in (*USUAL_CLEARANCES_MM, KeepOutKind.KNOT)}


def test_rot_and_splits_are_kept_clear_of_unless_the_project_says_otherwise(tmp_path):
    rot, split, knot = KeepOutKind.ROT, KeepOutKind.SPLIT, KeepOutKind.KNOT
    usual = _clearances(tmp_path, "")
    assert usual[rot] > 0 < usual[split]
    assert usual[knot] == 0
    # One kind named leaves the others as they were; 0 is the project's to say.
    assert _clearances(tmp_path, "rules: {clearances: {knot: 4}}\n") == {**usual, knot: 4}
    own = "rules: {clearances: {rot: 0, split: 0}}\n"
    assert _clearances(tmp_path, own) == {rot: 0, split: 0, knot: 0}


def test_slope_of_grain_of_the_rules_holds_where_a_shape_says_nothing(tmp_path):
    own = PART.replace("pad", "own").replace("siding", "slope_of_grain: 1 in 8, siding")
    text = project_text(parts=PART + own, rest="rules: {slope_of_grain: 1 in 15}\n")
    slopes = [n.outline.slope_of_grain for n in read_project(written(tmp_path, text)).needs]
    assert slopes == [15, 8]


def test_part_takes_everything_that_its_line_says(tmp_path):
    parts = """\
  - part: 2
    family: block
    shape: {siding: 25, length: 300, width: 60}
    quantity: 3
    species: [white oak, Teak]
    holes: plugged
    plugs_per_metre: 2
    value: 40
    moisture: [12, 18.5]
    heartwood_only: true
    not_from: deck beams
    notes: [seal the ends]
"""
    stock = BOARD + BOARD.replace("D-01", "E").replace("}", ", member: deck beams}")
    (need,) = read_project(written(tmp_path, project_text(stock=stock, parts=parts))).needs
    assert (need.part, need.quantity, need.species) == ("2", 3, ("white oak", "teak"))
    assert (need.holes, need.plugs_per_metre, need.value) == (Holes.PLUGGED, 2, 40)
    assert (need.moisture_percent, need.heartwood_only) == ((12, 18.5), True)
    assert (need.not_from, need.notes) == (("deck beams",), ("seal the ends",))


def test_project_may_name_woods_of_its_own(tmp_path):
    text = project_text(
        head=HEAD + "species: [Pitch Pine]\n",
        parts=PART.replace("[teak]", "[pitch pine, teak]"),
    )
    assert read_project(written(tmp_path, text)).needs[0].species == ("Pitch Pine", "teak")


def test_outputs_folder_counts_from_the_project_file(tmp_path):
    text = project_text(rest="outputs: {folder: ../sheets, dxf: R12}\n")
    project = read_project(written(tmp_path, text, "boat/project.yaml"))
    assert (project.folder, project.dxf_version) == (tmp_path / "boat" / ".." / "sheets", "R12")


def test_absolute_outputs_folder_is_taken_as_it_is(tmp_path):
    text = project_text(rest=f"outputs: {{folder: {tmp_path / 'there'}}}\n")
    assert read_project(written(tmp_path, text)).folder == tmp_path / "there"


def test_project_is_frozen(tmp_path):
    project = read_project(written(tmp_path, project_text()))
    with pytest.raises(AttributeError):
        project.name = "other"
    with pytest.raises(TypeError):
        project.parts["x"] = None


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ("deck beams", "no board came from 'deck beams'; did you mean deck beam?"),
        ("hull planking", "no board came from 'hull planking'; allowed: deck beam, thwart"),
        ("D-01", "'D-01' is the name of a board, which came from deck beam; not_from names what"),
        ("E", "'E' is the name of a board, which came from thwart; not_from names what boards we"),
        ("F", "'F' is the name of a board, which has no member recorded; not_from names what b"),
    ],
    ids=["near-miss", "unknown", "board", "board-in-leaves", "board-in-copies"],
)
def test_not_from_takes_what_boards_were_and_nothing_else(tmp_path, given, says):
    stock = (
        BOARD.replace("}", ", member: deck beam}")
        + BOARD.replace("D-01", "E").replace("}", ", member: thwart, resaw: 2}")
        + BOARD.replace("D-01", "F").replace("}", ", count: 2}")
    )
    sound = PART.replace("shape", "not_from: [thwart, deck beam], shape")
    slip = PART.replace("pad", "b").replace("shape", f"not_from: [{given}], shape")
    (found,) = findings_of(written(tmp_path, project_text(stock=stock, parts=sound + slip)))
    assert found.startswith(f"10:58: part b: not_from: {says}")


def test_member_of_a_board_that_cannot_be_read_is_not_called_unknown(tmp_path):
    stock = BOARD + BOARD.replace("D-01", "E").replace("150}", "-150, member: thwart}")
    parts = PART.replace("shape", "not_from: [thwart], shape")
    (found,) = findings_of(written(tmp_path, project_text(stock=stock, parts=parts)))
    assert "board E: width" in found


def test_not_from_where_no_board_says_what_it_was_asks_for_that(tmp_path):
    parts = PART.replace("shape", "not_from: [thwart], shape")
    (found,) = findings_of(written(tmp_path, project_text(parts=parts)))
    assert found.endswith("none says what it was: give each its member")


def _large_project(folder: Path) -> Path:
    boards = ["unit: mm", "defaults: {species: teak, thickness: 40, width: 150}", "boards:"]
    for i in range(40):
        holes = ", ".join(
            f"{{kind: hole, at: [{100 + 100 * k}, {20 + 7 * (k % 15)}], diameter: 9}}"
            for k in range(16)
        )
        boards.append(f"  - {{board: D-{i}, length: 2000, keep_outs: [{holes}]}}")
    written(folder, "\n".join(boards), "deck.yaml")
    parts = "".join(PART.replace("pad", f"pad {i}") for i in range(60))
    return written(folder, project_text(stock="  - file: deck.yaml\n", parts=parts))


def test_large_project_is_read_whole(tmp_path):
    project = read_project(_large_project(tmp_path))
    assert sum(len(board.keep_outs) for board in project.stock) == 640
    assert len(project.needs) == 60


def test_reading_a_project_loads_no_large_library(tmp_path):
    path = written(tmp_path, project_text(parts="  - {part: a, family: none, species: teak}\n"))
    code = (
        "import sys\n"
        "from nesting.project import read_project\n"
        "try:\n"
        f"    read_project({str(path)!r})\n"
        "except ValueError as error:\n"
        "    print(len(error.findings))\n"
        "print([m for m in ('cadquery', 'numba', 'ezdxf', 'matplotlib') if m in sys.modules])\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines() == ["1", "[]"]
