"""Make room for one more part on a board by letting it overlap and jostle what lies there.

The parts of the board, the new one among them, move, turn within their limit on slope of grain
and turn over where they may, until nothing overlaps; else the board stays as it was.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from nesting.engine.geometry.turned import INSIDE_DEG, most_lean
from nesting.engine.jostle.chart import no_chart
from nesting.engine.jostle.field import Scene
from nesting.engine.jostle.holes import Rings
from nesting.engine.jostle.jostling import DONE, jostle
from nesting.engine.jostle.layout import (
    Shape,
    field_for,
    figures_of,
    layout_of,
    mean_size,
    near_for,
    scratch_block,
    starts,
    ways_of,
)
from nesting.engine.jostle.squeeze import Place, Squeeze
from nesting.engine.jostle.sum_table import no_table
from nesting.engine.search.crowded_wood import CrowdedWood
from nesting.engine.state.board_state import BoardState, Laid
from nesting.engine.state.placement_rules import is_acceptable
from nesting.engine.state.problem import Problem
from nesting.engine.stop import never
from nesting.flat_geometry.overlay import polygons_of, without
from nesting.flat_geometry.thinned import LESS_MM

PASSES, STALL = 60, 25
"""Passes spent on one board at most, and without headway: a board is a small puzzle, and
another board or another order is the better next try."""

MOST_TURNED = 450
"""Convex pieces, those of every way counted, up to which parts are squeezed in: each makes a sum
with each other, which for so many takes about 60 MB."""

FULLEST = 0.93
"""Share of a board's sound wood above which no more is crowded in."""


class Crowder:
    """Separates parts on the boards of a problem; keeps what it knows of each board."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self._woods: dict[int, CrowdedWood] = {}
        self._zones: dict[int, list[NDArray[np.float64]]] = {}

    def inserted(self, state: BoardState, need: int, rng: np.random.Generator) -> BoardState | None:
        """Return the board with one more part on it, all of them moved as need be, or None."""
        if not self.may_fit(state, [need]):
            return None
        wood, (items, kinds, which) = self.wood(state.board), _together(state, [need])
        shapes = [self._shape(kind, state.board) for kind in kinds]
        if any(not shape.ways for shape in shapes):
            return None
        places = self._places(state, wood, shapes[kinds.index(need)], rng)
        best = self._jostled(which, kinds, shapes, places, wood, rng)
        return None if best is None else self._state(state.board, items, best)

    def squeezed(
        self,
        state: BoardState,
        needs: Sequence[int],
        stall: int,
        rng: np.random.Generator,
        is_over: Callable[[], bool] = never,
    ) -> BoardState | None:
        """Return the board with several more parts on it, none leaning from the grain, or None.

        Not tried where the parts in all their ways are of too many convex pieces.
        """
        if not self.may_fit(state, needs):
            return None
        wood, (items, kinds, which) = self.wood(state.board), _together(state, needs)
        shapes = [replace(self._shape(kind, state.board), lean=0.0) for kind in kinds]
        turned = sum(len(shape.pieces) * len(shape.ways) for shape in shapes)
        if any(not shape.ways for shape in shapes) or turned > MOST_TURNED:
            return None
        squeeze = Squeeze(
            shapes, which, wood.wood, wood.blocks(kinds), wood.takes(kinds), self._rings(kinds)
        )
        places = squeeze.places([place_of(laid) for laid in state.laid], rng)
        best = squeeze.run(places, stall, rng, is_over)
        return None if best is None else self._state(state.board, items, best)

    def wood(self, board: int) -> CrowdedWood:
        """Return what is known of a board."""
        if board not in self._woods:
            self._woods[board] = CrowdedWood(board, self.problem)
        return self._woods[board]

    def may_fit(self, state: BoardState, needs: Sequence[int]) -> bool:
        """Return whether a board is not too full for more parts."""
        areas = [self.problem.needs[need].outline.area_mm2 for need in needs]
        area = state.used_mm2 + sum(areas)
        return area <= FULLEST * self.wood(state.board).sound_mm2

    def _shape(self, need: int, board: int) -> Shape:
        wanted, wood = self.problem.needs[need], self.problem.boards[board]
        ways = self.problem.open_turnings(need, board, is_leaning=False)
        is_straight = wanted.outline.grain.is_straight and wood.grain.is_straight
        lean = most_lean(wanted.outline) - INSIDE_DEG if is_straight else 0.0
        return Shape(
            self.problem.pieces[need],
            wanted.outline.area_mm2,
            tuple((math.radians(way.angle_deg), way.is_turned_over) for way in ways),
            math.radians(max(lean, 0.0)),
        )

    def _places(
        self,
        state: BoardState,
        wood: CrowdedWood,
        shape: Shape,
        rng: np.random.Generator,
    ) -> NDArray[np.float64]:
        rows = [(*place_of(laid), 0.0) for laid in state.laid]
        x0, y0, x1, y1 = wood.box
        angle, is_over = shape.ways[int(rng.integers(len(shape.ways)))]
        rows.append((rng.uniform(x0, x1), rng.uniform(y0, y1), angle, float(is_over), 0.0))
        return np.array(rows)

    def _jostled(
        self,
        items: Sequence[int],
        kinds: Sequence[int],
        shapes: Sequence[Shape],
        places: NDArray[np.float64],
        wood: CrowdedWood,
        rng: np.random.Generator,
    ) -> NDArray[np.float64] | None:
        figures = figures_of(shapes)
        layout = layout_of(shapes, figures, items, places)
        ways = ways_of(shapes, wood.blocks(kinds), wood.takes(kinds))
        unit = mean_size(shapes, items)
        scene = Scene(layout, wood.wood, ways, figures, self._rings(kinds), no_table(), no_chart())
        field, near = field_for(layout, wood.wood, figures, scene.table), near_for(scene)
        best = np.empty((len(items), 5))
        least, _ = jostle(
            int(rng.integers(2**31)), PASSES, STALL, DONE, unit, field, near,
            scratch_block(figures), scene, best,
        )  # fmt: skip
        return best if least < DONE else None

    def _rings(self, kinds: Sequence[int]) -> Rings:
        outlines = [self.problem.needs[kind].outline for kind in kinds]
        rings = [_segments(outline.shape) for outline in outlines]
        zones = [self._zones_of(kind) for kind in kinds]
        flat = [zone for group in zones for zone in group]
        return Rings(
            np.concatenate(rings),
            starts([len(ring) for ring in rings]),
            np.concatenate(flat) if flat else np.zeros((0, 4)),
            starts([len(zone) for zone in flat]),
            starts([len(group) for group in zones]),
        )

    def _zones_of(self, kind: int) -> list[NDArray[np.float64]]:
        """Return the edges of what a need's bungs may not reach into, (k, 4) each.

        That is its bearing zones, and what bevels take off, as wide again as a bung keeps off.
        """
        if kind not in self._zones:
            outline = self.problem.needs[kind].outline
            zones = [zone.region for zone in outline.bearing_zones]
            if outline.bung_room is not outline.shape:
                taken = without(outline.shape, outline.bung_room)
                reach = self.problem.rules.plug_edge_mm + LESS_MM
                zones += polygons_of(taken.buffer(reach, quad_segs=2).simplify(LESS_MM))
            self._zones[kind] = [_segments(zone) for zone in zones]
        return self._zones[kind]

    def _state(
        self, board: int, items: Sequence[int], best: NDArray[np.float64]
    ) -> BoardState | None:
        state = BoardState(board)
        for need, (x, y, angle, face, _) in zip(items, best, strict=True):
            figure = self.problem.figure(need, math.degrees(angle), is_over=bool(face > 0.5))
            if not is_acceptable(figure, float(x), float(y), board, self.problem):
                return None
            state = state.with_part(Laid(need, figure, float(x), float(y)))
        return state


def _together(state: BoardState, needs: Sequence[int]) -> tuple[list[int], list[int], list[int]]:
    """Return the needs of a board's parts and more, each need once, and which each part is."""
    items = [laid.need for laid in state.laid] + list(needs)
    kinds = list(dict.fromkeys(items))
    return items, kinds, [kinds.index(item) for item in items]


def place_of(laid: Laid) -> Place:
    """Return x, y, angle in radians and face (0 or 1) of a part as it lies."""
    figure = laid.figure
    angle, face = math.radians(figure.angle_deg), float(figure.is_turned_over)
    return laid.x_mm, laid.y_mm, angle, face


def _segments(shape: Polygon) -> NDArray[np.float64]:
    """Return every edge of a polygon's rings, (k, 4)."""
    lines = []
    for ring in (shape.exterior, *shape.interiors):
        points = np.asarray(ring.coords)
        lines.append(np.hstack([points[:-1], points[1:]]))
    edges = np.concatenate(lines)
    lengths = np.hypot(edges[:, 2] - edges[:, 0], edges[:, 3] - edges[:, 1])
    return np.ascontiguousarray(edges[lengths > 0])
