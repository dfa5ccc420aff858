"""An old boat's file: read right, usual joints filled in, or refused with its place."""

import json
from pathlib import Path

import pytest

from nesting import cli
from nesting.errors import ProjectFileError
from nesting.judging.boat_doubts import boat_doubts
from nesting.judging.old_boat import Fastener
from nesting.judging.question import Question
from nesting.judging.read_old_boat import read_old_boat
from nesting.judging.usual_build import SCREWS, gauge_mm
from nesting.judging.ways import Way
from nesting.rules import Rules
from nesting.sources import NO_SOURCE

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


KINDS = [
    ("screw", Fastener.SCREW), ("wire nail", Fastener.WIRE_NAIL), ("cut nail", Fastener.CUT_NAIL),
    ("rose nail", Fastener.BOAT_NAIL), ("clenched nail", Fastener.CLENCHED_NAIL),
    ("rivet", Fastener.RIVET), ("bolt", Fastener.BOLT), ("trunnel", Fastener.TREENAIL),
    ("staple", Fastener.STAPLE),
]  # fmt: skip


CLAMP = (
    BOAT + "  - {member: clamp, species: teak, count: 4, length: 9 ft, width: 6, thickness: 2}\n"
)


@pytest.mark.parametrize(
    ("given", "at_ends"),
    [
        ("", True),  # As is usual.
        ("joints: [{of: deck beam, to: clamp, each: 4}]", True),
        ("joints: [{of: deck beam, to: clamp, each: 4, at_ends: no}]", False),
        ("joints: [{of: deck beam, to: clamp, spacing: 20}]", False),
        ("joints: [{of: clamp, to: deck beam, fastener: bolt, each: 4, at_ends: yes}]", True),
    ],
)
def test_beams_are_bolted_at_their_ends_if_nothing_else_is_said(tmp_path, given, at_ends):
    boat, *_ = read(tmp_path, CLAMP + given)
    (joint,) = (one for one in boat.joints if {one.of, one.to} == {"deck beam", "clamp"})
    assert joint.is_at_ends is at_ends


def drawing(tmp_path, fastener, more=""):
    """Return hours, way's figures and state of a deck held by a kind of fastener."""
    joint = f"joints:\n  - {{of: decking, to: deck beam, fastener: {fastener}, each: 6}}\n"
    boat, ways, _ = read(tmp_path, BOAT + joint + more)
    (one,) = boat.joints
    question = Question(boat, (), Rules(), ways)
    return question.hours(0, Way.DRAW), ways[Way.DRAW].of(one.fastener), one


def test_every_kind_of_fastener_has_minutes_chances_and_a_source_of_its_own(tmp_path):
    hours = {}
    for word, kind in KINDS:
        hours[word], figures, joint = drawing(tmp_path, word)
        assert joint.fastener is kind
        assert NO_SOURCE in figures.source
        state = joint.state
        assert state.draws + state.breaks + state.spins == pytest.approx(1.0)
        each = state.draws * figures.minutes + (1 - state.draws) * figures.stubborn_minutes
        assert hours[word] == pytest.approx(20 * 6 * each / 60)
    assert len(set(hours.values())) == len(KINDS)
    assert hours["staple"] < hours["wire nail"] < hours["cut nail"] < hours["screw"] < hours["bolt"]


def test_own_figures_of_a_kind_go_before_those_of_a_way(tmp_path):
    ways = "ways: {draw the fasteners: {minutes: 3, by_fastener: {wire nail: {success: 20}}}}\n"
    _, nail, _ = drawing(tmp_path, "wire nail", ways)
    assert (nail.minutes, nail.success, nail.stubborn_minutes) == (3.0, 0.2, 1.5)
    assert nail.source == "given in the file"
    _, staple, _ = drawing(tmp_path, "staple", ways)
    assert (staple.minutes, staple.success) == (3.0, 0.6)


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
        (("count: 20", "count: 20, rests_on: deck beem"), "did you mean deck beam"),
        (("count: 20", "count: 20, rests_on: decking"), "rests on itself"),
        (("species: teak", "species: teek"), "did you mean teak"),
        (("{teak: 40}", "{teek: 40}"), "did you mean teak"),
        (("count: 20", "count: 20, sound: 0.9"), "a share in %"),
        (("count: 20", "count: 20, sweep: 30 ft"), "over half of the length"),
        (("unit: in", "unit: mm"), "is the unit right?"),
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
        ("{of: decking, to: deck beam, at_ends: yes}", "give each, how many a piece has"),
        ("{of: decking, to: deck beam, spacing: 9, at_ends: yes}", "in place of spacing"),
        ("{of: decking, to: deck beam, state: {draws: 50, breaks: 20}}", "must make 100 %"),
        ("{of: decking, to: deck beam, fastener: glue}", "fastener"),
        ("{of: decking, to: deck beam, state: {draws: 0.6, breaks: 0.4}}", "45 for nine in twenty"),
        ("{of: decking, to: deck beam, spacing: -9}", "not over 0"),
        ("{of: decking, to: deck beam, spacing: 0.1}", "cannot stand"),
        ("{of: decking, to: deck beam, rows: 20}", "20 rows of"),
        ("{of: decking, to: deck beam, rows: 2, from_edge: 2}", "from both edges"),
        ("{of: decking, to: deck beam, from_edge: 3}", "from the edge"),
        ("{of: decking, to: deck beam, diameter: 3}", "as wide as decking"),
        ("{of: decking, to: deck beam, diameter: 1/2, bung: 1/4}", "narrower than the fastener"),
        ("{of: decking, to: deck beam, bung: 4}", "as wide as decking"),
        ("{of: decking, to: deck beam, none: yes, each: 4}", "no such joint, and yet its each"),
        (
            "{of: deck beam, to: decking, fastener: bolt, each: 4}\n"
            "  - {of: decking, to: deck beam, each: 3}",
            "again: put both into one",
        ),
    ],
)
def test_mistake_in_a_joint_is_told(tmp_path, joint, told):
    with pytest.raises(ProjectFileError, match=told):
        read(tmp_path, f"{BOAT}joints:\n  - {joint}\n")


def test_boat_without_members_is_refused(tmp_path):
    with pytest.raises(ProjectFileError, match=r"old\.yaml:8:10: members: 0 given"):
        read(tmp_path, BOAT[: BOAT.index("members:")] + "members: []\n")


def test_ring_names_those_in_it_and_no_other(tmp_path):
    plank = "species: teak, count: 1, length: 40, width: 4, thickness: 1"
    ring = "".join(
        f"  - {{member: {name}, {plank}, rests_on: [{below}]}}\n"
        for name, below in (("a", "b"), ("b", "c"), ("c", "b"))
    )
    with pytest.raises(ProjectFileError) as error:
        read(tmp_path, BOAT + ring)
    (finding,) = error.value.findings
    assert "ring: b on c, c on b;" in finding.message
    assert finding.line == 12


def test_member_that_is_wrong_is_told_once_and_not_as_unknown(tmp_path):
    joint = "joints:\n  - {of: decking, to: deck beam, each: 3}\n"
    with pytest.raises(ProjectFileError) as error:
        read(tmp_path, BOAT.replace("width: 3,", "width: -3,") + joint)
    assert [finding.line for finding in error.value.findings] == [10]


def test_joint_given_from_the_other_side_takes_the_place_of_the_usual_one(tmp_path):
    joint = "joints:\n  - {of: deck beam, to: decking, fastener: bolt, each: 4}\n"
    boat, *_ = read(tmp_path, BOAT + joint)
    assert [(one.of, one.fastener) for one in boat.joints] == [("deck beam", Fastener.BOLT)]


def test_wood_is_found_however_it_is_spelled(tmp_path):
    boat, *_ = read(tmp_path, BOAT.replace("species: teak", "species: Teak"))
    assert boat.by_name["decking"].species == "teak"
    own = BOAT.replace("species: teak", "species: swamp apple")
    boat, *_ = read(tmp_path, own.replace("unit: in", "unit: in\nspecies: swamp apple"))
    assert boat.by_name["decking"].species == "swamp apple"


def test_wood_with_two_prices_is_told(tmp_path):
    twice = BOAT.replace("by_wood: {teak: 40}", "by_wood: {teak: 40, Teak: 90}")
    with pytest.raises(ProjectFileError, match="by_wood: teak has a price already") as caught:
        read(tmp_path, twice)
    assert len(caught.value.findings) == 1


def test_what_is_odd_is_told_and_judged_all_the_same(tmp_path):
    sizes = "length: 14 ft, width: 2 1/4, thickness: 1 1/4"
    assert sizes in BOAT
    odd = BOAT.replace(sizes, "length: 2 1/4, width: 14 ft, thickness: 1 1/4")
    boat, _, unit = read(tmp_path, odd + "  - {member: chest, species: teak, length: 40, width: "
                         "4, thickness: 13}\n")  # fmt: skip
    told = list(boat_doubts(boat, unit))
    assert told == [
        "member decking: 2 1/4 in long and 168 in wide: are the two exchanged?",
        "member chest: 13 in thick and 4 in wide: are the two exchanged?",
        "member chest: no joint holds it, so it costs nothing but carrying off; is one missing?",
        "joint decking to deck beam: fasteners 14 in apart on pieces 2 1/4 in long: one place a "
        "piece is reckoned with",
    ]
    boat, _, unit = read(tmp_path, BOAT)
    assert not list(boat_doubts(boat, unit))


def test_member_as_no_tree_gives_it_is_told(tmp_path):
    more = (
        "  - {member: chest, species: teak, length: 80, width: 60, thickness: 1}\n"
        "  - {member: spar, species: teak, length: 96 ft, width: 6, thickness: 6}\n"
    )
    boat, _, unit = read(tmp_path, BOAT + more)
    told = [words for words in boat_doubts(boat, unit) if "unit" in words]
    assert told == [
        "member chest: 60 in wide: is the unit right?",
        "member spar: 1152 in long: is the unit right?",
    ]


def test_a_fastener_too_wide_to_be_one_is_told(tmp_path):
    chest = "  - {member: chest, species: teak, length: 80, width: 9, thickness: 9, rests_on: []}\n"
    joints = "joints:\n  - {of: chest, to: deck beam, fastener: bolt, each: 2, diameter: 2}\n"
    boat, _, unit = read(tmp_path, BOAT + chest + joints)
    told = [words for words in boat_doubts(boat, unit) if "fastener of" in words]
    assert told == ["joint chest to deck beam: a fastener of 2 in: is the unit right?"]


def test_spacing_in_the_wrong_unit_and_a_boat_without_joints_are_told(tmp_path):
    boat, _, unit = read(tmp_path, BOAT.replace("beam_spacing: 14", "beam_spacing: 14 mm"))
    assert list(boat_doubts(boat, unit)) == [
        "joint decking to deck beam: fasteners of 5/16 in stand 9/16 in apart, which splits wood: "
        "is the unit right?"
    ]
    boat, _, unit = read(tmp_path, BOAT.replace("build: carvel\n", ""))
    (told,) = boat_doubts(boat, unit)
    assert told.startswith("she has no joint at all")
    assert "build (carvel, clinker)" in told


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


def test_judged_files_go_where_the_project_says_that_outputs_go(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    Path("old.yaml").write_text(BOAT)
    Path("skiff.yaml").write_text(PARTS + "outputs: {folder: plan}\n")
    command = ["judge", "old.yaml", "--project", "skiff.yaml", "--json"]
    assert cli.main(command) == 0
    assert (tmp_path / "plan" / "judged" / "judged.csv").is_file()
    assert not (tmp_path / "output").exists()
    # A folder called as the command's own is that one, not one within it.
    assert cli.main([*command, "-o", "judged"]) == 0
    assert (tmp_path / "judged" / "judged.csv").is_file()
    Path("skiff.yaml").write_text(PARTS)
    assert cli.main(command) == 0
    assert (tmp_path / "output" / "old" / "judged" / "judged.csv").is_file()


def test_demo_saves_her_decking_and_none_of_her_beams(capsys, tmp_path):
    files = [str(DEMO / "alder_maid.yaml"), "--project", str(DEMO / "project.yaml")]
    assert cli.main(["judge", *files, "-o", str(tmp_path), "--json"]) == 0
    found = {one["member"]: one for one in json.loads(capsys.readouterr().out)["members"]}
    assert found["decking"]["verdict"] == "save"
    assert found["buoy well"]["verdict"] == "save"
    assert found["deck beam"]["verdict"] == "scrap"
