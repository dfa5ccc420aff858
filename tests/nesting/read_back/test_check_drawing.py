"""A file just written is its drawing again, whatever stands on it and however it is saved."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import ezdxf
import pytest
from sheet_nests import PROJECT, RULES, sheet_of, tiny

from nesting.accounts.account import account_board
from nesting.nest import Nest
from nesting.read_back.drawing import check_drawing
from nesting.sheets import cut_sheet, write_dxf
from nesting.sheets.drawing import Arrow, Circle, Drawing, Polyline, Role, Text
from nesting.sheets.dxf_terms import Version
from nesting.sheets.written import read_written
from nesting.units import Unit

VERSIONS: tuple[Version, ...] = ("R2010", "R12")
versions = pytest.mark.parametrize("version", VERSIONS)


@versions
@pytest.mark.parametrize(
    ("name", "unit"), [("two parts", Unit.INCH), ("waney", Unit.MM), ("locker", Unit.MM)]
)
def test_sheet_just_written_and_saved_again_is_its_drawing(name, unit, version, tmp_path: Path):
    drawing = sheet_of(name, unit)
    path = write_dxf(drawing, tmp_path / "a.dxf", version=version)
    assert check_drawing(read_written(path), drawing, name) == ()
    ezdxf.readfile(path).saveas(path)
    assert check_drawing(read_written(path), drawing, name) == ()


@pytest.mark.parametrize(
    "name",
    [
        "strake ½ Ø 木", " begins and ends in a space ", "two  spaces",
        "%%c and %%d", "caret ^ and ^J", "back\\slash \\P {braces}", "\\U+6728", "\\u00e9",
        "quotes ' and \"", "=", "a=b=c", "combining e\u0301",
        "…", "AC1024", "SECTION",
    ],
)  # fmt: skip
def test_any_name_on_a_sheet_comes_back(name, tmp_path: Path):
    (placement,) = tiny().placements
    placement = replace(placement, need=replace(placement.need, part=name))
    nest = Nest(replace(tiny().board, name=name, came_from=name), (placement,))
    drawing = cut_sheet(nest, account_board(nest, RULES), RULES, project_name=PROJECT)
    for version in VERSIONS:
        path = write_dxf(drawing, tmp_path / f"{version}.dxf", version=version)
        assert [str(fault) for fault in check_drawing(read_written(path), drawing, name)] == []


@versions
def test_order_of_cuts_is_asked_for(version, tmp_path: Path):
    square = ((0.0, 0.0), (9.0, 0.0), (9.0, 9.0))
    outer = Polyline(square, Role.SAW_OUTLINE, True)
    inner = Circle((3.0, 3.0), 1.0, Role.SAW_OPENING)
    more = (Arrow((0.0, 0.0), (5.0, 0.0), 1.0, Role.GRAIN, True), Text("a", (1, 1), 2, Role.NOTE))
    right = Drawing("a", (inner, outer, *more), (0.0, 0.0, 10.0, 10.0))
    wrong = replace(right, entities=(outer, inner, *more))
    path = write_dxf(wrong, tmp_path / "a.dxf", version=version)
    assert check_drawing(read_written(path), wrong) == ()
    (fault,) = check_drawing(read_written(path), right)
    assert str(fault).startswith("overview: order: an outer cut stands before an inner one")


def test_other_version_is_named(tmp_path: Path):
    path = write_dxf(sheet_of("tiny"), tmp_path / "a.dxf")
    document = ezdxf.readfile(path)
    document.dxfversion = "R2018"
    document.saveas(path)
    (fault,) = check_drawing(read_written(path), sheet_of("tiny"), "chip")
    said = "board chip: sheet: version: it is DXF AC1032, AC1009 or AC1024 are written"
    assert str(fault) == said


def test_many_differences_are_counted(tmp_path: Path):
    path = write_dxf(sheet_of("tiny"), tmp_path / "a.dxf")
    found = check_drawing(read_written(path), sheet_of("slender"), "chip")
    told = [fault.measured for fault in found if fault.rule == "sheet: entities"]
    assert len(told) == 12
    assert told[5].endswith(" more are missing or changed")
    assert told[11].endswith(" more are not of this plan")


def test_spaces_and_what_they_hold_are_named(tmp_path: Path):
    path = write_dxf(sheet_of("tiny"), tmp_path / "a.dxf")
    document = ezdxf.readfile(path)
    document.layouts.new("Other").add_circle((1, 1), 2)
    document.saveas(path)
    said = {fault.measured for fault in check_drawing(read_written(path), sheet_of("tiny"), "chip")}
    assert said == {"a CIRCLE on paper 'Other'"}


def test_what_stands_on_the_paper_layout_and_is_not_ours_is_named(tmp_path: Path):
    path = write_dxf(sheet_of("tiny"), tmp_path / "a.dxf")
    document = ezdxf.readfile(path)
    layout = document.layout("Print on A4")
    layout.add_circle((1, 1), 2)
    port = next(one for one in layout if one.dxftype() == "VIEWPORT" and one.dxf.id != 1)
    port.dxf.view_height *= 1.01
    document.saveas(path)
    found = check_drawing(read_written(path), sheet_of("tiny"), "chip")
    assert {fault.rule for fault in found} == {"sheet: paper"}
    said = " ".join(fault.measured for fault in found)
    assert "a circle on 0 at (1.0, 1.0) mm is not of this plan" in said
    assert "a viewport on DEFPOINTS" in said and "is missing or changed" in said
