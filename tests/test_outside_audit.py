"""Written plans audited from outside: YAML, DXF and summary alone, and no code of ours.

The program runs as a process of its own. What it wrote is read with ezdxf and a YAML reader,
and measured with shapely; lengths in the project files are read here anew.
"""

from __future__ import annotations

import json
import random
import re
import shutil
import subprocess
import sys
from fractions import Fraction
from functools import cache
from itertools import combinations
from pathlib import Path

import ezdxf
import ezdxf.path
import pytest
import yaml
from shapely import affinity
from shapely.geometry import Point, Polygon, box

ROOT = Path(__file__).parents[1]
DEMOS = ("first_cut", "launch_to_dinghy", "tender_to_sloop")
GENERATED = "generated"

TOLERANCE_MM = 0.05
"""Chords of drawn arcs are this near to them."""
STATED_MM = 0.01
POINTS = 0.01
"""Per cent of the wood to which shares agree."""

MM = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8}
USUAL = {"kerf": 3.0, "trim": 1.5, "blade_clearance": 6.0}


def millimetres(given, unit):
    """Return a length as written in a project file in mm; tables of offsets are not read."""
    if not isinstance(given, str):
        return float(given) * MM[unit]
    total = 0.0
    for number, own in re.findall(r"((?:\d+ )?\d+/\d+|[\d.]+)\s*([a-z]+)?", given):
        size = sum(Fraction(piece) for piece in number.split())
        total += float(size) * MM[own or unit]
    return -total if given.strip().startswith("-") else total


def yaml_of(path):
    return yaml.safe_load(path.read_text(encoding="utf-8"))


def boards_of(project, data):
    """Return each board's entry by name, with the unit of the file that it stands in."""
    found = {}
    for entry in data["stock"]:
        stock, unit, defaults = [entry], data["unit"], {}
        if "file" in entry:
            held = yaml_of(project.parent / entry["file"])
            stock, unit, defaults = held["boards"], held["unit"], held.get("defaults", {})
        for board in stock:
            own = {**defaults, **board}
            own["keep_outs"] = defaults.get("keep_outs", []) + board.get("keep_outs", [])
            found[str(board["board"])] = (own, unit)
    return found


def entry_of(name, boards):
    """Return a board's entry: a leaf D/1 and one of several alike C-02 have their board's."""
    bare = name.partition("/")[0]
    return boards.get(bare) or boards[bare.rpartition("-")[0]]


def outline_in_yaml(entry, unit):
    """Return the outline of a board where its entry says it in so many words, or None."""

    def mm(given):
        return millimetres(given, unit)

    if "outline" in entry:
        return Polygon([(mm(x), mm(y)) for x, y in entry["outline"]])
    if "widths" in entry:
        spec = entry["widths"]
        low = spec.get("lower") or [0] * len(spec["at"])
        under = [(mm(x), mm(y)) for x, y in zip(spec["at"], low, strict=True)]
        over = [(x, y + mm(w)) for (x, y), w in zip(under, spec["width"], strict=True)]
        return Polygon([*under, *reversed(over)])
    if "length" in entry and "drawing" not in entry:
        return box(0, 0, mm(entry["length"]), mm(entry["width"]))
    return None


def nails_in_yaml(entry, unit):
    """Return x, y and diameter of metal that is recorded nail by nail."""
    found = []
    for keep_out in entry["keep_outs"]:
        if keep_out["kind"] != "metal" or "diameter" not in keep_out or "depth" in keep_out:
            continue
        places = [keep_out["at"]] if "at" in keep_out else keep_out.get("places", [])
        size = millimetres(keep_out["diameter"], unit)
        found += [(millimetres(x, unit), millimetres(y, unit), size) for x, y in places]
    return found


class Sheet:
    """What one DXF holds, by layer; mm."""

    def __init__(self, path):
        self.shapes = {}
        for entity in ezdxf.readfile(path).modelspace():
            kind, layer = entity.dxftype(), entity.dxf.layer
            shape = None
            if kind == "CIRCLE":
                shape = Point(*entity.dxf.center.vec2).buffer(entity.dxf.radius, quad_segs=64)
            elif kind in ("LWPOLYLINE", "POLYLINE") and entity.is_closed:
                curve = ezdxf.path.make_path(entity)
                shape = Polygon([(x, y) for x, y, _ in curve.flattening(0.005)])
            if shape is not None:
                self.shapes.setdefault(layer, []).append(shape)

    def on(self, layer):
        return self.shapes.get(layer, [])

    def pieces(self):
        """Return the pieces that are cut out, less what is cut out of them."""
        inner = self.on("SAW_OPENING")
        return [
            shape.difference(hole) if (hole := first_within(shape, inner)) else shape
            for shape in self.on("SAW_OUTLINE")
        ]


def first_within(shape, inner):
    from shapely import union_all

    held = [hole for hole in inner if shape.contains(hole)]
    return union_all(held) if held else None


def in_place(written, wanted):
    """Return whether two outlines are the same to a hundredth of a millimetre."""
    return (
        written.boundary.hausdorff_distance(wanted.boundary) <= STATED_MM
        and abs(written.area - wanted.area) <= STATED_MM * written.length
    )


class Audit:
    """One written plan, measured again; each check is an assertion that names its board."""

    def __init__(self, project, folder):
        self.data, self.folder = yaml_of(project), folder
        self.unit = self.data["unit"]
        given = self.data.get("rules", {})
        self.kerf, self.trim, self.clearance = (
            millimetres(given[key], self.unit) if key in given else usual
            for key, usual in USUAL.items()
        )
        least = given.get("least_offcut", {"length": "450 mm", "width": "75 mm"})
        self.least = [millimetres(least[key], self.unit) for key in ("length", "width")]
        self.boards = boards_of(project, self.data)
        self.summary = json.loads((folder / "summary.json").read_text(encoding="utf-8"))
        self.opened = self.used = self.kept = 0.0

    def run(self):
        assert self.summary["boards"]
        for row in self.summary["boards"]:
            self.check_board(row, Sheet(self.folder / row["file"]))
        whole = self.summary
        assert sum(len(row["parts"]) for row in whole["boards"]) == whole["parts_placed"]
        self.check_share(whole["scrap_percent"], self.used + self.kept, "all")
        self.check_share(whole["uncredited_scrap_percent"], self.used, "all")
        assert sum(whole["area_percent"].values()) == pytest.approx(100, abs=POINTS)
        assert whole["area_percent"]["offcuts"] == pytest.approx(
            100 * self.kept / self.opened, abs=POINTS
        )

    def check_share(self, stated, good, name):
        assert stated == pytest.approx(100 * (1 - good / self.opened), abs=POINTS), name

    def check_board(self, row, sheet):
        name = row["board"]
        (board,) = sheet.on("BOARD_EDGE")
        pieces, metal, offcuts = sheet.pieces(), sheet.on("METAL"), sheet.on("OFFCUT_KEPT")
        entry, unit = entry_of(name, self.boards)
        outline = outline_in_yaml(entry, unit)
        assert outline is None or in_place(board, outline), name
        for x, y, size in nails_in_yaml(entry, unit):
            nail = Point(x, y).buffer(size / 2, quad_segs=64)
            assert any(nail.difference(drawn).area < 0.05 for drawn in metal), (name, x, y)
        assert len(pieces) == len(row["parts"]), name
        self.check_pieces(name, board, pieces, metal)
        self.check_offcuts(row, board, pieces, metal, offcuts)
        used, kept = sum(p.area for p in pieces), sum(o.area for o in offcuts)
        self.opened, self.used, self.kept = (
            self.opened + board.area, self.used + used, self.kept + kept,
        )  # fmt: skip
        scrap = 100 * (1 - (used + kept) / board.area)
        assert row["scrap_percent"] == pytest.approx(scrap, abs=POINTS), name
        assert row["area_percent"]["parts"] == pytest.approx(100 * used / board.area, abs=POINTS)

    def check_pieces(self, name, board, pieces, metal):
        room = board.buffer(TOLERANCE_MM - self.trim, join_style="mitre")
        for number, piece in enumerate(pieces):
            assert room.contains(piece), (name, number, "runs off the board")
            for nail in metal:
                needed = self.kerf + self.trim + self.clearance - TOLERANCE_MM
                assert piece.distance(nail) >= needed, (name, number, "metal")
        for one, other in combinations(pieces, 2):
            needed = self.kerf + 2 * self.trim - TOLERANCE_MM
            assert one.distance(other) >= needed, (name, "two pieces")

    def check_offcuts(self, row, board, pieces, metal, offcuts):
        name = row["board"]
        assert len(row["offcuts"]) == len(offcuts), name
        for stated in row["offcuts"]:
            x, y = stated["x_mm"], stated["y_mm"]
            rectangle = box(x, y, x + stated["length_mm"], y + stated["width_mm"])
            assert any(in_place(drawn, rectangle) for drawn in offcuts), (name, "not where stated")
            assert stated["area_mm2"] == pytest.approx(rectangle.area)
            assert stated["length_mm"] >= self.least[0] - STATED_MM, name
            assert stated["width_mm"] >= self.least[1] - STATED_MM, name
        for drawn in offcuts:
            assert board.buffer(TOLERANCE_MM, join_style="mitre").contains(drawn), name
            apart = [drawn.distance(piece) for piece in pieces]
            assert min(apart, default=1e9) >= self.kerf + self.trim - TOLERANCE_MM, name
            nails = [drawn.distance(nail) for nail in metal]
            assert min(nails, default=1e9) >= self.kerf + self.clearance - TOLERANCE_MM, name
        for one, other in combinations(offcuts, 2):
            assert one.distance(other) >= self.kerf - TOLERANCE_MM, name


def generated_text():
    """Return a project of 60 boards, in inches, nailed at random; parts of several sizes."""
    rng = random.Random(7)
    lines = [
        "version: 1", "name: Sixty boards", "unit: in",
        "rules: {kerf: 3/32, trim: 1/16, blade_clearance: 5/16, plugs: [3/8, 1/2],",
        "  least_offcut: {length: 18, width: 2 1/2}}", "stock:",
    ]  # fmt: skip
    for number in range(60):
        length, width = rng.randrange(48, 120), rng.randrange(16, 40) / 4
        species = rng.choice(["teak", "white oak"])
        lines += [
            f"  - board: S-{number + 1:02d}-x", f"    species: {species}",
            f"    thickness: {rng.choice(['1', '1 3/8', '1 3/4'])}",
            f"    length: {length}", f"    width: {width:g}", "    keep_outs:",
            f"      - {{kind: hole, diameter: 3/16, places: {places(rng, length, width, 6)}}}",
            f"      - {{kind: metal, diameter: 1/4, places: {places(rng, length, width, 4)}}}",
            f"      - {{kind: stain, diameter: 3, places: {places(rng, length, width, 1)}}}",
        ]  # fmt: skip
        if number % 3 == 0:
            nook = f"[[{length}, 0], [{length}, 1], [{length - 5}, 1 1/2], [{length - 4}, 0]]"
            lines.append(f"      - {{kind: rot, outline: {nook}}}")
    lines.append("parts:")
    for number in range(14):
        shape = f"length: {rng.randrange(14, 70)}, width: {rng.randrange(6, 16) / 4:g}"
        lines += [
            f"  - part: strake {number + 1}", "    family: ceiling strake",
            f"    quantity: {rng.randrange(2, 6)}", "    species: [teak, white oak]",
            f"    holes: {rng.choice(['clear', 'plugged', 'hidden'])}",
            f"    shape: {{{shape}, thickness: 3/4, frame_spacing: 10}}",
        ]  # fmt: skip
    return "\n".join([*lines, ""])


def places(rng, length, width, count):
    spots = [
        [round(rng.uniform(1, length - 1), 2), round(rng.uniform(0.5, width - 0.5), 2)]
        for _ in range(count)
    ]
    return json.dumps(spots)


def command(*arguments):
    return subprocess.run(
        [sys.executable, "-m", "nesting", *map(str, arguments)],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """Return project file and folder of a plan that the program has written, by name."""

    @cache
    def made(name):
        folder = tmp_path_factory.mktemp(name)
        project = ROOT / "demo_projects" / name / "project.yaml"
        if name == GENERATED:
            project = folder / "project.yaml"
            project.write_text(generated_text(), encoding="utf-8")
        ran = command(
            "nest", project, "--rounds", 1, "--workers", 1, "--write", "nothing", "-q",
            "-o", folder / "out",
        )  # fmt: skip
        assert ran.returncode in (0, 4), ran.stderr
        return project, folder / "out"

    return made


@pytest.mark.parametrize("name", [*DEMOS, GENERATED])
def test_written_plan_is_what_it_says_measured_from_outside(name, written):
    Audit(*written(name)).run()


def test_generated_project_puts_boards_metal_and_offcuts_to_the_test(written):
    audit = Audit(*written(GENERATED))
    audit.run()
    rows = audit.summary["boards"]
    assert len(audit.boards) == 60
    assert audit.summary["parts_placed"] >= 30
    assert sum(len(row["offcuts"]) for row in rows) >= 10
    assert audit.kept > 0.05 * audit.opened


@pytest.fixture
def copied(written, tmp_path):
    project, folder = written("first_cut")
    shutil.copytree(folder, tmp_path / "out")
    return project, tmp_path / "out"


def test_remeasure_agrees_with_the_audit(copied):
    project, folder = copied
    told = command("remeasure", project, "-o", folder)
    assert (told.returncode, told.stderr) == (0, "")


def change_summary(folder, change):
    path = folder / "summary.json"
    content = json.loads(path.read_text(encoding="utf-8"))
    row = next(row for row in content["boards"] if row["offcuts"])
    change(row)
    path.write_text(json.dumps(content), encoding="utf-8")


def move_offcut(row):
    row["offcuts"][0]["x_mm"] += 0.5


def praise_scrap(row):
    row["scrap_percent"] -= 0.05


@pytest.mark.parametrize("change", [move_offcut, praise_scrap])
def test_audit_and_remeasure_see_a_summary_that_was_tampered_with(change, copied):
    project, folder = copied
    change_summary(folder, change)
    with pytest.raises(AssertionError):
        Audit(project, folder).run()
    told = command("remeasure", project, "-o", folder)
    assert told.returncode == 6
    assert "sheet: offcuts: k1" in told.stdout or "scrap:" in told.stdout


@pytest.mark.parametrize("layer", ["SAW_OUTLINE", "OFFCUT_KEPT"])
def test_audit_sees_a_line_that_was_moved_onto_metal(layer, written):
    project, folder = written(GENERATED)
    audit = Audit(project, folder)
    row, sheet = next(
        (row, sheet)
        for row in audit.summary["boards"]
        if (sheet := Sheet(folder / row["file"])).on(layer) and sheet.on("METAL")
    )
    audit.check_board(row, sheet)
    nail, first = sheet.on("METAL")[0].centroid, sheet.on(layer)[0]
    sheet.shapes[layer][0] = affinity.translate(
        first, nail.x - first.centroid.x, nail.y - first.centroid.y
    )
    with pytest.raises(AssertionError):
        audit.check_board(row, sheet)
