"""The paper layout of a cut sheet, measured in the file by a drawing library.

What a viewport shows and how large, the ruler that proves a print, and that nothing is off the
paper or below another thing.
"""

from __future__ import annotations

from functools import cache
from itertools import combinations
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from sheet_nests import NESTS, PROJECT, RULES, account_of, nest_of, sheet_of

from nesting import cli
from nesting.sheets import write_dxf
from nesting.sheets.cut_sheet import cut_sheet
from nesting.sheets.drawing import Drawing, Text
from nesting.sheets.true_scale import IMPERIAL_SCALES, LEAST_LETTER_MM, MARGIN_MM, METRIC_SCALES
from nesting.shop.kinds import Paper
from nesting.units import Unit

quick_nests = pytest.mark.parametrize("name", [name for name in NESTS if name != "crowded"])
papers = pytest.mark.parametrize("paper", [Paper.A4, Paper.TABLOID])


@cache
def drawing_of(name: str, paper: Paper, unit: Unit = Unit.MM) -> Drawing:
    return cut_sheet(
        nest_of(name), account_of(name), RULES, project_name=PROJECT, unit=unit, paper=paper
    )


def written(drawing: Drawing, folder: Path) -> tuple[Any, Any]:
    """Return a document and its paper layout, read back by the library; its audit is clean."""
    document = ezdxf.readfile(write_dxf(drawing, folder / "a.dxf", overwrite=True))
    auditor = document.audit()
    assert (list(auditor.errors), list(auditor.fixes)) == ([], [])
    (name,) = [name for name in document.layout_names() if name != "Model"]
    return document, document.layout(name)


def ports_of(layout: Any) -> list[Any]:
    return [one for one in layout if one.dxftype() == "VIEWPORT" and one.dxf.id != 1]


@papers
@quick_nests
def test_board_is_shown_at_one_standard_scale_and_all_of_it(
    name: str, paper: Paper, tmp_path: Path
) -> None:
    for unit, scales in ((Unit.MM, METRIC_SCALES), (Unit.INCH, IMPERIAL_SCALES)):
        _, layout = written(drawing_of(name, paper, unit), tmp_path)
        ports = ports_of(layout)
        (scale,) = {round(1 / port.get_scale(), 9) for port in ports}
        assert scale in scales
        low, high = None, None
        for port in ports:
            left, bottom, right, top = port.get_modelspace_limits()
            assert right - left == pytest.approx(scale * port.dxf.width)
            assert high is None or left < high - 10 * scale, "lengths share some of the board"
            low, high = left if low is None else low, right
            edge = nest_of(name).board.shape.bounds
            assert bottom < edge[1] and top > edge[3]
        edge = nest_of(name).board.shape.bounds
        assert low < edge[0] and high > edge[2]
        text = " ".join(one.plain_text() for one in layout if one.dxftype() == "TEXT")
        assert f"scale 1:{scale:g}" in text
        assert f"Board {nest_of(name).board.name}" in text


@papers
@quick_nests
def test_paper_is_that_of_the_project_and_all_stands_on_it_apart(
    name: str, paper: Paper, tmp_path: Path
) -> None:
    drawing = drawing_of(name, paper)
    document, layout = written(drawing, tmp_path)
    plot = layout.dxf_layout.dxf
    short, long = paper.size_mm
    assert layout.name == f"Print on {paper}"
    assert (plot.paper_width, plot.paper_height, plot.plot_rotation) == (long, short, 0)
    assert plot.scale_numerator == plot.scale_denominator == 1
    wide, high = long - 2 * MARGIN_MM, short - 2 * MARGIN_MM
    boxes = [text.box for text in drawing.sheet.entities if isinstance(text, Text)]
    boxes += [
        (*port.corner, port.corner[0] + port.size[0], port.corner[1] + port.size[1])
        for port in drawing.sheet.ports
    ]
    for low_x, low_y, high_x, high_y in boxes:
        assert low_x >= -1e-6 and low_y >= -1e-6
        assert high_x <= wide + 1e-6 and high_y <= high + 1e-6
    for one, other in combinations(boxes, 2):
        across = min(one[2], other[2]) - max(one[0], other[0])
        up = min(one[3], other[3]) - max(one[1], other[1])
        assert min(across, up) <= 1e-6, (one, other)
    assert document.header["$PSLTSCALE"] == 0


@pytest.mark.parametrize(("unit", "long"), [(Unit.MM, 100.0), (Unit.INCH, 101.6)])
def test_ruler_is_as_long_on_paper_as_it_says(unit: Unit, long: float, tmp_path: Path) -> None:
    _, layout = written(drawing_of("waney", Paper.A4, unit), tmp_path)
    lines = [one for one in layout if one.dxftype() == "LINE" and one.dxf.layer == "RULER"]
    assert max(one.dxf.start.distance(one.dxf.end) for one in lines) == pytest.approx(long)
    words = " ".join(one.plain_text() for one in layout if one.dxftype() == "TEXT")
    assert f"This line is {'100 mm' if unit is Unit.MM else '4 in'} long on paper" in words


@quick_nests
def test_figures_that_come_out_small_are_told(name: str) -> None:
    for paper in (Paper.A4, Paper.TABLOID):
        drawing = drawing_of(name, paper)
        scale = drawing.sheet.ports[0].scale
        heights = [e.height_mm for e in drawing.entities if isinstance(e, Text)]
        smallest = min(heights) / scale
        told = any("mm high here" in e.text for e in drawing.sheet.entities if isinstance(e, Text))
        assert told == (round(smallest, 9) < LEAST_LETTER_MM)


def test_old_files_have_no_layout(tmp_path: Path) -> None:
    path = write_dxf(sheet_of("waney"), tmp_path / "a.dxf", version="R12")
    document = ezdxf.readfile(path)
    assert not [one for one in document.entitydb.values() if one.dxftype() == "VIEWPORT"]


def test_sheets_for_another_paper_are_remeasured_as_such(tmp_path: Path, capsys) -> None:
    project = tmp_path / "one.yaml"
    project.write_text(
        """{version: 1, name: One, unit: mm,
  stock: [{board: A, species: teak, thickness: 30, length: 900, width: 200}],
  parts: [{part: slip, family: plank, species: teak,
           shape: {length: 300, width: 90, thickness: 20}}]}"""
    )
    out = str(tmp_path / "out")
    given = ["nest", str(project), "-o", out, "--rounds", "0", "-q", "--write", "nothing"]
    assert cli.main([*given, "--paper", "tabloid"]) == 0
    assert cli.main(["remeasure", str(project), "-o", out]) == 0
    document = ezdxf.readfile(tmp_path / "out" / "board-A.dxf")
    assert "Print on tabloid" in document.layout_names()
    whole = (tmp_path / "out" / "board-A.dxf").read_bytes()
    (tmp_path / "out" / "board-A.dxf").write_bytes(
        whole.replace(b"Print on tabloid", b"Print on A4")
    )
    assert cli.main(["remeasure", str(project), "-o", out]) != 0
    assert "its layout for A4 is set up otherwise" in capsys.readouterr().out
