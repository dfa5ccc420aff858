"""Parts that say where they stand: what a project file may write, and what it is told."""

import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest
from project_texts import written
from shapely.geometry import LineString

from nesting import cli
from nesting.errors import ProjectFileError
from nesting.project import project_schema, read_project
from nesting.yaml_file.document import read_document

LINES = Path(__file__).parents[2] / "demo_projects" / "lines" / "withy_offsets.csv"

HEAD = f"""\
version: 1
name: fitted
unit: in
boat:
  lines: {LINES}
  frames: {{first: 20, spacing: 10, count: 26, siding: 1, moulding: 1 1/2}}
  keel: {{siding: 4, top: 1 1/2}}
  clamp: {{thickness: 1, depth: 6}}
  floor_heads: 9
stock:
  - {{board: D-01, species: teak, thickness: 2, length: 99, width: 11}}
parts:
"""
FLOOR = "{siding: 1 3/4, moulding: 5, arm: 15, keel_bolt: 1/2, frame_bolt: 5/16}"
BEAM = "{siding: 1 1/2, moulding: 2 1/2}"


def part(text: str, shape: str = FLOOR, family: str = "floor timber") -> str:
    return f"  - {{part: floor, family: {family}, species: teak, {text}shape: {shape}}}\n"


def read(folder, parts, head=HEAD):
    return read_project(written(folder, head + parts))


def told(folder, parts, head=HEAD):
    with pytest.raises(ProjectFileError) as caught:
        read(folder, parts, head)
    return [
        f"{finding.line}:{finding.column} {finding.message}" for finding in caught.value.findings
    ]


def test_floor_at_a_frame_stands_against_its_after_face(tmp_path):
    parts = read(tmp_path, part("at: [frame 14, frame 20], ")).parts
    marked = [p.positions()[0].origin[0] / 25.4 for p in parts.values()]
    # Frames 14 and 20 stand 150 and 210 in from forward, sided 1 in; the floor, 1 3/4 in. The
    # marked face is the larger one: the after one forward, the fore one in the run.
    assert marked == pytest.approx([150.5 + 1.75, 210.5])
    needs = read(tmp_path, part("at: frame 14, ")).needs
    assert [need.quantity for need in needs] == [1]


def test_station_and_length_are_places_too(tmp_path):
    text = part("at: station 6, ").replace("part: floor", "part: one")
    text += part("at: 12 ft 0 in, ").replace("part: floor", "part: other")
    one, other = read(tmp_path, text).parts.values()
    assert one.outline().shape.equals(other.outline().shape)


def test_beams_take_their_size_from_the_boat_unless_they_say_otherwise(tmp_path):
    sizes = (
        "  beams: {main: {siding: 2, moulding: 3}, ordinary: {siding: 1 1/2, moulding: 2 1/2}}\n"
    )
    head = HEAD.replace("stock:", f"{sizes}stock:")
    for shape, siding, moulding in (
        ("{size: main}", 2, 3),
        ("{}", 1.5, 2.5),
        ("{size: main, moulding: 4}", 2, 4),
    ):
        (found,) = read(tmp_path, part("at: frame 12, ", shape, "deck beam"), head).parts.values()
        near = found.faces().near
        depth = near.intersection(LineString([(0, -500), (0, 500)])).length
        assert found.outline().siding_mm == pytest.approx(siding * 25.4)
        assert depth == pytest.approx(moulding * 25.4, abs=0.05)


def test_range_of_frames_makes_a_part_each(tmp_path):
    needs = read(tmp_path, part("at: [frames 12 to 16 by 2, frame 20], ")).needs
    frames = (12, 14, 16, 20)
    assert [need.part for need in needs] == [f"floor, frame {number}" for number in frames]


def test_part_of_one_side_makes_a_pair(tmp_path):
    shape = "{siding: 1 1/2, moulding: 2 1/2, inner_end: 21}"
    (need,) = read(tmp_path, part("at: frame 12, ", shape, "half beam")).needs
    assert need.quantity == 2
    assert any("pair" in note for note in need.notes)
    (need,) = read(tmp_path, part("at: frame 12, side: port, ", shape, "half beam")).needs
    assert need.quantity == 1


def test_ceiling_entry_makes_every_length_of_every_strake(tmp_path):
    shape = "{thickness: 5/8, of: 16, strakes: [3, 4], butts: [[10], [8, 12]]}"
    project = read(tmp_path, part("at: frames 6 to 15, ", shape, "ceiling strake"))
    assert [need.part for need in project.needs] == [
        "floor, strake 3, length 1",
        "floor, strake 3, length 2",
        "floor, strake 4, length 1",
        "floor, strake 4, length 2",
        "floor, strake 4, length 3",
    ]
    labels = [mark.label for mark in project.needs[0].outline.marks]
    assert labels == ["frame 7", "frame 8", "frame 9"]
    assert not any("flat" in note for note in project.needs[0].notes)


def test_butts_too_near_are_noted_on_the_parts_and_by_check(tmp_path, capsys):
    shape = "{thickness: 5/8, of: 16, strakes: [3, 4], butts: [10]}"
    text = HEAD + part("at: frames 6 to 15, ", shape, "ceiling strake")
    notes = [need.notes[-1] for need in read_project(written(tmp_path, text)).needs]
    words = "neighbouring strakes 3 and 4 are butted both on frame 10, 0 frame spaces apart"
    assert all(words in note for note in notes)
    assert cli.main(["check", str(tmp_path / "project.yaml")]) == cli.ALL_PLACED
    out = capsys.readouterr().out
    assert out.count(f": shift of butts: {words}") == 1


def test_outlines_of_fitted_parts_load_no_solid_modeller(tmp_path):
    path = written(tmp_path, HEAD + part("at: frame 14, "))
    code = (
        "import sys; from nesting.project import read_project; "
        f"read_project({str(path)!r}); assert 'cadquery' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_laminated_knee_is_nested_lamella_by_lamella(tmp_path):
    shape = (
        "{siding: 1 1/2, beam_arm: 14, side_arm: 15, throat: 5, tip_moulding: 1 3/8, bolt: 5/16, "
        "beam_siding: 2, grain: laminated}"
    )
    (need,) = read(tmp_path, part("at: frame 8, ", shape, "lodging knee")).needs
    thick = need.outline.siding_mm
    # A hundredth to a hundred and fiftieth of the bend's radius (common practice, no source).
    assert 0.6 < thick < 15 * 25.4 / 100
    assert need.quantity % 2 == 0
    assert need.quantity / 2 * thick >= 5 * 25.4
    assert f"a lamella: {need.quantity // 2} are glued up to one knee" in need.notes


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (part("at: frame 40, "), "there is no frame 40: the boat has 26"),
        (part("at: station 99, "), "has no station 99; it has 1/2, 1, 2"),
        (part("at: 90 ft, "), "the hull runs from"),
        (part("at: somewhere, "), "'somewhere' is no place in the boat: write frame 8, station 5"),
        (part("at: frame x, "), "'frame x' is no place in the boat"),
        (part("at: 8 furlongs, "), "'8 furlongs' is no length"),
        (part("at: frames 9 to 3, "), "runs forward"),
        (part("at: frame 9, quantity: 2, "), "quantity: at says how many there are"),
        (part("at: frame 9, side: both, "), "side: a floor timber belongs to no one side"),
        (part("side: both, "), "side: goes with at"),
        (part("at: frame 9, ", family="drawn outline"), "takes its shape from numbers alone"),
        (part("", BEAM, "half beam"), "say where it stands with at"),
        (part("at: frame 9, ", "{siding: 2, moulding: 5, arn: 15}"), "did you mean arm?"),
        (part("at: frame 9, ", "{moulding: 5, arm: 15}"), "siding: missing"),
        (part("at: frame 9, ", FLOOR.replace("arm: 15", "arm: 99")), "reach past the sheer"),
        (
            part("at: frame 9, ", "{thickness: 1, of: 9}", "ceiling strake"),
            "no stretch of the boat",
        ),
        (
            part("at: frames 9 to 17 by 2, ", "{thickness: 1, of: 9}", "ceiling strake"),
            "'frames 9 to 17 by 2': one piece runs along the whole stretch: leave out by 2",
        ),
        (
            part("at: frames 9 to 9, ", "{thickness: 1, of: 9}", "ceiling strake"),
            "'frames 9 to 9' begins and ends at one place: write two",
        ),
        (
            part("at: frames 9 to 7, ", "{thickness: 1, of: 9}", "ceiling strake"),
            "'frames 9 to 7' runs forward: write the forward end first",
        ),
        (part("at: frame 9, ", "{}", "deck beam"), "the boat gives no size of ordinary beams"),
        (part("at: frame 9, ", BEAM, "house beam"), "the boat has no house"),
        (part("at: frame 9, ", BEAM, "sole beam"), "the boat has no sole"),
        (part("at: frame 9, ", BEAM.replace("2 1/2", "99"), "deck beam"), "not allowed"),
    ],
    ids=lambda value: value[:30] if " " in value and "{" not in value else "",
)
def test_what_cannot_be_is_told_with_its_place(tmp_path, text, message):
    (found,) = told(tmp_path, text)
    assert message in found
    assert found.startswith("13:")


def test_place_without_a_boat_says_what_to_give(tmp_path):
    head = HEAD[: HEAD.index("boat:")] + HEAD[HEAD.index("stock:") :]
    (found,) = told(tmp_path, part("at: frame 9, "), head)
    assert "at: needs the boat's lines: name her table of offsets and her frames" in found


@pytest.mark.parametrize(
    ("was", "now", "line", "message"),
    [
        (str(LINES), "nothing.csv", 5, "lines: there is no file"),
        ("count: 26", "count: 0", 6, "count: 0 is not allowed, must be at least 1"),
        ("spacing: 10", "spacing: 1", 5, "leave no room at a spacing of"),
        ("floor_heads", "floor_head", 9, "did you mean floor_heads?"),
    ],
)
def test_what_is_wrong_with_the_boat_is_told_once(tmp_path, was, now, line, message):
    (found,) = told(tmp_path, part("at: frames 9 to 12, "), HEAD.replace(was, now))
    assert message in found
    assert found.startswith(f"{line}:")


def test_errors_in_the_table_of_offsets_keep_their_own_file(tmp_path):
    table = tmp_path / "lines.csv"
    text = LINES.read_text(encoding="utf-8")
    table.write_text(text.replace("5-3-3+,", "5-3-9+,", 1), encoding="utf-8")
    with pytest.raises(ProjectFileError) as caught:
        read(tmp_path, part("at: frame 9, "), HEAD.replace(str(LINES), "lines.csv"))
    assert {Path(finding.file).name for finding in caught.value.findings} == {"lines.csv"}


def test_schema_and_reader_agree_on_fitted_parts(tmp_path):
    schema = jsonschema.Draft202012Validator(project_schema())
    good = read_document(written(tmp_path, HEAD + part("at: frame 9, "))).data
    assert schema.is_valid(good)
    for wrong in ("at: frame 9, quantity: 2, ", "side: both, ", "at: frame 9, side: both, "):
        data = read_document(written(tmp_path, HEAD + part(wrong))).data
        assert not schema.is_valid(data), wrong


@pytest.mark.parametrize("name", ["tender_to_sloop", "first_cut", "launch_to_dinghy"])
def test_schema_accepts_the_demo(name):
    path = LINES.parents[1] / name / "project.yaml"
    assert jsonschema.Draft202012Validator(project_schema()).is_valid(read_document(path).data)
