from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import ezdxf
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Polygon
from sheet_nests import NESTS, RULES, account_of, nest_of, rectangle, sheet_of

from nesting.accounts.account import account_board
from nesting.errors import DrawingError
from nesting.need import Need
from nesting.nest import CuttingPlan, Nest, Placement
from nesting.outline import Outline
from nesting.sheets import SheetRecord, cut_sheet, overview, read_back, write_dxf
from nesting.sheets.dxf_terms import Version
from nesting.stock.board import Board
from nesting.stock.board_outline import board_outline
from nesting.stock.keep_out import KeepOut, KeepOutKind, circle, region

VERSIONS: tuple[Version, ...] = ("R2010", "R12")
both_versions = pytest.mark.parametrize("version", VERSIONS)

AGREE_MM = 0.01
"""The referee's tolerance between plan and written file (design, list of a finished nest)."""


Records = Callable[[str, Version], SheetRecord]


@pytest.fixture(scope="module")
def records(tmp_path_factory: pytest.TempPathFactory) -> Records:
    """Write and read each sheet once."""
    folder = tmp_path_factory.mktemp("sheets")

    @cache
    def record(name: str, version: Version) -> SheetRecord:
        path = folder / f"{name} {version}.dxf"
        return read_back(write_dxf(sheet_of(name), path, version=version))

    return record


def sheet_file(nest: Nest, path: Path, version: Version) -> Path:
    drawing = cut_sheet(nest, account_board(nest, RULES), RULES, project_name="Lake skiff")
    return write_dxf(drawing, path, version=version, overwrite=True)


@both_versions
@pytest.mark.parametrize("name", NESTS)
def test_cuts_come_back_within_a_hundredth(name: str, version: Version, records: Records) -> None:
    record = records(name, version)
    cuts = {cut.label: cut for cut in record.cuts}
    assert cuts.keys() == {placement.label for placement in nest_of(name).placements}
    for placement in nest_of(name).placements:
        cut = cuts[placement.label]
        assert cut.polygon.hausdorff_distance(placement.polygon) <= AGREE_MM
        assert cut.polygon.area == pytest.approx(placement.polygon.area, abs=AGREE_MM)
        assert (cut.part, cut.copy) == (placement.need.part, placement.copy)
        assert cut.is_turned_over is placement.is_turned_over


@both_versions
@pytest.mark.parametrize("name", NESTS)
def test_board_keep_outs_and_bungs_come_back(name: str, version: Version, records: Records) -> None:
    board = nest_of(name).board
    record = records(name, version)
    assert record.board_name == board.name
    assert record.thickness_mm == board.thickness_mm
    assert record.outline.hausdorff_distance(board.shape) <= AGREE_MM
    assert [k.kind for k in record.keep_outs] == [k.kind for k in board.keep_outs]
    for got, wanted in zip(record.keep_outs, board.keep_outs, strict=True):
        assert got.core.hausdorff_distance(wanted.core) <= AGREE_MM
        assert got.reach_mm == pytest.approx(wanted.reach_mm, abs=AGREE_MM)
        assert got.is_circle == wanted.is_circle
    assert record.bungs == pytest.approx(account_of(name).bungs)
    assert record.units == {"R2010": 4, "R12": None}[version]


@both_versions
def test_inner_cuts_belong_to_their_part(version: Version, records: Records) -> None:
    record = records("two parts", version)
    holes = {cut.label: len(cut.polygon.interiors) for cut in record.cuts}
    assert holes == {"carlin": 0, "hatch beam": 1}


@both_versions
def test_odd_keep_outs_come_back_as_what_they_cover(version: Version, tmp_path: Path) -> None:
    bent = KeepOut(KeepOutKind.GROOVE, LineString([(50, 20), (150, 60), (250, 20)]), 4.0)
    island = Polygon([(300, 10), (380, 10), (380, 70), (300, 70)]).difference(
        Polygon([(330, 30), (350, 30), (350, 50), (330, 50)])
    )
    shallow = replace(circle(KeepOutKind.RECESS, 20, 20, 12), depth_mm=9.5)
    board = Board(
        "odd",
        board_outline([(0, 0), (400, 0), (400, 80), (0, 80)]),
        20,
        "elm",
        keep_outs=(bent, KeepOut(KeepOutKind.ROT, island), shallow),
    )
    record = read_back(sheet_file(Nest(board, ()), tmp_path / "a.dxf", version))
    for got, wanted in zip(record.keep_outs, board.keep_outs, strict=True):
        assert got.kind is wanted.kind
        assert got.polygon.symmetric_difference(wanted.polygon).area < AGREE_MM
        assert got.depth_mm == wanted.depth_mm


@both_versions
def test_foreign_letters_in_names_survive(version: Version, tmp_path: Path) -> None:
    outline = Outline(rectangle(100, 30), 15)
    need = Need("spant ½ høyre = 木", "floor", outline, ("eik",), quantity=2)
    board = Board("bård 木", board_outline([(0, 0), (300, 0), (300, 60), (0, 60)]), 20, "eik")
    record = read_back(
        sheet_file(Nest(board, (Placement(need, 5, 5, copy=2),)), tmp_path / "a.dxf", version)
    )
    assert record.board_name == "bård 木"
    assert [cut.label for cut in record.cuts] == ["spant ½ høyre = 木, 2 of 2"]


@settings(
    max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    x=st.floats(0.0, 1000.0),
    y=st.floats(0.0, 300.0),
    angle=st.floats(0.0, 360.0),
    is_turned_over=st.booleans(),
    version=st.sampled_from(VERSIONS),
)
def test_any_placement_keeps_its_digits(
    x: float, y: float, angle: float, is_turned_over: bool, version: Version, tmp_path: Path
) -> None:
    shape = Polygon([(0, 0), (100 / 3, 0), (250 / 7, 10 * math.pi), (5, 20)])
    need = Need("wedge", "block", Outline(shape, 10), ("elm",))
    board = Board("b", board_outline([(0, 0), (1200, 0), (1200, 400), (0, 400)]), 20, "elm")
    placement = Placement(need, x, y, angle, is_turned_over)
    record = read_back(sheet_file(Nest(board, (placement,)), tmp_path / "a.dxf", version))
    (cut,) = record.cuts
    apart = shapely.get_coordinates(cut.polygon) - shapely.get_coordinates(placement.polygon)
    assert abs(apart).max() < 1e-9


def test_an_overview_is_no_cut_sheet(tmp_path: Path) -> None:
    drawing = overview(
        CuttingPlan((nest_of("tiny"),)), [account_of("tiny")], project_name="Lake skiff"
    )
    path = write_dxf(drawing, tmp_path / "overview.dxf")
    with pytest.raises(DrawingError, match=r"no cut sheet of ours: it holds 0 tagged board edges"):
        read_back(path)


def test_a_file_that_is_no_dxf_is_named(tmp_path: Path) -> None:
    path = tmp_path / "notes.dxf"
    path.write_text("measured on Tuesday")
    with pytest.raises(DrawingError, match=r"notes\.dxf cannot be read as DXF"):
        read_back(path)
    with pytest.raises(DrawingError, match=r"absent\.dxf cannot be read"):
        read_back(tmp_path / "absent.dxf")


def test_a_cut_moved_in_the_file_is_seen(tmp_path: Path) -> None:
    """The numbers come from the geometry, not from what the tags remember."""
    path = write_dxf(sheet_of("two parts"), tmp_path / "a.dxf")
    document = ezdxf.readfile(path)
    cut = document.modelspace().query('LWPOLYLINE[layer=="SAW_OUTLINE"]').first
    cut.translate(0.5, 0.0, 0.0)
    document.saveas(path)
    record = read_back(path)
    wanted = {placement.label: placement.polygon for placement in nest_of("two parts").placements}
    apart = sorted(cut.polygon.hausdorff_distance(wanted[cut.label]) for cut in record.cuts)
    assert apart[0] < AGREE_MM
    assert apart[1] == pytest.approx(0.5)


def test_region_with_its_closing_point_is_the_same_region(tmp_path: Path) -> None:
    ring = [(10.0, 10.0), (40.0, 10.0), (40.0, 30.0), (10.0, 10.0)]
    board = Board(
        "b",
        board_outline([(0, 0), (200, 0), (200, 60), (0, 60)]),
        20,
        "elm",
        keep_outs=(region(KeepOutKind.STAIN, ring),),
    )
    record = read_back(sheet_file(Nest(board, ()), tmp_path / "a.dxf", "R2010"))
    assert record.keep_outs[0].core.equals(board.keep_outs[0].core)


@both_versions
def test_offcut_that_crosses_itself_is_told_in_one_sentence(version: Version, tmp_path) -> None:
    name = next(name for name in NESTS if account_of(name).offcuts)
    path = write_dxf(sheet_of(name), tmp_path / "kept.dxf", version=version)
    document = ezdxf.readfile(path)
    kept = document.modelspace().query("LWPOLYLINE POLYLINE[layer=='OFFCUT_KEPT']").first
    if version == "R12":
        one, other = kept.vertices[1].dxf, kept.vertices[2].dxf
        one.location, other.location = other.location, one.location
    else:
        first, one, other, last = kept.get_points("xy")
        kept.set_points([first, other, one, last], format="xy")
    document.saveas(path)
    with pytest.raises(DrawingError, match="the edge of offcut 1 is not usable: Self-inter"):
        read_back(path)
