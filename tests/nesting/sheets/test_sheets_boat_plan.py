"""The lines drawing with parts: their numbers, the key, and the drawing as SVG."""

import xml.etree.ElementTree as ET
from dataclasses import dataclass

import pytest
import shapely

from nesting.errors import OutputError
from nesting.sheets.drawing import Arrow, Circle, Drawing, Polyline, Role, Text
from nesting.sheets.lines_plan import lines_plan
from nesting.sheets.plan_key import Key, KeyRow
from nesting.sheets.svg import svg_text, write_svg

SVG = "{http://www.w3.org/2000/svg}"


@dataclass(frozen=True)
class Line:
    kind: str
    name: str
    points: tuple[tuple[float, float], ...]


def ring(name, low_x, low_y, high_x, high_y):
    corners = ((low_x, low_y), (high_x, low_y), (high_x, high_y), (low_x, high_y), (low_x, low_y))
    return Line("part", name, corners)


BODY = (
    Line("section", "2", ((20.0, 100.0), (500.0, 700.0))),
    Line("section", "3", ((20.0, 90.0), (500.0, 702.0))),
    ring("floor", 50, 120, 300, 260),
)
PROFILE = (
    Line("sheer", "sheer", ((0.0, 900.0), (6000.0, 800.0))),
    ring("floor", 2000, 120, 2040, 260),
    *(ring(f"beam.{k}", 1000 + 400 * k, 780, 1040 + 400 * k, 850) for k in range(10)),
)
PLAN = (
    Line("sheer", "sheer", ((0.0, 0.0), (6000.0, 600.0))),
    ring("strake", 1000, 300, 5000, 400),
    ring("hidden", 20, 20, 30, 30),
)
ROWS = (
    KeyRow(1, "floor", "D-07", ("floor",)),
    *(KeyRow(k + 2, f"beam {k}", "B, C", (f"beam.{k}",)) for k in range(10)),
    KeyRow(12, "strake", "", ("strake",)),
)


@pytest.fixture(scope="module")
def drawing():
    return lines_plan(BODY, PROFILE, PLAN, name="Withy", key=ROWS)


def texts(drawing, role):
    return [e for e in drawing.entities if isinstance(e, Text) and e.role is role]


def test_every_part_is_numbered_once_in_the_key_and_once_in_a_view(drawing):
    numbers = sorted(int(text.text) for text in texts(drawing, Role.PART_NAME))
    assert numbers == sorted([row.number for row in ROWS] * 2)
    words = [text.text for text in texts(drawing, Role.TABLE)]
    assert words[1:] == ["floor: D-07", *(f"beam {k}: B, C" for k in range(10)), "strake"]


@pytest.mark.parametrize("low", [-400, 300], ids=["port", "starboard"])
def test_title_says_where_port_parts_are_if_there_are_any(low):
    plan = (*PLAN, ring("bracket", 2000, low, 2100, low + 80))
    found = lines_plan(BODY, PROFILE, plan, name="Withy", key=ROWS)
    rows = [text.text for text in texts(found, Role.TITLE)]
    # In one row: there is room for three above the key.
    assert len(rows) == 3
    assert ("port parts below" in rows[2]) == (low < 0)


def test_no_lettering_lies_on_lettering(drawing):
    boxes = [shapely.box(*e.box) for e in drawing.entities if isinstance(e, Text)]
    tree = shapely.STRtree(boxes)
    one, other = tree.query(boxes, predicate="intersects")
    assert [(boxes[a], boxes[b]) for a, b in zip(one, other, strict=True) if a < b] == []


def test_number_fits_in_its_part_or_stands_beside_it_on_no_line(drawing):
    parts = [shapely.LineString(e.points) for e in drawing.entities
             if isinstance(e, Polyline) and e.role is Role.PART]  # fmt: skip
    for number in texts(drawing, Role.PART_NAME):
        low_x, low_y, high_x, _ = number.box
        letters = shapely.box(low_x, number.at[1], high_x, number.at[1] + number.height_mm)
        assert not any(letters.crosses(part) for part in parts), (number, low_y)


def test_parts_are_on_a_layer_of_their_own_and_never_cut(drawing):
    roles = {entity.role for entity in drawing.entities}
    assert Role.PART in roles
    assert not roles & {Role.SAW_OPENING, Role.SAW_OUTLINE}


def test_everything_lies_in_the_frame(drawing):
    frame = shapely.box(*drawing.frame).buffer(1e-6)
    for entity in drawing.entities:
        shape = (
            shapely.box(*entity.box)
            if isinstance(entity, Text)
            else shapely.LineString(entity.points)
        )
        assert frame.contains(shape), entity


def test_key_takes_more_columns_where_it_is_low_and_more_paper_where_it_is_long():
    key = Key(ROWS)
    assert key.columns(500) == 1
    assert key.columns(30) > 1
    many = tuple(
        KeyRow(k, f"part with a long name {k}", "D-07, D-08", (f"p{k}",)) for k in range(250)
    )
    drawing = lines_plan(BODY, PROFILE, PLAN, name="Withy", key=many)
    assert drawing.scale > 10
    frame = shapely.box(*drawing.frame)
    assert all(frame.contains(shapely.box(*text.box)) for text in texts(drawing, Role.TABLE))


def test_svg_has_the_size_of_the_paper_and_every_entity(drawing):
    root = ET.fromstring(svg_text(drawing))
    wide, high = drawing.size_mm
    assert float(root.get("width").removesuffix("mm")) == pytest.approx(wide / drawing.scale + 20)
    assert float(root.get("height").removesuffix("mm")) == pytest.approx(high / drawing.scale + 20)
    words = sorted(text.text for text in root.iter(f"{SVG}text"))
    assert words == sorted(e.text for e in drawing.entities if isinstance(e, Text))
    lines = sum(isinstance(e, Polyline) for e in drawing.entities)
    assert len(list(root.iter(f"{SVG}polyline"))) == lines
    assert {group.get("id") for group in root.iter(f"{SVG}g")} >= {"PART_IN_BOAT", "PART_NAME"}


def test_svg_turns_y_down_and_keeps_millimetres():
    entities = (
        Polyline(((0.0, 0.0), (100.0, 50.0)), Role.PART),
        Circle((10.0, 20.0), 5.0, Role.NOTE),
        Arrow((0.0, 0.0), (50.0, 0.0), 3.0, Role.NOTE),
        Text("A < B & C", (1.0, 2.0), 5.0, Role.NOTE),
    )
    root = ET.fromstring(svg_text(Drawing("Test", entities, (0.0, 0.0, 200.0, 100.0), 2.0)))
    assert root.get("viewBox") == "-20 -120 240 140"
    assert next(root.iter(f"{SVG}polyline")).get("points") == "0,0 100,-50"
    circle = next(root.iter(f"{SVG}circle"))
    assert (circle.get("cx"), circle.get("cy"), circle.get("r")) == ("10", "-20", "5")
    assert next(root.iter(f"{SVG}text")).text == "A < B & C"


def test_svg_is_not_overwritten_unasked(drawing, tmp_path):
    path = write_svg(drawing, tmp_path / "boat.svg")
    with pytest.raises(OutputError, match="there already"):
        write_svg(drawing, path)
    assert write_svg(drawing, path, overwrite=True) == path
