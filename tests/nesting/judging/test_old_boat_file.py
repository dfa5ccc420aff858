"""An old boat's file: read right, usual joints filled in, or refused with its place."""

import json
from pathlib import Path

import pytest

from nesting import cli
from nesting.errors import ProjectFileError
from nesting.judging.old_boat import Fastener
from nesting.judging.read_old_boat import read_old_boat
from nesting.judging.usual_build import SCREWS, gauge_mm
from nesting.judging.ways import Way

DEMO = Path(__file__).parents[3] / "demo_projects" / "tender_to_sloop"

BOAT = """\
version: 1
name: Old Dunlin
unit: in
build: carvel
frame_spacing: 12
beam_spacing: 14
rates: {hour: 20, board_foot: 10, by_wood: {teak: 40}}
members:
  - {member: decking, species: teak, count: 20, length: 14 ft, width: 2 1/4, thickness: 1 1/4}
  - {member: deck beam, species: white oak, count: 12, length: 8 ft, width: 3, thickness: 3}
"""

PARTS = """\
version: 1
name: Skiff
unit: in
stock:
  - {board: A, species: teak, thickness: 1 1/4, length: 14 ft, width: 2 1/4, member: decking}
parts:
  - {part: strip, family: plank, quantity: 6, species: teak, holes: plugged,
     shape: {length: 40, width: 1 3/4, thickness: 7/8}}
"""


def read(tmp_path, text):
    path = tmp_path / "old.yaml"
    path.write_text(text)
    return read_old_boat(path)


def test_usual_joint_of_a_build_has_the_rules_screw_and_the_beams_spacing(tmp_path):
    boat, ways, _ = read(tmp_path, BOAT)
    (joint,) = boat.joints
    assert (joint.of, joint.to, joint.fastener) == ("decking", "deck beam", Fastener.SCREW)
    assert joint.spacing_mm == pytest.approx(14 * 25.4)
    # Nevins' rule: 1 1/4 in plank, gauge 20, bung 11/16 in; 0.320 in by the screw tables.
    assert joint.diameter_mm == pytest.approx(0.320 * 25.4)
    assert joint.bung_mm == pytest.approx(11 / 16 * 25.4)
    assert boat.fasteners_in(joint) == 20 * 12
    assert boat.spacing_on(joint, "deck beam") == pytest.approx(12 * 96 * 25.4 / 240)
    assert ways[Way.CUT].minutes == 0.4


def test_gauges_are_those_of_published_screw_tables():
    """#8 0.164, #10 0.190, #14 0.242 in: three published tables, said to follow ASME B18.6.1."""
    for gauge, inches in ((8, 0.164), (10, 0.190), (14, 0.242)):
        assert gauge_mm(gauge) == pytest.approx(inches * 25.4)
    assert [s.plank_mm for s in SCREWS] == sorted(s.plank_mm for s in SCREWS)


def test_given_joint_takes_the_place_of_the_usual_one(tmp_path):
    joint = (
        "joints:\n  - {of: decking, to: deck beam, fastener: nail, each: 6, state: {draws: 100}}\n"
    )
    boat, ways, _ = read(
        tmp_path, BOAT + joint + "ways: {cut between: {minutes: 2, success: 50}}\n"
    )
    assert boat.joints[0].fastener is Fastener.NAIL
    assert boat.joints[0].spacing_mm == pytest.approx(28 * 25.4)
    assert (ways[Way.CUT].minutes, ways[Way.CUT].success) == (2.0, 0.5)
    assert ways[Way.CUT].source == "given in the file"


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (("frame_spacing: 12\nbeam_spacing: 14\n", ""), "beam_spacing at the top is missing"),
        (("member: deck beam", "member: decking"), "decking is the name of a member at"),
        (("count: 20", "count: 0"), "count"),
        (("count: 20", "count: 20, rests_on: [deck beems]"), "did you mean deck beam"),
        (("thickness: 3}", "thickness: 3, rests_on: [decking]}"), "rest on each other in a ring"),
        (("rates: {hour: 20", "rates: {hour: -1"), "hour"),
        (("unit: in\n", ""), "unit"),
        (("build: carvel", "build: plywood"), "build"),
    ],
)
def test_mistake_is_told_with_its_line(tmp_path, change, told):
    assert change[0] in BOAT
    with pytest.raises(ProjectFileError) as error:
        read(tmp_path, BOAT.replace(*change))
    assert told in str(error.value)
    assert "old.yaml:" in str(error.value)


@pytest.mark.parametrize(
    ("joint", "told"),
    [
        ("{of: decking, to: keel}", "'keel' is no member"),
        ("{of: deck beam, to: decking, spacing: 9}", "fastener is missing"),
        ("{of: decking, to: deck beam, spacing: 9, each: 4}", "say the same thing"),
        ("{of: decking, to: deck beam, state: {draws: 50, breaks: 20}}", "must make 100 %"),
        ("{of: decking, to: deck beam, fastener: glue}", "fastener"),
    ],
)
def test_mistake_in_a_joint_is_told(tmp_path, joint, told):
    with pytest.raises(ProjectFileError, match=told):
        read(tmp_path, f"{BOAT}joints:\n  - {joint}\n")


def test_command_writes_and_refuses_to_write_over(tmp_path, capsys):
    (tmp_path / "old.yaml").write_text(BOAT)
    (tmp_path / "skiff.yaml").write_text(PARTS)
    command = [
        "judge", str(tmp_path / "old.yaml"), "--project", str(tmp_path / "skiff.yaml"),
        "-o", str(tmp_path / "out"), "--piles", "3", "--workers", "1", "--recorded",
    ]  # fmt: skip
    assert cli.main([*command, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["proven"]
    assert [one["verdict"] for one in found["members"]] == ["save", "scrap"]
    assert [one["part"] for one in found["forecast"]] == ["strip"]
    assert found["forecast"][0]["chance"] == 1.0
    folder = tmp_path / "out" / "judged"
    assert sorted(path.name for path in folder.iterdir()) == [
        "judged.csv", "judged.pdf", "verdicts.svg",
    ]  # fmt: skip
    assert cli.main(command) == cli.NO_FILE
    assert "would be overwritten" in capsys.readouterr().err
    assert cli.main([*command, "--overwrite"]) == 0
    told = capsys.readouterr().out
    assert "cut between" in told
    assert "Hidden metal" in told


def test_demo_saves_her_decking_and_none_of_her_beams(capsys, tmp_path):
    files = [str(DEMO / "alder_maid.yaml"), "--project", str(DEMO / "project.yaml")]
    assert cli.main(["judge", *files, "-o", str(tmp_path), "--json"]) == 0
    found = {one["member"]: one for one in json.loads(capsys.readouterr().out)["members"]}
    assert found["decking"]["verdict"] == "save"
    assert found["buoy well"]["verdict"] == "save"
    assert found["deck beam"]["verdict"] == "scrap"
