"""Figures that only a wrong unit explains: each is doubted where it stands."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import pytest
from project_texts import BOARD, HEAD, PART, only_blocks, project_text, written

from nesting.project import read_project
from nesting.remarks import REMARKS, remarks
from nesting.remarks.odd_boat import LARGEST_SHARES, odd_boat
from nesting.remarks.unit_unstated import unit_unstated
from nesting.remarks.wide_keep_outs import wide_keep_outs

LINES = Path(__file__).parents[2] / "demo_projects" / "lines" / "withy_offsets.csv"


def told(path: Path, *wanted) -> list[str]:
    found = remarks(read_project(path), wanted)
    return [f"{Path(one.file).name}:{one.line}:{one.column}: {one.message}" for one in found]


@pytest.fixture
def _only_block_family(monkeypatch):
    monkeypatch.setattr("nesting.project.own_families.known_families", only_blocks)


# ---- keep-outs wider than their board ---------------------------------------------------------


@pytest.mark.usefixtures("_only_block_family")
@pytest.mark.parametrize(
    ("given", "place"),
    [
        ("holes: '10 at 14, 2 up'", "5:77"),
        (
            "keep_outs: [{kind: hole, diameter: 1, at: [3, 2]},"
            " {kind: hole, diameter: 10, at: [14, 2]}]",
            "5:121",
        ),
    ],
    ids=["tape note", "keep-out"],
)  # fmt: skip
def test_hole_wider_than_its_board_is_doubted_where_it_is_recorded(tmp_path, given, place):
    board = BOARD.replace("2000, width: 150", "60, width: 6").replace("40", "1").strip()
    stock = "  " + board.replace("}", f", {given}}}\n")
    parts = PART.replace("300, width: 60", "12, width: 2").replace("25", "3/4")
    text = project_text(head=HEAD.replace("mm", "in"), stock=stock, parts=parts)
    path = written(tmp_path, text)
    assert told(path, wide_keep_outs) == [
        f"project.yaml:{place}: board D-01: hole 10 in across on a board 6 in wide: is its unit "
        "right?"
    ]
    fits = written(tmp_path, text.replace("10", "5 15/16"), "fits.yaml")
    assert told(fits, wide_keep_outs) == []
    assert wide_keep_outs in REMARKS


@pytest.mark.usefixtures("_only_block_family")
@pytest.mark.parametrize(
    ("given", "doubted"),
    [
        ("80 every 300 from 100, middle", 7),
        ("60 at 100 and 900, middle", 0),
        ("30 every 300 from 100, middle", 0),
    ],
)
def test_a_row_of_holes_too_wide_for_fastenings_is_doubted(tmp_path, given, doubted):
    path = written(tmp_path, project_text(stock=BOARD.replace("}", f", holes: '{given}'}}")))
    said = f"{doubted} times hole 80 mm across: hardly fastenings; is the unit right?"
    found = told(path, wide_keep_outs)
    assert len(found) == min(doubted, 1) and all(said in one for one in found)


@pytest.mark.usefixtures("_only_block_family")
@pytest.mark.parametrize(
    "others",
    [
        "{kind: hole, diameter: 100, at: [250, 75]}",
        "{kind: hole, diameter: 60, at: [250, 75]}, {kind: hole, diameter: 60, at: [550, 75]}",
    ],
)
def test_a_row_of_wide_holes_is_doubted_behind_a_few_of_other_sizes(tmp_path, others):
    row = "{kind: hole, diameter: 80, row: {from: [400, 75], to: [1600, 75], spacing: 300}}"
    stock = BOARD.replace("}", f", keep_outs: [{others}, {row}]}}")
    (found,) = told(written(tmp_path, project_text(stock=stock)), wide_keep_outs)
    assert "5 times hole 80 mm across: hardly fastenings" in found


@pytest.mark.usefixtures("_only_block_family")
def test_knot_and_rot_right_across_a_board_are_no_doubt(tmp_path):
    given = ", knots: '160 at 400, 75 up', rot: '160 at 900, 75 up'}"
    path = written(tmp_path, project_text(stock=BOARD.replace("}", given)))
    assert told(path, wide_keep_outs) == []


# ---- drawings that state no unit --------------------------------------------------------------


def rectangle(folder: Path, name: str, units: int, length: float, width: float) -> str:
    drawing = ezdxf.new("R2010", units=units)
    corners = [(0, 0), (length, 0), (length, width), (0, width)]
    drawing.modelspace().add_lwpolyline(corners, close=True)
    drawing.saveas(folder / name)
    return name


DRAWN = """\
version: 1
name: Drawn
unit: in
stock:
  - {board: A, species: teak, thickness: 2, drawing: {file: board.dxf}}
parts:
  - part: door
    family: drawn outline
    species: teak
    shape: {file: part.dxf, thickness: 1}
"""


def test_drawings_without_a_unit_are_told_with_the_size_that_they_were_given(tmp_path):
    rectangle(tmp_path, "board.dxf", 0, 60, 6)
    rectangle(tmp_path, "part.dxf", 0, 20, 4)
    path = written(tmp_path, DRAWN)
    assert told(path, unit_unstated) == [
        "project.yaml:5:61: board A: the drawing states no unit, and was read as in, the unit of "
        "this file: it is 60 in by 6 in. If that is right, say so with unit: in, else say its own",
        "project.yaml:10:19: part door: the drawing states no unit, and was read as in, the unit "
        "of this file: it is 20 in by 4 in. If that is right, say so with unit: in, else say its "
        "own",
    ]
    assert unit_unstated in REMARKS


def test_drawing_whose_unit_somebody_states_is_not_spoken_of(tmp_path):
    rectangle(tmp_path, "board.dxf", 1, 60, 6)
    rectangle(tmp_path, "part.dxf", 0, 20, 4)
    stated = DRAWN.replace("part.dxf,", "part.dxf, unit: in,")
    assert told(written(tmp_path, stated), unit_unstated) == []


# ---- the boat ---------------------------------------------------------------------------------

BOAT = """\
version: 1
name: Odd boat
unit: in
boat:
  lines: lines/withy.csv
  frames: {first: 20, spacing: 10, count: 26, siding: 1, moulding: 1 1/2}
  keel: {siding: 4, top: 1 1/2}
  clamp: {thickness: 1, depth: 6}
  floor_heads: 12
stock:
  - {board: B1, species: Douglas-fir, thickness: 2, length: 10 ft, width: 8}
parts:
  - part: thwart
    family: plank
    species: Douglas-fir
    shape: {length: 40, width: 6, thickness: 1}
"""


@pytest.mark.parametrize(
    ("changes", "found"),
    [
        ({}, []),
        (
            {"count: 26": "count: 90"},
            ["6:43: boat: frame 90 would stand 910 in from forward, and the hull runs from"],
        ),
        (
            {"first: 20": "first: 20 ft, count: 3", ", count: 26": ""},
            [],
        ),
        (
            {"first: 20": "first: 60 ft", "count: 26": "count: 1"},
            [
                "6:19: boat: frame 1 would stand 720 in from forward",
            ],
        ),
        (
            {"spacing: 10": "spacing: 1.1"},
            ["6:32: boat: frames 1.100 in apart are hardly built: is its unit right?"],
        ),
        (
            {"spacing: 10": "spacing: 5 ft", "count: 26": "count: 2"},
            ["6:32: boat: frames 60 in apart are hardly built: is its unit right?"],
        ),
        (
            {"1 1/2}\n  keel": "15}\n  keel", "siding: 4": "siding: 40", "depth: 6": "depth: 4 ft"},
            [
                "6:68: boat: 15 in is more than 1 in 40 of her length of ",
                "7:18: boat: 40 in is more than 1 in 16 of her length of ",
                "8:32: boat: 48 in is more than 1 in 12 of her length of ",
            ],
        ),
    ],
    ids=["sound", "count", "few", "first", "close", "far", "large"],
)  # fmt: skip
def test_figures_of_the_boat_that_are_hardly_meant_are_doubted(tmp_path, changes, found):
    written(tmp_path, LINES.read_text(encoding="utf-8"), "lines/withy.csv")
    text = BOAT
    for old, new in changes.items():
        assert old in text
        text = text.replace(old, new)
    said = told(written(tmp_path, text), odd_boat)
    assert len(said) == len(found), said
    for one, begins in zip(said, found, strict=True):
        assert one.startswith(f"project.yaml:{begins}"), one
    assert odd_boat in REMARKS


def test_every_size_of_the_construction_plan_that_may_be_doubted_is_one_of_it():
    from nesting.remarks.odd_boat import _figure
    from parts.boat.plan import BoatPlan

    size = {"siding_mm": 1e4, "moulding_mm": 1e4}
    plan = BoatPlan.model_construct(
        planking_mm=1.0, floor_heads_mm=1.0, transom_mm=1.0,
        **{
            name: type("Block", (), block)
            for name, block in {
                "frames": size, "keel": size, "deck": {"thickness_mm": 1.0},
                "clamp": {"thickness_mm": 1.0, "depth_mm": 1.0}, "house": {"height_mm": 1.0},
                "beams": {kind: type("Size", (), size) for kind in ("ordinary", "main", "half")},
            }.items()
        },
    )  # fmt: skip
    assert all(_figure(plan, loc) is not None for loc in LARGEST_SHARES)
