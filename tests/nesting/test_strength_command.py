"""The strength command, and what a nest says of weak beams."""

import json

import pytest

from nesting import cli

PROJECT = """\
version: 1
name: Two beams
unit: mm
rules: {plugs: [20], plug_edge: 5, cleaning_loss: 1}
stock:
  - board: B
    species: white oak
    thickness: 50
    length: 2200
    width: 160
    moisture: 22
    keep_outs:
      - {kind: hole, diameter: 18, at: [1000, 60]}
      - {kind: hole, diameter: 18, at: [1080, 105]}
parts:
  - part: beam
    family: deck beam
    species: white oak
    holes: plugged
    shape: {span: 2000, siding: 45, moulding: 90, camber: 30, bearing: 80}
"""


@pytest.fixture
def nested(tmp_path, capsys):
    path = tmp_path / "two.yaml"
    path.write_text(PROJECT)
    folder = tmp_path / "out"
    assert cli.main(["nest", str(path), "-o", str(folder), "--rounds", "0"]) == cli.ALL_PLACED
    return path, folder, capsys.readouterr().out


def test_strength_command_names_holes_grain_drying_sources_and_caution(nested, capsys):
    path, folder, _ = nested
    assert cli.main(["strength", str(path), "-o", str(folder), "--moisture", "12"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "Cross grain" in out
    assert "Old holes" in out
    assert "for wood that comes to 12 %" in out
    for source in ("Table 5-12", "eq. 5-2", "neutral axis", "eq. 13-3", "R1606"):
        assert source in out
    assert "do not replace a designer or a survey" in out
    assert "local rules and licensed practice" in out


def test_strength_prints_where_the_shrinkage_of_each_wood_stands(nested, capsys):
    path, folder, _ = nested
    assert cli.main(["strength", str(path), "-o", str(folder), "--moisture", "12"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "white oak 5.6 10.5 verified" in out
    assert "Verified: read there." in out


def test_fifteen_per_cent_is_that_of_installing_and_not_of_service(nested, capsys):
    path, folder, _ = nested
    assert cli.main(["strength", str(path), "-o", str(folder)]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "for wood that comes to 15 %" in out
    assert "15 % is the average of planking and decking when installed" in out
    # R1606 says nothing of service, so neither do we in its name.
    assert "Moisture in service" not in out


def test_summary_and_report_name_a_weak_beam(nested):
    _, folder, out = nested
    (weak,) = json.loads((folder / "summary.json").read_text())["weakened"]
    assert (weak["piece"], weak["board"], weak["holes"]) == ("beam", "B", 2)
    assert 0 < weak["as_beam_percent"] < 80
    assert "Old holes leave these less than 80 %" in out


def test_moisture_that_no_boat_has_is_a_wrong_command(nested, capsys):
    path, folder, _ = nested
    with pytest.raises(SystemExit) as caught:
        cli.main(["strength", str(path), "-o", str(folder), "--moisture", "45"])
    assert caught.value.code == cli.USAGE
    assert "0 to 30" in capsys.readouterr().err


def test_project_not_yet_nested_is_told_so(tmp_path, capsys):
    path = tmp_path / "two.yaml"
    path.write_text(PROJECT)
    assert cli.main(["strength", str(path), "-o", str(tmp_path / "none")]) == cli.NO_FILE
    assert "nest the project first" in capsys.readouterr().err


def test_thwart_that_bungs_leave_three_quarters_of_is_named_and_not_among_the_whole(
    tmp_path, capsys
):
    """Two bungs of 20 mm abreast in 160 mm: on edge little is lost, and it is sat on."""
    path = tmp_path / "thwart.yaml"
    holes = (
        "[{kind: hole, diameter: 18, at: [600, 55]}, {kind: hole, diameter: 18, at: [600, 105]}]"
    )
    path.write_text(
        f"""\
version: 1
name: Thwart
unit: mm
rules: {{plugs: [20], plug_edge: 5, cleaning_loss: 1}}
stock:
  - {{board: B, species: white oak, thickness: 30, length: 1200, width: 160, keep_outs: {holes}}}
parts:
  - part: thwart
    family: plank
    species: white oak
    holes: plugged
    shape: {{length: 1190, width: 155, thickness: 25}}
"""
    )
    folder = str(tmp_path / "out")
    assert cli.main(["nest", str(path), "-o", folder, "--rounds", "0"]) == cli.ALL_PLACED
    out = " ".join(capsys.readouterr().out.split())
    assert "Old holes leave these less than 80 %" in out
    assert "thwart: 74 %" in out  # 155 - 2 x 20 of 155 mm.
    assert cli.main(["strength", str(path), "-o", folder]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "0 of 1 piece keeps 95 % or more" in said
    assert "a plank on edge or on the flat, whichever leaves less" in said
