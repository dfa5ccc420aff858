"""A figure of a part that changes nothing beside the others is told, where it stands."""

import pytest
from project_texts import written

from nesting.fields import FileModel
from nesting.project import read_project
from nesting.remarks import remarks
from nesting.remarks.idle_figures import idle_figures
from parts.registry import known_families

HEAD = """\
version: 1
name: Idle figures
unit: mm
stock: [{board: R, species: teak, thickness: 40, length: 3000, width: 600}]
parts:
"""
KNEE = "kind: hanging, siding: 40, beam_arm: 220, side_arm: 240, throat: 70, tip_moulding: 30"
FLOOR = (
    "siding: 40, moulding: 70, half_span: 500, tip_moulding: 30, seat: 60, deadrise: 5, "
    "frame_lap: 250"
)
STRAKE = "length: 900, width: 50, thickness: 30"


def told(folder, family: str, shape: str, beside: str = "") -> list[tuple[str, int]]:
    line = f"  - {{part: x, family: {family}, species: teak{beside}, shape: {{{shape}}}}}\n"
    project = read_project(written(folder, HEAD + line))
    found = list(idle_figures(project))
    assert set(found) <= set(remarks(project))
    return [(one.message, line.index(one.message.split()[2]) + 1 - one.column) for one in found]


@pytest.mark.parametrize(
    ("family", "shape", "says"),
    [
        ("knee", f"{KNEE}, bolt: 8, bolts: 0", "bolt changes nothing without bolts"),
        ("floor timber", f"{FLOOR}, limber_height: 9", "limber_height changes nothing without li"),
        ("floor timber", f"{FLOOR}, limber_offset: 90", "limber_offset changes nothing without li"),
        ("floor timber", f"{FLOOR}, frame_bolt: 9, frame_bolts: 0", "frame_bolt changes nothing"),
        ("ceiling strake", f"{STRAKE}, first_frame: 90", "first_frame changes nothing without fr"),
    ],
)  # fmt: skip
def test_figure_of_what_there_is_none_of_is_told_at_its_key(tmp_path, family, shape, says):
    (message, off), *others = told(tmp_path, family, shape)
    assert message.startswith(f"part x: {says}")
    assert (off, others) == (0, [])


def test_bungs_of_clear_wood_are_told(tmp_path):
    ((message, _),) = told(tmp_path, "ceiling strake", STRAKE, ", plugs_per_metre: 3, holes: clear")
    assert "plugs_per_metre changes nothing with holes: clear; change that" in message


@pytest.mark.parametrize(
    ("family", "shape", "beside"),
    [
        ("knee", f"{KNEE}, bolt: 8", ""),
        ("knee", f"{KNEE}, bolts: 0", ""),
        ("floor timber", f"{FLOOR}, limber_width: 20, limber_height: 9, limber_offset: 90", ""),
        ("ceiling strake", f"{STRAKE}, first_frame: 90, frame_spacing: 300", ""),
        ("ceiling strake", STRAKE, ", plugs_per_metre: 3, holes: plugged"),
    ],
)
def test_figures_that_count_are_told_nothing_of(tmp_path, family, shape, beside):
    assert told(tmp_path, family, shape, beside) == []


def _models(model: type[FileModel]):
    yield model
    for below in model.__subclasses__():
        yield from _models(below)


def test_what_goes_with_what_names_fields_that_there_are():
    assert known_families()
    told = [model for model in _models(FileModel) if model.goes_with]
    assert len(told) > 5
    for model in told:
        named = {*model.goes_with, *(other for other, _ in model.goes_with.values())}
        assert named <= set(model.model_fields), model
