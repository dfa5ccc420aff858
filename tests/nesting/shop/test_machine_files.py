"""Files for a router: true arcs, the order of cuts, room for the cutter, and what is refused."""

import csv
import io
import math
import re
import time
from dataclasses import replace

import ezdxf
import numpy as np
import pytest
import shapely
from ezdxf.math import bulge_to_arc
from shapely.geometry import LinearRing, Point, Polygon, box

from nesting import cli
from nesting.accounts.account import account_for
from nesting.flat_geometry.true_arcs import LEAST_CORNERS
from nesting.need import Holes, Need
from nesting.nest import CuttingPlan, Nest, Placement
from nesting.outline import Mark, MarkKind, Outline
from nesting.rules import Rules
from nesting.sheets.drawing import Role
from nesting.sheets.dxf import dxf_content
from nesting.shop.arcs import arced
from nesting.shop.check_machine import check_cutter, check_machine
from nesting.shop.machine import in_order, machine_drawing
from nesting.shop.tight_corners import tight_corners
from nesting.stock.board import Board
from nesting.stock.keep_out import KeepOutKind, circle, region
from parts.curves import arc_about

RULES = Rules()


def rounded(length=300.0, width=90.0, radius=30.0):
    """A rectangle with a round end, in chords as part families make them."""
    end = arc_about(np.array([length - radius, width / 2]), radius, -90, 90)
    side = (width - 2 * radius) / 2
    return Polygon([(0, side), *end, (0, width - side)])


def flat(polyline, step_mm=0.2):
    """Return a closed line as many points, its arcs by ezdxf's own figures."""
    points = []
    corners = list(polyline)
    for (x, y, bulge), (u, v, _) in zip(corners, [*corners[1:], corners[0]], strict=True):
        if not bulge:
            points.append((x, y))
            continue
        centre, start, end, radius = bulge_to_arc((x, y), (u, v), bulge)
        count = max(2, math.ceil((end - start) % math.tau * radius / step_mm))
        turns = np.linspace(start, start + (end - start) % math.tau, count + 1)
        some = [(centre.x + radius * math.cos(t), centre.y + radius * math.sin(t)) for t in turns]
        points += some if bulge > 0 else some[::-1]
    return Polygon(points)


def apart(one, other):
    return max(
        float(shapely.distance(a.boundary, shapely.points(shapely.get_coordinates(b))).max())
        for a, b in ((one, other), (other, one))
    )


def with_bulges(line):
    bulges = line.bulges or (0.0,) * len(line.points)
    return [(*point, bulge) for point, bulge in zip(line.points, bulges, strict=True)]


def test_a_round_end_is_one_true_arc_of_its_radius():
    line = arced(rounded().exterior, Role.ROUT_OUTLINE)
    arcs = [(n, bulge) for n, bulge in enumerate(line.bulges) if bulge]
    ((at, bulge),) = arcs
    start, end = line.points[at], line.points[(at + 1) % len(line.points)]
    _, _, _, radius = bulge_to_arc(start, end, bulge)
    assert radius == pytest.approx(30.0, abs=0.01)
    true = Point(270, 45).buffer(30, quad_segs=512)
    assert apart(flat(with_bulges(line)).intersection(box(270, 0, 400, 90)),
                 true.intersection(box(270, 0, 400, 90))) < 0.01  # fmt: skip


def test_a_circle_is_three_arcs_and_a_rectangle_none():
    ring = Point(5, 7).buffer(12, quad_segs=17).exterior
    line = arced(ring, Role.ROUT_OPENING)
    assert len(line.points) == 3 and all(line.bulges)
    assert apart(flat(with_bulges(line)), Point(5, 7).buffer(12, quad_segs=256)) < 0.01
    for square in (box(0, 0, 9, 9), box(0, 0, 800, 60)):
        assert arced(square.exterior, Role.ROUT_OUTLINE).bulges == ()


@pytest.mark.parametrize("seed", range(12))
def test_any_ring_with_arcs_stays_within_a_twentieth(seed):
    rng = np.random.default_rng(seed)
    turns = np.linspace(0, math.tau, int(rng.integers(9, 400)), endpoint=False)
    waves = rng.normal(size=3) * (0.1, 0.05, 0.02)
    radius = 200 * (1 + sum(w * np.sin((n + 2) * turns) for n, w in enumerate(waves)))
    points = np.column_stack([radius * np.cos(turns), radius * np.sin(turns)])
    shape = Polygon(np.round(points, int(rng.integers(1, 5))))
    line = arced(shape.exterior, Role.ROUT_OUTLINE)
    assert apart(flat(with_bulges(line)), shape) <= 0.0501
    assert len(line.points) <= len(points)


def test_three_corners_are_no_arc():
    assert LEAST_CORNERS == 4
    bent = LinearRing([(0, 0), (100, 0.02), (200, 0), (200, 80), (0, 80)])
    assert arced(bent, Role.ROUT_OUTLINE).bulges == ()


def nest(*, metal_y=150.0, keep_out=None):
    """A board with a round-ended part with an opening and a bolt, a bung, another part, metal."""
    hole = circle(KeepOutKind.HOLE, 60, 45, 8)
    metal = keep_out or circle(KeepOutKind.METAL, 300, metal_y, 10)
    board = Board.rectangle("M-1", 900, 200, 40, "teak", keep_outs=[hole, metal])
    shape = rounded().difference(Point(150, 45).buffer(15, quad_segs=20))
    marks = (Mark(MarkKind.BOLT, ((220.0, 45.0),), "bolt", 9.0),)
    plate = Need(
        "plate", "plate", Outline(shape, 25.0, marks=marks), ("teak",), holes=Holes.PLUGGED
    )
    bar = Need("bar", "bar", Outline(box(0, 0, 200, 50), 25.0), ("teak",))
    return Nest(board, (Placement(bar, 500, 20, 12.0), Placement(plate, 5, 5)))


def written(one, cutter=RULES.kerf_mm, version="R2010", rules=RULES):
    account = account_for(CuttingPlan((one,)), rules).boards[0]
    corners = [corner for p in in_order(one) for corner in tight_corners(p, cutter)]
    return dxf_content(machine_drawing(one, account, rules, cutter, corners), version)


@pytest.mark.parametrize("version", ["R2010", "R12"])
def test_a_machine_file_read_by_a_library_is_the_plan(tmp_path, version):
    one = nest()
    path = tmp_path / "machine.dxf"
    path.write_bytes(written(one, version=version))
    document = ezdxf.readfile(path)
    assert not document.audit().errors
    entities = list(document.modelspace())
    layers = [entity.dxf.layer for entity in entities]
    assert set(layers) == {
        "BOARD_EDGE", "METAL_NO_CUTTER", "BORE_BUNG", "BORE_BOLT", "ROUT_OPENING", "ROUT_OUTLINE",
    }  # fmt: skip
    assert layers.index("ROUT_OUTLINE") > max(
        n for n, layer in enumerate(layers) if layer != "ROUT_OUTLINE"
    )
    assert {entity.dxftype() for entity in entities} <= {"CIRCLE", "LWPOLYLINE", "POLYLINE"}
    lines = {}
    for entity in entities:
        if entity.dxftype() == "LWPOLYLINE":
            assert entity.closed
            lines.setdefault(entity.dxf.layer, []).append([(v[0], v[1], v[4]) for v in entity])
        elif entity.dxftype() == "POLYLINE":
            assert entity.is_closed
            corners = [(v.dxf.location.x, v.dxf.location.y, v.dxf.bulge) for v in entity.vertices]
            lines.setdefault(entity.dxf.layer, []).append(corners)
    plate, bar = (flat(corners) for corners in lines["ROUT_OUTLINE"])
    shapes = {p.need.part: p.polygon for p in one.placements}
    assert apart(plate, Polygon(shapes["plate"].exterior)) < 0.05
    assert apart(bar, shapes["bar"]) < 0.05
    (opening,) = lines["ROUT_OPENING"]
    assert apart(flat(opening), Polygon(shapes["plate"].interiors[0])) < 0.05
    holes = {
        entity.dxf.layer: (entity.dxf.center.x, entity.dxf.center.y, entity.dxf.radius)
        for entity in entities
        if entity.dxftype() == "CIRCLE"
    }
    assert holes["BORE_BOLT"] == pytest.approx((225.0, 50.0, 4.5))
    assert holes["BORE_BUNG"] == pytest.approx((60.0, 45.0, RULES.plug_sizes_mm[0] / 2))
    assert holes["METAL_NO_CUTTER"] == pytest.approx((300, 150, 5 + RULES.blade_clearance_mm))


def test_a_sound_file_passes_the_referee():
    for keep_out in (None, region(KeepOutKind.METAL, [(380, 150), (420, 150), (400, 180)])):
        one = nest(keep_out=keep_out)
        assert check_machine(written(one), one, RULES, RULES.kerf_mm) == ()


def test_beside_metal_the_plan_s_own_chords_are_kept():
    # The round end's true arc lies up to a twentieth outside its chords: not where metal is.
    least = RULES.clearance_mm(KeepOutKind.METAL)
    shape = Polygon(nest().placements[1].polygon.exterior)
    near = shape.bounds[2] + least + 5.0
    one = nest(keep_out=circle(KeepOutKind.METAL, near, 50, 10))
    assert shape.distance(Point(near, 50)) - 5.0 == pytest.approx(least, abs=1e-3)
    content = written(one).decode()
    assert check_machine(content.encode(), one, RULES, RULES.kerf_mm) == ()
    outlines = content.split("ROUT_OUTLINE\n100\nAcDbPolyline")
    assert len(outlines) == 3 and "\n 42\n" not in outlines[1]


TAMPERED = {
    "machine: cut line": lambda text: re.sub(
        r"(?s)(ENTITIES.*?\n 42\n-?0\.)", r"\g<1>9", text, count=1
    ),
    "machine: strays": lambda text: text.replace("  8\nBORE_BOLT", "  8\nSCRIBE_BOLT"),
    "machine: holes": lambda text: text.replace(" 40\n4.5\n", " 40\n4.6\n"),
    "machine: metal": lambda text: text.replace(" 40\n11.0\n", " 40\n10.5\n"),
    "machine: board": lambda text: text.replace("\n 10\n900.0", "\n 10\n899.0"),
    "machine: parts": lambda text: text.replace("  8\nROUT_OPENING", "  8\nROUT_OUTLINE"),
    "machine: reading": lambda text: text[: len(text) // 2],
}


@pytest.mark.parametrize("rule", TAMPERED)
def test_whatever_is_off_in_a_file_is_found(rule):
    one, text = nest(), written(nest()).decode()
    changed = TAMPERED[rule](text)
    assert changed != text
    faults = check_machine(changed.encode(), one, RULES, RULES.kerf_mm)
    assert rule in {fault.rule for fault in faults}


def test_an_opening_after_an_outline_is_found():
    one, text = nest(), written(nest()).decode()
    swapped = text.replace("  8\nROUT_OPENING", "  8\nX").replace(
        "  8\nROUT_OUTLINE", "  8\nROUT_OPENING", 1
    ).replace("  8\nX", "  8\nROUT_OUTLINE")  # fmt: skip
    rules = {fault.rule for fault in check_machine(swapped.encode(), one, RULES, 3.0)}
    assert "machine: order" in rules


def test_a_line_that_a_cutter_would_take_past_metal_or_into_a_part_is_found():
    one = nest()
    wide = check_machine(written(one), one, RULES, 100.0)
    assert {"machine: metal", "machine: neighbours"} & {fault.rule for fault in wide}
    close = replace(
        one, board=replace(one.board, keep_outs=(circle(KeepOutKind.METAL, 310, 50, 6),))
    )
    rules = {f.rule for f in check_machine(written(close), close, RULES, RULES.kerf_mm)}
    assert "machine: metal" in rules


def test_a_cutter_has_the_room_of_kerf_and_trim():
    assert check_cutter(4.5, RULES) == ()
    (fault,) = check_cutter(6.35, RULES)
    assert "set kerf to the cutter's diameter" in fault.measured


def test_inside_corners_that_a_cutter_does_not_reach_are_told_with_what_it_leaves():
    square = Polygon([(0, 0), (100, 0), (100, 60), (40, 60), (40, 100), (0, 100)])
    need = Need("angle", "angle", Outline(square, 20.0), ("teak",))
    (corner,) = tight_corners(Placement(need, 10, 20), 6.0)
    assert (corner.x_mm, corner.y_mm) == pytest.approx((50, 80))
    assert corner.left_mm == pytest.approx(3 * (math.sqrt(2) - 1), abs=0.01)
    round_corner = square.buffer(5, quad_segs=32).buffer(-10, quad_segs=32).buffer(5, quad_segs=32)
    eased = Need("angle", "angle", Outline(round_corner, 20.0), ("teak",))
    assert tight_corners(Placement(eased, 0, 0), 9.5) == ()
    assert len(tight_corners(Placement(eased, 0, 0), 13.0)) == 1
    slot = box(0, 0, 100, 60).difference(box(30, 20, 70, 24))
    narrow = Need("slotted", "slotted", Outline(slot, 20.0), ("teak",))
    (found,) = tight_corners(Placement(narrow, 0, 0), 6.0)
    assert 30 <= found.x_mm <= 70 and 20 <= found.y_mm <= 24


def test_a_machine_file_of_very_many_corners_and_nails_takes_no_minutes():
    """A wave of 8,000 corners, of which hundreds are tight, and 400 nails: 2 s (before, 70)."""
    t = np.linspace(0, 2 * math.pi, 8_000, endpoint=False)
    wave = Polygon(np.column_stack([(250 + 6 * np.sin(80 * t)) * np.cos(t), 70 * np.sin(t)]))
    need = Need("wave", "wave", Outline(wave, 20.0), ("teak",))
    nails = [circle(KeepOutKind.METAL, 10 + 4.5 * k, 190 - k % 3, 3) for k in range(400)]
    board = Board.rectangle("M-2", 1900, 200, 40, "teak", keep_outs=nails)
    one = Nest(board, tuple(Placement(need, 280 + 550 * k, 90) for k in range(3)))
    begun = time.process_time()
    assert check_machine(written(one), one, RULES, RULES.kerf_mm) == ()
    assert time.process_time() - begun < 15


PROJECT = """\
version: 1
name: Shop
unit: mm
rules: {{kerf: 3, trim: 1}}
stock:
  - board: A
    species: teak
    thickness: 30
    length: 1200
    width: 160
    keep_outs: [{{kind: metal, diameter: 8, at: [1000, 80]}}]
parts:
  - {{part: rail, family: plank, species: teak, shape: {{length: 900, width: 70, thickness: 22}}}}
outputs: {{write: [machine], folder: out{more}}}
"""


def corner_rows(folder):
    text = (folder / "out/machine-corners.csv").read_text("utf-8")
    return list(csv.reader(io.StringIO(text)))


def test_machine_files_come_with_a_plan(tmp_path, capsys):
    path = tmp_path / "project.yaml"
    path.write_text(PROJECT.format(more=""))
    assert cli.main(["nest", str(path), "--rounds", "0", "--workers", "1", "-q"]) == 0
    assert (tmp_path / "out" / "machine-A.dxf").exists()
    assert corner_rows(tmp_path) == [[
        "board", "part", "x in the file, mm", "y in the file, mm", "along (mm)", "across (mm)",
        "wood left (mm)", "cutter (mm)",
    ]]  # fmt: skip
    assert cli.main(["remeasure", str(path)]) == 0


@pytest.mark.parametrize(
    ("more", "given", "code", "said"),
    [
        (", cutter: 6", [], 2, "a cutter of 6 mm takes more than the 4 mm that kerf and trim"),
        ("", ["--cutter", "1/4 in"], 2, "a cutter of 6.35 mm takes more than the 4 mm"),
        ("", ["--cutter", "60"], 2, "a cutter is 60 mm across, must be over 0 mm and at most 50"),
        (", cutter: 0", [], 3, "cutter"),
    ],
)
def test_a_cutter_that_cannot_be_is_refused_before_the_search(
    tmp_path, capsys, more, given, code, said
):
    path = tmp_path / "project.yaml"
    path.write_text(PROJECT.format(more=more))
    assert cli.main(["nest", str(path), "--rounds", "0", *given]) == code
    assert said in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


ANGLE = """<svg xmlns="http://www.w3.org/2000/svg" width="400mm" height="100mm"
 viewBox="0 0 400 100"><path d="M0 0H400V40H60V100H0Z"/></svg>"""

SLOPING = """
version: 1
name: on the slope
unit: in
rules: {kerf: 1/8, trim: 1/8}
stock:
  - {board: A, species: teak, thickness: 1, outline: [[0, 0], [50, 3], [50, 12], [0, 9]]}
parts:
  - part: angle
    family: drawn outline
    species: teak
    shape: {file: angle.svg, thickness: 3/4}
outputs: {write: [machine, lists], folder: out}
"""


def test_a_tight_corner_is_told_from_the_base_line_as_all_places_in_lists_are(tmp_path, capsys):
    """The lower edge, 3 in 50 off the x axis, is the base line: along is not x."""
    (tmp_path / "angle.svg").write_text(ANGLE)
    path = tmp_path / "project.yaml"
    path.write_text(SLOPING)
    assert cli.main(["nest", str(path), "--rounds", "0", "--workers", "1", "-q"]) == 0
    head, row = corner_rows(tmp_path)
    assert head[4:] == ["along (in)", "across (in)", "wood left (in)", "cutter (in)"]
    x, y, along, across, _, cutter = map(float, row[2:])
    turn = math.atan2(3, 50)
    expected = (
        (x * math.cos(turn) + y * math.sin(turn)) / 25.4,
        (y * math.cos(turn) - x * math.sin(turn)) / 25.4,
    )
    assert (along, across) == pytest.approx(expected, abs=1e-4)
    assert abs(across * 25.4 - y) > 1.0
    assert cutter == 0.125
    content = ezdxf.readfile(tmp_path / "out/machine-A.dxf").modelspace()
    (ring,) = (e for e in content if e.dxf.layer == "TIGHT_CORNER")
    assert (ring.dxf.center.x, ring.dxf.center.y) == pytest.approx((x, y), abs=1e-3)
