"""The referee's look at a machine file: read again, arcs and all, and measured against the plan.

It goes by the file's own figures and shares nothing with what fits the arcs.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from shapely.geometry import Polygon

from nesting.flat_geometry.line_distances import distances
from nesting.nest import Nest, Placement
from nesting.outline import MarkKind
from nesting.referee.fault import Fault
from nesting.rules import TOUCH_MM, Rules
from nesting.sheets.entities import Figures, figures_of
from nesting.sheets.records import entities_of, sections_of
from nesting.stock.keep_out import KeepOutKind

OFF_MM = 0.05
"""A machine's line leaves the plan's outline by this much at most."""

PLACE_MM = 0.01
"""Holes and the board's edge lie where the plan has them to this."""

SAMPLED_MM = 0.001
"""An arc is measured by chords that leave it by no more."""

OUTLINE, OPENING, BOARD = "ROUT_OUTLINE", "ROUT_OPENING", "BOARD_EDGE"
BOLT, BUNG, METAL, CORNER = "BORE_BOLT", "BORE_BUNG", "METAL_NO_CUTTER", "TIGHT_CORNER"
LAYERS = {BOARD, METAL, CORNER, BUNG, BOLT, OPENING, OUTLINE}
"""All that a machine file may hold."""


def check_cutter(cutter_mm: float, rules: Rules) -> tuple[Fault, ...]:
    """Return why a cutter is too wide for any plan by these rules, if it is.

    A plan leaves room for the kerf and, around every part, for its trim: a wider cut would come
    nearer to metal than the blade clearance.
    """
    room = rules.kerf_mm + rules.trim_mm
    if cutter_mm <= room + TOUCH_MM:
        return ()
    said = (
        f"a cutter of {cutter_mm:g} mm takes more than the {room:g} mm that kerf and trim leave "
        "beside a part, and would come nearer to metal than the blade clearance: set kerf to the "
        "cutter's diameter and nest again, or take a smaller cutter"
    )
    return (Fault("machine: cutter", "", said),)


def check_machine(content: bytes, nest: Nest, rules: Rules, cutter_mm: float) -> tuple[Fault, ...]:
    """Return every difference between a machine file and its plan, every rule that it breaks."""
    name = nest.board.name
    try:
        found = [figures_of(record) for record in entities_of(sections_of(content)["ENTITIES"])]
        drawn = [figures for figures in found if figures is not None]
        if len(drawn) != len(found):
            return (Fault("machine: strays", name, "it holds what no machine file has"),)
        return (
            *_check_kinds(drawn, name),
            *_check_places(drawn, nest, rules),
            *_check_parts(drawn, nest, rules, cutter_mm),
        )
    except (ValueError, LookupError) as error:
        return (Fault("machine: reading", name, f"the file cannot be read: {error}"),)


def _check_kinds(drawn: Sequence[Figures], name: str) -> Iterator[Fault]:
    order = list[str]()
    for one in drawn:
        is_cut = one.kind == "polyline" and one.words[:1] == ("closed",)
        if one.layer not in LAYERS or not (is_cut or one.kind == "circle") or one.odd:
            yield Fault("machine: strays", name, f"a {one.kind} on layer {one.layer}")
        order.append(one.layer)
    if OUTLINE in order and OPENING in order[order.index(OUTLINE) :]:
        yield Fault("machine: order", name, "an opening comes after an outline")


def ring_of(figures: Figures) -> Polygon:
    """Return what a closed line encloses, its arcs as many short chords; of a circle likewise."""
    if figures.kind == "circle":
        x, y, radius = figures.numbers
        half = math.acos(max(0.0, 1 - SAMPLED_MM / max(radius, SAMPLED_MM)))
        turns = np.linspace(0.0, 2 * math.pi, max(16, math.ceil(math.pi / half)) + 1)[:-1]
        return Polygon(np.column_stack([x + radius * np.cos(turns), y + radius * np.sin(turns)]))
    corners = np.array(figures.numbers).reshape(-1, 3)
    points = list[tuple[float, float]]()
    for (x, y, bulge), (u, v, _) in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        points += _along(complex(x, y), complex(u, v), float(bulge))
    return Polygon(points)


def _along(start: complex, end: complex, bulge: float) -> list[tuple[float, float]]:
    """Return points from a corner up to the next, which is left to the stretch that it begins.

    A bulge is the tangent of a quarter of the arc's angle (DXF reference, LWPOLYLINE group 42).
    """
    if bulge == 0.0:
        return [(start.real, start.imag)]
    sweep = 4 * math.atan(bulge)
    centre = start + (end - start) / (1 - complex(math.cos(sweep), math.sin(sweep)))
    radius = abs(start - centre)
    step = 2 * math.acos(max(0.0, 1 - SAMPLED_MM / max(radius, SAMPLED_MM)))
    count = max(1, math.ceil(abs(sweep) / step))
    turns = [sweep * n / count for n in range(count)]
    points = [centre + (start - centre) * complex(math.cos(t), math.sin(t)) for t in turns]
    return [(point.real, point.imag) for point in points]


def _apart(first: Polygon, second: Polygon) -> float:
    """Return how far either's corners lie from the other's edge, mm."""
    edges = first.boundary, second.boundary
    return max(
        float(distances(line, shapely.get_coordinates(other)).max())
        for line, other in (edges, edges[::-1])
    )


def _check_parts(
    drawn: Sequence[Figures], nest: Nest, rules: Rules, cutter_mm: float
) -> Iterator[Fault]:
    name = nest.board.name
    placements = sorted(nest.placements, key=lambda placement: placement.polygon.bounds)
    outlines = [ring_of(one) for one in drawn if one.layer == OUTLINE]
    openings = [ring_of(one) for one in drawn if one.layer == OPENING]
    wanted = [Polygon(ring) for p in placements for ring in p.polygon.interiors]
    counts = (len(outlines), len(openings)), (len(placements), len(wanted))
    if counts[0] != counts[1]:
        said = f"{counts[0][0]} outlines and {counts[0][1]} openings, not {counts[1]}"
        yield Fault("machine: parts", name, said)
        return
    for placement, outline in zip(placements, outlines, strict=True):
        off = _apart(outline, Polygon(placement.polygon.exterior))
        if off > OFF_MM + SAMPLED_MM:
            yield Fault("machine: cut line", name, f"{placement.label} is {off:.3f} mm off")
    # Openings keep the order of their parts but may turn round within one: the nearest counts.
    for opening in openings:
        off = min(_apart(opening, other) for other in wanted)
        if off > OFF_MM + SAMPLED_MM:
            yield Fault("machine: cut line", name, f"an opening is {off:.3f} mm off")
    yield from _check_room(placements, outlines, openings, (nest, rules, cutter_mm))


def _check_room(
    placements: Sequence[Placement],
    outlines: Sequence[Polygon],
    openings: Sequence[Polygon],
    plan: tuple[Nest, Rules, float],
) -> Iterator[Fault]:
    """Yield where a cutter that goes along the file's lines comes too near to something."""
    nest, rules, cutter_mm = plan
    name = nest.board.name
    metal = [k.polygon for k in nest.board.keep_outs if k.kind is KeepOutKind.METAL]
    least = max(rules.blade_clearance_mm + cutter_mm, rules.clearance_mm(KeepOutKind.METAL))
    solids = [
        outline.difference(shapely.union_all([o for o in openings if outline.contains(o)]))
        for outline in outlines
    ]
    near = shapely.STRtree(metal).query(solids, predicate="dwithin", distance=least - SAMPLED_MM)
    for i, j in near.T:
        far = solids[i].distance(metal[j])
        if far < least - SAMPLED_MM:
            said = f"{placements[i].label} lies {far:.3f} mm from metal, least {least:.3f} mm"
            yield Fault("machine: metal", name, said)
    tree = shapely.STRtree(solids)
    first, second = tree.query(solids, predicate="dwithin", distance=cutter_mm - SAMPLED_MM)
    for i, j in zip(first, second, strict=True):
        if i < j:
            said = f"the cutter beside {placements[i].label} cuts into {placements[j].label}"
            yield Fault("machine: neighbours", name, said)


def _check_places(drawn: Sequence[Figures], nest: Nest, rules: Rules) -> Iterator[Fault]:
    """Yield what is off of holes, the board's edge, and the room around metal."""
    name = nest.board.name
    boards = [ring_of(one) for one in drawn if one.layer == BOARD]
    if not boards or _apart(boards[0], Polygon(nest.board.shape.exterior)) > PLACE_MM:
        yield Fault("machine: board", name, "the board's edge is not where it was recorded")
    bungs = [(b.x_mm, b.y_mm, b.diameter_mm / 2) for b in nest.bungs(rules)]
    bolts = [
        (*map(float, p.to_board(np.asarray(mark.points, dtype=float))[0]), mark.diameter_mm / 2)
        for p in nest.placements
        for mark in p.need.outline.marks
        if mark.kind is MarkKind.BOLT and len(mark.points) == 1 and mark.diameter_mm
    ]
    for layer, wanted in ((BUNG, bungs), (BOLT, bolts)):
        holes = [tuple(one.numbers) for one in drawn if one.layer == layer]
        if not _agree(holes, wanted):
            yield Fault("machine: holes", name, f"{layer} is not what the plan says")
    metal = [k.polygon for k in nest.board.keep_outs if k.kind is KeepOutKind.METAL]
    shown = shapely.union_all([ring_of(one) for one in drawn if one.layer == METAL])
    kept = shown.buffer(PLACE_MM)
    shapely.prepare(kept)
    for piece in metal:
        if not kept.covers(piece.buffer(rules.blade_clearance_mm)):
            yield Fault("machine: metal", name, "the room kept around metal is too small")


def _agree(drawn: Sequence[tuple[float, ...]], wanted: Sequence[tuple[float, ...]]) -> bool:
    if len(drawn) != len(wanted):
        return False
    pairs = zip(sorted(drawn), sorted(wanted), strict=True)
    return all(
        abs(a - b) <= PLACE_MM for one, other in pairs for a, b in zip(one, other, strict=True)
    )
