from __future__ import annotations

import os
import re
from collections.abc import Callable
from functools import cache
from pathlib import Path

import ezdxf
import numpy as np
import pytest
import shapely
from sheet_nests import NESTS, nest_of, sheet_of

from nesting.errors import OutputError
from nesting.sheets import Drawing, write_dxf
from nesting.sheets.drawing import Role, Text, View
from nesting.sheets.dxf_terms import COPY_PREFIX, LAYERS, Version, layer_name
from nesting.sheets.pen import PENS
from nesting.units import Unit

VERSIONS: tuple[Version, ...] = ("R2010", "R12")
both_versions = pytest.mark.parametrize("version", VERSIONS)

Written = Callable[[str, Version], Path]


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Written:
    """Write each sheet once, for all the tests that only read it."""
    folder = tmp_path_factory.mktemp("sheets")

    @cache
    def write(name: str, version: Version) -> Path:
        return write_dxf(sheet_of(name), folder / f"{name} {version}.dxf", version=version)

    return write


@both_versions
@pytest.mark.parametrize("name", NESTS)
def test_written_sheet_passes_the_audit_with_nothing_to_mend(
    name: str, version: Version, written: Written
) -> None:
    document = ezdxf.readfile(written(name, version))
    auditor = document.audit()
    assert (list(auditor.errors), list(auditor.fixes)) == ([], [])


def test_r2010_declares_millimetres(written: Written) -> None:
    document = ezdxf.readfile(written("tiny", "R2010"))
    assert document.dxfversion == "AC1024"
    assert document.header["$INSUNITS"] == 4
    assert document.header["$MEASUREMENT"] == 1


def test_r12_is_made_of_what_old_machines_read(written: Written) -> None:
    path = written("waney", "R12")
    document = ezdxf.readfile(path)
    assert document.dxfversion == "AC1009"
    kinds = {entity.dxftype() for entity in document.modelspace()}
    assert kinds == {"LINE", "POLYLINE", "CIRCLE", "TEXT"}
    assert b"LWPOLYLINE" not in path.read_bytes()


def test_r12_is_written_without_a_warning(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    write_dxf(sheet_of("tiny"), tmp_path / "a.dxf", version="R12")
    assert caplog.records == []


@both_versions
def test_everything_is_drawn_by_layer_and_nothing_on_layer_0(
    version: Version, written: Written
) -> None:
    document = ezdxf.readfile(written("waney", version))
    declared = {layer.dxf.name for layer in document.layers}
    for entity in document.modelspace():
        assert entity.dxf.layer != "0"
        assert entity.dxf.layer in declared
        assert entity.dxf.get("color", 256) == 256
        assert entity.dxf.get("linetype", "BYLAYER").upper() == "BYLAYER"
        assert entity.dxf.get("lineweight", -1) == -1


@pytest.mark.parametrize("role", Role)
def test_layer_names_are_legal_in_r12_and_every_role_has_a_pen(role: Role) -> None:
    for view in View:
        assert re.fullmatch(r"[A-Z0-9_-]{1,31}", layer_name(role, view))
    assert role in PENS
    assert not LAYERS[role].startswith(COPY_PREFIX)


def test_no_two_roles_share_a_layer() -> None:
    assert len(set(LAYERS.values())) == len(Role)


def test_cuts_are_the_heaviest_lines_on_the_sheet() -> None:
    others = [pen.width_mm for role, pen in PENS.items() if not role.startswith("saw")]
    assert PENS[Role.SAW_OUTLINE].width_mm > max(others)


def test_r12_names_of_layers_styles_and_line_types_are_legal(written: Written) -> None:
    document = ezdxf.readfile(written("waney", "R12"))
    tables = (document.layers, document.styles, document.linetypes, document.appids)
    names = [entry.dxf.name.upper() for table in tables for entry in table]
    assert all(re.fullmatch(r"[A-Z0-9$_*-]{1,31}", name) for name in names), names


@both_versions
def test_extents_in_the_header_are_the_frame(version: Version, written: Written) -> None:
    drawing = sheet_of("slender")
    document = ezdxf.readfile(written("slender", version))
    low, high = document.header["$EXTMIN"], document.header["$EXTMAX"]
    assert (*tuple(low)[:2], *tuple(high)[:2]) == pytest.approx(drawing.frame)


def test_dashes_are_scaled_to_the_paper(tmp_path: Path) -> None:
    drawing = sheet_of("slender")
    document = ezdxf.readfile(write_dxf(drawing, tmp_path / "a.dxf"))
    assert document.header["$LTSCALE"] == pytest.approx(drawing.scale)


@both_versions
def test_a_second_reader_sees_the_same_cuts(version: Version, written: Written) -> None:
    """GDAL's DXF driver shares no code with ezdxf."""
    pyogrio = pytest.importorskip("pyogrio")
    nest = nest_of("two parts")
    path = written("two parts", version)
    meta, _, geometries, columns = pyogrio.raw.read(path)
    layers = columns[list(meta["fields"]).index("Layer")]
    shapes = shapely.from_wkb(geometries)

    def areas(layer: str) -> list[float]:
        rings = [shape for shape, name in zip(shapes, layers, strict=True) if name == layer]
        return sorted(float(shapely.Polygon(ring.coords).area) for ring in rings)

    polygons = [placement.polygon for placement in nest.placements]
    outer = sorted(shapely.Polygon(polygon.exterior).area for polygon in polygons)
    inner = [shapely.Polygon(ring).area for polygon in polygons for ring in polygon.interiors]
    assert areas("SAW_OUTLINE") == pytest.approx(outer, rel=1e-9)
    assert areas("SAW_OPENING") == pytest.approx(inner, rel=1e-9)
    assert areas("BOARD_EDGE") == pytest.approx([nest.board.area_mm2], rel=1e-9)
    bounds = shapely.total_bounds(
        np.array([s for s, n in zip(shapes, layers, strict=True) if n == "SHEET_FRAME"])
    )
    assert tuple(bounds) == pytest.approx(sheet_of("two parts").frame)


@both_versions
def test_the_same_drawing_gives_the_same_bytes(
    version: Version, written: Written, tmp_path: Path
) -> None:
    first = written("locker", version)
    second = write_dxf(sheet_of("locker"), tmp_path / "b.dxf", version=version)
    assert first.read_bytes() == second.read_bytes()


def test_an_existing_file_is_not_overwritten_unasked(tmp_path: Path) -> None:
    path = tmp_path / "a.dxf"
    path.write_text("somebody's work")
    with pytest.raises(OutputError, match=r"a\.dxf is there already"):
        write_dxf(sheet_of("tiny"), path)
    assert path.read_text() == "somebody's work"
    assert write_dxf(sheet_of("tiny"), path, overwrite=True).read_bytes().startswith(b"  0")


@pytest.mark.parametrize("failing", ["fsync", "replace"])
def test_a_write_that_fails_leaves_the_old_file_and_nothing_else(
    failing: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.dxf"
    path.write_text("the last good one")

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, failing, fail)
    with pytest.raises(OutputError, match="No space left on device"):
        write_dxf(sheet_of("tiny"), path, overwrite=True)
    assert path.read_text() == "the last good one"
    assert [item.name for item in tmp_path.iterdir()] == ["a.dxf"]


def test_a_missing_folder_is_named(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"nowhere is no folder: make it first"):
        write_dxf(sheet_of("tiny"), tmp_path / "nowhere" / "a.dxf")


def test_a_folder_that_cannot_be_written_is_a_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The refusal is simulated: a superuser may write everywhere."""

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(OutputError, match=r"cannot be written: Permission denied; check"):
        write_dxf(sheet_of("tiny"), tmp_path / "a.dxf")
    assert list(tmp_path.iterdir()) == []


@both_versions
@pytest.mark.parametrize(
    ("given", "read"),
    [("95 %% of 100%", "95 % % of 100%"), ("a ^J b", "a ^J b"), ("Ø12\nmm", "Ø12 mm")],
)
def test_text_codes_in_names_are_not_taken_for_commands(
    given: str, read: str, version: Version, tmp_path: Path
) -> None:
    drawing = Drawing("t", (Text(given, (0, 0), 3.0, Role.NOTE),), (0, 0, 100, 100))
    document = ezdxf.readfile(write_dxf(drawing, tmp_path / "a.dxf", version=version))
    (text,) = document.modelspace()
    assert text.plain_text() == read


def test_importing_the_package_loads_no_drawing_library() -> None:
    import subprocess
    import sys

    code = (
        "import sys, nesting.sheets as s; s.cut_sheet, s.write_dxf;"
        "print([m for m in ('ezdxf', 'matplotlib', 'cadquery') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_imperial_sheets_are_still_drawn_in_millimetres(tmp_path: Path) -> None:
    path = write_dxf(sheet_of("two parts", Unit.FOOT), tmp_path / "a.dxf")
    edges = ezdxf.readfile(path).modelspace().query('LWPOLYLINE[layer=="BOARD_EDGE"]')
    xs = [x for x, *_ in edges.first.get_points()]
    assert max(xs) == pytest.approx(1700.0)
