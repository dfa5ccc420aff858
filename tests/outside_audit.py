"""A written plan measured from outside: YAML, DXF and summary alone, and no code of ours.

What was written is read with ezdxf and a YAML reader, and measured with shapely; lengths in the
project files are read here anew.
"""

from __future__ import annotations

import json
import re
from fractions import Fraction
from itertools import combinations

import ezdxf
import ezdxf.path
import pytest
import yaml
from shapely.geometry import Point, Polygon, box

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
    leafless = re.sub(r"/\d+$", "", name)
    known = (name, leafless, re.sub(r"-\d+$", "", leafless))
    return next(boards[bare] for bare in known if bare in boards)


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
