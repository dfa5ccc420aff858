"""Points to mark out by: a batten of another make through the figures as they are printed."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from shapely.geometry import LinearRing, LineString, Polygon
from sheet_nests import NESTS, RULES, nest_of, sheet_of

from nesting.accounts.account import account_board
from nesting.marking.base_line import BaseKind, BaseLine, base_line
from nesting.marking.marking_out import marking_out
from nesting.marking.ring_corners import circle_of
from nesting.marking.tape import Tape
from nesting.need import Need
from nesting.nest import Nest, Placement
from nesting.outline import Outline
from nesting.project import read_project
from nesting.sheets import cut_sheet, read_back, write_dxf
from nesting.sheets.drawing import Polyline, Role, Text, View
from nesting.sheets.marking_tables import base_table, lines_table, points_table
from nesting.sheets.pen import PENS
from nesting.stock.board import Board
from nesting.stock.board_outline import board_outline
from nesting.units import Unit, parse_length

DEMOS = Path(__file__).parents[3] / "demo_projects"
PROJECTS = ("first_cut", "launch_to_dinghy", "tender_to_sloop")
WITHIN = {Unit.MM: 0.5, Unit.CM: 0.5, Unit.INCH: 25.4 / 64, Unit.FOOT: 25.4 / 64}
"""What the sheets state."""

Told = list[tuple[str, float, float]]
Points = NDArray[np.float64]


def printed(nest: Nest, unit: Unit) -> dict[int, Told]:
    """Return name, along and across of the points of each part, read from the table's texts."""
    found: dict[int, Told] = {}
    number = 0
    for first, *cells in points_table(marking_out(nest, Tape.of(unit)), unit).rows:
        number = int(first) if first else number
        for at in range(0, len(cells), 3):
            name, along, across = cells[at : at + 3]
            if name:
                place = parse_length(along, unit), parse_length(across, unit)
                found.setdefault(number, []).append((in_mm(name, unit), *place))
    return found


def in_mm(name: str, unit: Unit) -> str:
    """Return a point's name, the size behind it (Ø24, R3/4) in mm."""
    letter, sign, size = re.fullmatch(r"(\w+)(?: ([ØR]))?(.*)", name).groups()
    return f"{letter} {sign}{parse_length(size, unit):g}" if sign else letter


def battens(told: Told, drawn: LinearRing) -> Iterator[Points]:
    """Yield what is drawn from letter to letter: straight, struck, or along a natural spline."""
    if " Ø" in told[0][0]:
        yield struck_round(told[0])
        return
    letters = [k for k, (name, *_) in enumerate(told) if name[0].isalpha()]
    closed = np.array([place for _, *place in [*told, told[0]]])
    for start, end in zip(letters, [*letters[1:], len(told)], strict=True):
        points = closed[start : end + 1]
        if any(" R" in name for name, *_ in told[start:end]):
            assert [name for name, *_ in told[start + 1 : end]] == [told[start + 1][0]]
            yield struck(points, told[start + 1], drawn)
            continue
        chords = np.hypot(*np.diff(points, axis=0).T)
        if len(points) == 2 or not chords.all():
            yield points
            continue
        at = np.concatenate([[0.0], np.cumsum(chords)])
        spline = CubicSpline(at, points, bc_type="natural")
        yield spline(np.unique(np.concatenate([at, np.linspace(0, at[-1], 60 * len(points))])))


def struck(points: Points, centre: tuple[str, float, float], drawn: LinearRing) -> Points:
    """Return an arc about a printed centre with its printed radius, from letter to letter.

    An arc of half a turn may lie on either side of its centre: the sheet shows on which.
    """
    radius, middle = size_of(centre[0], " R"), np.array(centre[1:])
    begin, end = (math.atan2(*(place - middle)[::-1]) for place in (points[0], points[-1]))
    sweep = (end - begin + math.pi) % (2 * math.pi) - math.pi
    sweeps = (
        [sweep] if abs(sweep) < 0.9 * math.pi else [sweep, sweep - math.copysign(math.tau, sweep)]
    )
    turns = [begin + np.linspace(0, sweep, 200) for sweep in sweeps]
    arcs = [middle + radius * np.column_stack([np.cos(t), np.sin(t)]) for t in turns]
    return min(arcs, key=lambda arc: drawn.distance(shapely.Point(arc[100])))


def struck_round(centre: tuple[str, float, float]) -> Points:
    turns = np.linspace(0, 2 * math.pi, 400)
    radius = size_of(centre[0], " Ø") / 2
    return np.array(centre[1:]) + radius * np.column_stack([np.cos(turns), np.sin(turns)])


def size_of(name: str, sign: str) -> float:
    """Return the size behind a point's name, in the unit that ``printed`` read it in, mm."""
    return parse_length(name.partition(sign)[2])


def on_board(points: Points, base: BaseLine) -> Points:
    """Return measures from the base line on the board, by its own formula."""
    turn = math.radians(base.angle_deg)
    along = np.array([math.cos(turn), math.sin(turn)])
    across = np.array([-math.sin(turn), math.cos(turn)])
    return np.asarray(base.origin) + points[:, :1] * along + points[:, 1:] * across


def apart(nest: Nest, unit: Unit) -> list[float]:
    """Return how far what is marked lies from the true outer line of each part, both ways."""
    base = marking_out(nest, Tape.of(unit)).base
    found = []
    told = printed(nest, unit)
    for number, placement in enumerate(nest.placements, start=1):
        outer = placement.polygon.exterior
        inner = [shapely.get_num_interior_rings(placement.polygon)]
        assert inner == [0], "rings are told one after another"
        shape = shapely.transform(outer, base.measured)
        drawn = LineString(on_board(np.vstack(list(battens(told[number], shape))), base))
        ways = (drawn, outer), (outer, drawn)
        found.append(max(_farthest(one, other) for one, other in ways))
    return found


def _farthest(line: LineString, other: LineString) -> float:
    points = shapely.points(shapely.get_coordinates(line))
    return float(np.max(shapely.distance(points, other)))


@cache
def needs(name: str) -> tuple[Need, ...]:
    return tuple(read_project(DEMOS / name / "project.yaml").needs)


def alone(need: Need, angle_deg: float) -> Nest:
    """Return a part by itself on a board, turned, its lower left corner somewhere odd."""
    turned = Placement(need, 0.0, 0.0, angle_deg).polygon
    low_x, low_y, high_x, high_y = turned.bounds
    place = Placement(need, 7.31 - low_x, 9.77 - low_y, angle_deg)
    size = high_x - low_x + 20, high_y - low_y + 20
    edge = board_outline([(0, 0), (size[0], 0), (size[0], size[1]), (0, size[1])])
    return Nest(Board("b", edge, 200, need.species[0]), (place,))


@pytest.mark.parametrize("name", PROJECTS)
@pytest.mark.parametrize("unit", [Unit.MM, Unit.FOOT])
def test_a_batten_through_the_printed_points_is_true_for_every_part_of_the_demos(
    name: str, unit: Unit
) -> None:
    off = {
        need.part: apart(alone(need, angle), unit)[0]
        for number, need in enumerate(needs(name))
        for angle in ((0.0, 1.7, 173.2, 61.0)[number % 4],)
        if not need.outline.shape.interiors
    }
    assert off
    worst = max(off, key=lambda part: off[part])
    assert off[worst] <= WITHIN[unit] + 1e-6, worst


@pytest.mark.parametrize("name", [name for name in NESTS if name != "two parts"])
@pytest.mark.parametrize("unit", [Unit.CM, Unit.INCH])
def test_it_is_true_on_boards_with_curved_edges_and_turned_over_too(name: str, unit: Unit) -> None:
    assert max(apart(nest_of(name), unit)) <= WITHIN[unit] + 1e-6


@pytest.mark.parametrize("name", NESTS)
def test_points_told_from_the_base_line_lie_on_the_cut_line_of_the_written_sheet(
    name: str, tmp_path: Path
) -> None:
    record = read_back(write_dxf(sheet_of(name), tmp_path / "a.dxf"))
    nest, step = nest_of(name), 0.5
    base, told = marking_out(nest, Tape.of(Unit.MM)).base, printed(nest, Unit.MM)
    cuts = {cut.label: cut.polygon for cut in record.cuts}
    for number, placement in enumerate(nest.placements, start=1):
        places = on_board(np.array([place for _, *place in told[number]]), base)
        off = shapely.distance(cuts[placement.label].boundary, shapely.points(places))
        assert np.max(off) <= step / 2 * math.sqrt(2) + 0.05


def test_a_plain_plank_needs_its_corners_alone_and_they_are_lettered_round() -> None:
    (told,) = printed(nest_of("tiny"), Unit.MM).values()
    assert told == [("A", 10, 10), ("B", 70, 10), ("C", 70, 30), ("D", 10, 30)]


def test_a_figure_along_a_curve_is_round_the_way_that_the_curve_runs() -> None:
    told = printed(nest_of("locker"), Unit.MM)[1]
    curve = [(along, across) for name, along, across in told if name.isdigit()]
    assert len(curve) >= 3
    flat, steep = curve[0], curve[-1]
    assert flat[0] % 5 == 0 and steep[1] % 5 == 0


def disc(radius: float) -> Polygon:
    turns = np.linspace(0, 2 * math.pi, 90, endpoint=False)
    return Polygon(np.column_stack([50 + radius * np.cos(turns), 40 + radius * np.sin(turns)]))


def test_a_bored_cut_out_is_told_by_its_middle_and_diameter() -> None:
    shape = shapely.difference(shapely.box(0, 0, 120, 80), disc(12.0))
    nest = alone(Need("plate", "any", Outline(shape, 20), ("oak",)), 0.0)
    told = printed(nest, Unit.MM)[1]
    assert [name for name, *_ in told] == ["A", "B", "C", "D", "E Ø24"]
    assert np.hypot(told[4][1] - 57.31, told[4][2] - 49.77) <= 0.36


LIMBER = [(400, 0), (400, 90), (0, 90), (0, 0)]
"""A piece of floor timber, but for its lower edge: that comes to the limber hole and goes on."""


def limbered(radius: float, middle: float, height: float = 0.0) -> Polygon:
    """A board with a round-topped limber hole in its lower edge, chords within 0.05 mm."""
    step = 2 * math.acos(1 - 0.05 / radius)
    turns = np.linspace(math.pi, 0, math.ceil(math.pi / step) + 1)
    x, y = middle + radius * np.cos(turns), height + radius * np.sin(turns)
    foot = [(middle - radius, 0), (middle + radius, 0)] if height else []
    round_top = list(zip(x.tolist(), y.tolist(), strict=True))
    return Polygon([*foot[:1], *round_top, *foot[1:], *LIMBER])


@pytest.mark.parametrize("unit", [Unit.MM, Unit.INCH, Unit.FOOT])
@pytest.mark.parametrize("angle", [0.0, 13.0, 180.0])
@pytest.mark.parametrize("radius", [9.525, 19.05, 20.0, 31.37])
@pytest.mark.parametrize("height", [0.0, 6.0, 20.0])
def test_a_limber_hole_is_told_by_its_centre_and_radius_as_taped(unit, angle, radius, height):
    nest = alone(Need("floor", "any", Outline(limbered(radius, 150, height), 20), ("oak",)), angle)
    marked = marking_out(nest, Tape.of(unit))
    rows = points_table(marked, unit).rows
    cells = [cell for row in rows for cell in row if cell]
    assert not any("." in cell for cell in cells if unit.is_imperial), "as a rule is divided"
    told = printed(nest, unit)[1]
    (at,) = [k for k, (name, *_) in enumerate(told) if " R" in name]
    assert told[at - 1][0].isalpha() and told[(at + 1) % len(told)][0].isalpha()
    assert len(told) == 4 + 2 + 1 + (2 if height else 0)
    assert abs(size_of(told[at][0], " R") - radius) <= WITHIN[unit]
    assert apart(nest, unit)[0] <= WITHIN[unit] + 1e-6
    assert any("centre of an arc" in row[0] for row in base_table(marked, unit).rows)


def test_a_triangle_stands_at_the_centre_on_the_sheet_and_among_its_signs() -> None:
    nest = alone(Need("floor", "any", Outline(limbered(20.0, 150), 20), ("oak",)), 0.0)
    drawing = cut_sheet(nest, account_board(nest, RULES), RULES, project_name="x")
    lines = [e for e in drawing.entities if isinstance(e, Polyline)]
    (sign,) = [e for e in lines if e.role is Role.MARKED_POINT and e.view is View.FULL_SIZE]
    assert len(sign.points) == 3, "a cross would be a face or a hole"
    assert np.hypot(*(np.mean(sign.points, axis=0) - (157.31, 9.77))) <= 0.36
    said = [e.text for e in drawing.entities if isinstance(e, Text) and e.role is Role.LEGEND]
    assert sum(text.startswith("compass") for text in said) == 1
    plain = [e.text for e in sheet_of("tiny").entities if isinstance(e, Text)]
    assert not any(text.startswith("compass") for text in plain)


def test_an_arc_about_no_wood_is_told_by_its_points() -> None:
    """Nowhere on the board would a compass stand."""
    shape = limbered(20.0, 150, 0.0)
    board = Board("b", board_outline(shape.exterior.coords[:-1]), 200, "oak")
    nest = Nest(board, (Placement(Need("floor", "any", Outline(shape, 20), ("oak",)), 0, 0),))
    told = printed(nest, Unit.MM)[1]
    assert not [name for name, *_ in told if " R" in name]
    assert [name for name, *_ in told if name.isdigit()]


@pytest.mark.parametrize("corners", [8, 12])
def test_an_opening_with_straight_edges_is_no_circle(corners: int) -> None:
    turns = np.linspace(0, 2 * math.pi, corners, endpoint=False)
    port = Polygon(np.column_stack([60 + 25 * np.cos(turns), 40 + 25 * np.sin(turns)]))
    shape = shapely.difference(shapely.box(0, 0, 120, 80), port)
    told = printed(alone(Need("plate", "any", Outline(shape, 20), ("oak",)), 0.0), Unit.MM)[1]
    assert len(told) == 4 + corners and all(name.isalpha() for name, *_ in told)


def test_a_metric_hole_in_a_project_of_inches_is_told_in_fractions() -> None:
    shape = shapely.difference(shapely.box(0, 0, 120, 80), disc(13.0))
    nest = alone(Need("plate", "any", Outline(shape, 20), ("oak",)), 0.0)
    (row,) = points_table(marking_out(nest, Tape.of(Unit.INCH)), Unit.INCH).rows[-1:]
    assert "E Ø1 1/32" in row


def test_a_round_part_is_told_by_its_centre_and_a_large_one_all_round() -> None:
    small, large = (
        alone(Need("lid", "any", Outline(disc(radius), 20), ("oak",)), 20.0)
        for radius in (140.0, 400.0)
    )
    assert [name for name, *_ in printed(small, Unit.MM)[1]] == ["A Ø280"]
    assert len(printed(large, Unit.MM)[1]) > 8
    for nest in (small, large):
        assert apart(nest, Unit.MM)[0] <= 0.5
        assert apart(nest, Unit.INCH)[0] <= 25.4 / 64


def test_the_lower_edge_is_the_base_line_where_it_is_straight_and_leans_with_it() -> None:
    shape = Polygon([(0, 0), (2000, 40), (1990, 240), (10, 220)])
    base = base_line(shape, (20.0, 1900.0), Tape.of(Unit.MM))
    assert (base.kind, base.origin) == (BaseKind.EDGE, (0.0, 0.0))
    assert base.angle_deg == pytest.approx(math.degrees(math.atan2(40, 2000)))
    (place,) = base.measured(np.array([[1000.0, 20.0]]))
    assert place == pytest.approx([math.hypot(1000, 20), 0.0])


@pytest.mark.parametrize("unit", [Unit.MM, Unit.INCH])
def test_a_string_is_found_again_by_walking_along_the_edge_from_its_corners(unit: Unit) -> None:
    shape = nest_of("waney").board.shape
    base = base_line(shape, (400.0, 3500.0), Tape.of(unit))
    assert base.kind is BaseKind.STRING
    edge = shape.exterior
    for end in base.ends:
        corner = edge.project(shapely.Point(end.from_corner))
        walked = [
            edge.interpolate((corner + sign * end.measure_mm) % edge.length) for sign in (1, -1)
        ]
        assert min(point.distance(shapely.Point(end.at)) for point in walked) < 0.5
    assert shape.buffer(0.3).contains(LineString([end.at for end in base.ends]))


def test_a_bow_that_no_level_string_stays_on_has_one_from_corner_to_corner() -> None:
    x = np.linspace(0, 2000, 41)
    y = 400 * (1 - (x / 1000 - 1) ** 2)
    shape = Polygon([*zip(x, y, strict=True), *zip(x[::-1], (y + 90)[::-1], strict=True)])
    base = base_line(shape, (30.0, 1970.0), Tape.of(Unit.MM))
    assert base.kind is BaseKind.STRING
    assert [end.measure_mm for end in base.ends] == [0.0, 0.0]
    assert [end.at for end in base.ends] == [(0.0, 0.0), (2000.0, 0.0)]


def test_the_sheet_says_where_the_base_line_is_and_no_angle() -> None:
    for name in ("locker", "waney"):
        shown = [e.text for e in sheet_of(name).entities if isinstance(e, Text)]
        assert any("Base line:" in text for text in shown)
        assert not any(text.endswith("°") for text in shown)
    marked = marking_out(nest_of("waney"), Tape.of(Unit.MM))
    said = " ".join(row[0] for row in base_table(marked, Unit.MM).rows)
    assert "a string, its left end 40 mm along the edge from the corner below it" in said


def test_bolts_and_the_ends_of_scribed_lines_are_told() -> None:
    rows = lines_table(marking_out(nest_of("waney"), Tape.of(Unit.MM)), Unit.MM).rows
    assert ("1", "CL", "", "750", "40", "750", "130") in rows
    (bolt, *_) = lines_table(marking_out(nest_of("locker"), Tape.of(Unit.MM)), Unit.MM).rows
    assert bolt == ("1", "bolt", "8", "135", "37")


def capitals(name: Text) -> Polygon:
    """Return the room of a name of capitals and figures, which have no tails."""
    low_x, _, high_x, _ = name.box
    return shapely.box(low_x, name.at[1], high_x, name.at[1] + name.height_mm)


@pytest.mark.parametrize("name", NESTS)
def test_letters_on_the_wood_stand_inside_their_own_part_and_on_no_cut_line(name: str) -> None:
    drawing, nest = sheet_of(name), nest_of(name)
    whole = [e for e in drawing.entities if e.view is View.FULL_SIZE]
    names = [e for e in whole if isinstance(e, Text) and e.role is Role.MARKED_POINT]
    half_line = PENS[Role.SAW_OUTLINE].width_mm / 2 * drawing.scale
    wood = [placed.polygon.buffer(-half_line) for placed in nest.placements]
    inside = [sum(inner.contains(capitals(name)) for inner in wood) for name in names]
    assert inside == [1] * len(names)
    everywhere = [e for e in drawing.entities if e.role is Role.MARKED_POINT]
    assert everywhere, "in the view that is read"


def test_port_and_starboard_are_said_and_which_way_each_ones_marked_face_lies() -> None:
    half = next(n for n in needs("tender_to_sloop") if n.part.startswith("half beam"))
    starboard, port = (Placement(half, 0.0, 0.0, copy=copy) for copy in (1, 2))
    assert starboard.label == f"{half.part}, starboard"
    assert port.label == f"{half.part}, port"
    assert (starboard.marked_face, port.marked_face) == ("up", "down")
    turned = Placement(half, 0.0, 0.0, is_turned_over=True, copy=2)
    assert turned.marked_face == "up"
    assert {starboard.left_end, port.left_end} == {"left", "right"}


def test_no_line_but_a_cut_runs_along_a_cut_line() -> None:
    """The edge of a bevelled part's marked face is drawn where it stands off the cut line."""
    for need in needs("tender_to_sloop"):
        if not need.outline.bevels:
            continue
        nest = alone(need, 3.0)
        drawing = cut_sheet(nest, account_board(nest, RULES), RULES, project_name="x")
        edge = nest.placements[0].polygon.boundary.buffer(0.9 * drawing.scale)
        for line in drawing.entities:
            is_scribed = isinstance(line, Polyline) and line.role is Role.MARK_REFERENCE
            if is_scribed and line.view is View.FULL_SIZE:
                drawn = LineString(line.points)
                assert drawn.intersection(edge).length <= 0.35 * drawn.length + 1e-6
        return
    pytest.fail("no bevelled part in the demo")


def test_grown_grain_is_drawn_in_strokes_on_a_layer_of_its_own() -> None:
    strokes = [e for e in sheet_of("waney").entities if e.role is Role.GRAIN_LINE]
    scale = sheet_of("waney").scale
    assert len(strokes) > 50
    assert all(LineString(e.points).length < 2 * scale for e in strokes)
    assert PENS[Role.SAW_OUTLINE].width_mm > 3 * PENS[Role.GRAIN_LINE].width_mm
    assert PENS[Role.SAW_OUTLINE].width_mm > 2 * PENS[Role.FRAME].width_mm


@pytest.mark.parametrize("corners", [12, 63, 64, 65])
def test_round_opening_is_told_as_it_was_drawn_however_many_corners_its_curve_has(corners):
    """63 corners have none opposite another: its box is no middle (it was told as 80.05 mm)."""
    turns = np.linspace(0.2, 0.2 + 2 * np.pi, corners, endpoint=False)
    radius = 40.0 if corners > 12 else 1.2
    ring = np.array([140.5, 76.5]) + radius * np.column_stack([np.cos(turns), np.sin(turns)])
    middle, diameter = circle_of(ring)
    assert middle == pytest.approx((140.5, 76.5), abs=1e-6)
    assert diameter == pytest.approx(2 * radius, abs=1e-6)
