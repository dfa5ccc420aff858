"""Make room for one more part on a board by letting it overlap and separating what lies there.

The parts of the board, the new one among them, move, turn within their limit on slope of grain
and turn over where they may, until nothing overlaps; else the board stays as it was.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from nesting.engine.accept import is_acceptable
from nesting.engine.board_state import BoardState, Laid
from nesting.engine.chart import no_chart
from nesting.engine.field import Scene
from nesting.engine.ground import core_pieces
from nesting.engine.holes import Rings
from nesting.engine.layout import (
    Shape,
    bare_wood,
    field_for,
    figures_of,
    layout_of,
    near_for,
    packed_pieces,
    scratch_block,
    starts,
    ways_of,
)
from nesting.engine.problem import Problem
from nesting.engine.separation import DONE, separate
from nesting.engine.table import no_table
from nesting.engine.turned import INSIDE_DEG
from nesting.need import Need
from nesting.stock.board import Board
from nesting.stock.keep_out import PLUGGABLE
from nesting.units import slope_angle

PASSES, STALL = 60, 25
"""Passes spent on one board at most, and without headway: a board is a small puzzle, and
another board or another order is the better next try."""

FULLEST = 0.93
"""Share of a board's sound wood above which no more is crowded in."""


class Crowder:
    """Separates parts on the boards of a problem; keeps what it knows of each board."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self._woods: dict[int, CrowdedWood] = {}

    def inserted(self, state: BoardState, need: int, rng: np.random.Generator) -> BoardState | None:
        """Return the board with one more part on it, all of them moved as need be, or None."""
        if not self._may_fit(state, need):
            return None
        wood = self.wood(state.board)
        items = [laid.need for laid in state.laid] + [need]
        kinds = list(dict.fromkeys(items))
        shapes = [self._shape(kind, state.board) for kind in kinds]
        if any(not shape.ways for shape in shapes):
            return None
        places = self._places(state, need, wood, shapes[kinds.index(need)], rng)
        best = self._separated(
            [kinds.index(item) for item in items], kinds, shapes, places, wood, rng
        )
        return None if best is None else self._state(state.board, items, best)

    def wood(self, board: int) -> CrowdedWood:
        """Return what is known of a board."""
        if board not in self._woods:
            self._woods[board] = CrowdedWood(board, self.problem)
        return self._woods[board]

    def _may_fit(self, state: BoardState, need: int) -> bool:
        area = state.used_mm2 + self.problem.needs[need].outline.area_mm2
        return area <= FULLEST * self.wood(state.board).sound_mm2

    def _shape(self, need: int, board: int) -> Shape:
        wanted, wood = self.problem.needs[need], self.problem.boards[board]
        ways = self.problem.open_turnings(need, board, is_leaning=False)
        is_straight = wanted.outline.grain.is_straight and wood.grain.is_straight
        lean = slope_angle(wanted.outline.slope_of_grain) - INSIDE_DEG if is_straight else 0.0
        return Shape(
            self.problem.pieces[need],
            wanted.outline.area_mm2,
            tuple((math.radians(way.angle_deg), way.is_turned_over) for way in ways),
            math.radians(max(lean, 0.0)),
        )

    def _places(
        self,
        state: BoardState,
        need: int,
        wood: CrowdedWood,
        shape: Shape,
        rng: np.random.Generator,
    ) -> NDArray[np.float64]:
        rows = [
            (p.x_mm, p.y_mm, math.radians(p.figure.angle_deg), float(p.figure.is_turned_over), 0.0)
            for p in state.laid
        ]
        x0, y0, x1, y1 = wood.box
        angle, is_over = shape.ways[int(rng.integers(len(shape.ways)))]
        rows.append((rng.uniform(x0, x1), rng.uniform(y0, y1), angle, float(is_over), 0.0))
        return np.array(rows)

    def _separated(
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
        unit = math.sqrt(sum(shapes[i].area for i in items) / len(items))
        scene = Scene(layout, wood.wood, ways, figures, self._rings(kinds), no_table(), no_chart())
        field, near = field_for(layout, wood.wood, figures, scene.table), near_for(scene)
        best = np.empty((len(items), 5))
        least, _ = separate(
            int(rng.integers(2**31)), PASSES, STALL, DONE, unit, field, near,
            scratch_block(figures), scene, best,
        )  # fmt: skip
        return best if least < DONE else None

    def _rings(self, kinds: Sequence[int]) -> Any:
        outlines = [self.problem.needs[kind].outline for kind in kinds]
        rings = [_segments(outline.shape) for outline in outlines]
        zones = [[_segments(z.region) for z in outline.bearing_zones] for outline in outlines]
        flat = [zone for group in zones for zone in group]
        return Rings(
            np.concatenate(rings),
            starts([len(ring) for ring in rings]),
            np.concatenate(flat) if flat else np.zeros((0, 4)),
            starts([len(zone) for zone in flat]),
            starts([len(group) for group in zones]),
        )

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


class CrowdedWood:
    """One board as obstacles and holes in flat arrays."""

    def __init__(self, board: int, problem: Problem) -> None:
        self.problem = problem
        self.board: Board = problem.boards[board]
        rules, trim = problem.rules, problem.rules.trim_mm
        outside = problem.grounds[board].outside
        pieces, gaps, owner = list(outside.rings()), [trim] * len(outside), [-1] * len(outside)
        for number, keep_out in enumerate(self.board.keep_outs):
            for ring in core_pieces(keep_out.core).rings():
                pieces.append(ring)
                gaps.append(keep_out.reach_mm + rules.clearance_mm(keep_out.kind))
                owner.append(number)
        packed = packed_pieces(pieces)
        boxes = [(*ring.min(axis=0), *ring.max(axis=0)) for ring in pieces]
        self._owner = owner
        low_x, low_y, high_x, high_y = self.board.shape.bounds
        self.box = (low_x + trim, low_y + trim, high_x - trim, high_y - trim)
        table = np.column_stack([np.array(boxes).reshape(-1, 4), np.array(gaps)])
        self.wood = bare_wood(self.box, rules.part_gap_mm)._replace(
            corners=packed.corners,
            first=packed.first,
            boxes=np.ascontiguousarray(table),
            holes=self._holes(),
        )

    @cached_property
    def sound_mm2(self) -> float:
        """Area that parts may cover: the board but for its hopeless defects."""
        bad = [k.polygon for k in self.board.keep_outs if k.kind not in PLUGGABLE]
        area: BaseGeometry = self.board.shape
        for shape in bad:
            area = area.difference(shape)
        return float(area.area)

    @cached_property
    def _plugs(self) -> list[int]:
        """Keep-outs that some bung closes."""
        rules = self.problem.rules
        return [n for n, k in enumerate(self.board.keep_outs) if rules.plug_for(k) is not None]

    def _holes(self) -> NDArray[np.float64]:
        """Return every keep-out that a bung closes: centre and the distances that matter."""
        rules, rows = self.problem.rules, []
        for number in self._plugs:
            keep_out = self.board.keep_outs[number]
            x, y, radius = keep_out.bounding_circle
            plug = rules.plug_for(keep_out)
            assert plug is not None
            outside = radius + rules.clearance_mm(keep_out.kind)
            rows.append((x, y, outside, plug / 2 + rules.plug_edge_mm, plug / 2))
        return np.array(rows, np.float64).reshape(-1, 5)

    def blocks(self, kinds: Sequence[int]) -> NDArray[np.bool_]:
        """Return which obstacles block each need (o, k)."""
        rows = [
            [self._is_in_way(self.problem.needs[kind], own) for own in self._owner]
            for kind in kinds
        ]
        return np.array(rows, np.bool_).reshape(len(kinds), len(self._owner))

    def _is_in_way(self, need: Need, keep_out: int) -> bool:
        if keep_out < 0:
            return True
        given, rules = self.board.keep_outs[keep_out], self.problem.rules
        return not need.ignores(given, rules) and not need.may_plug(given, rules)

    def takes(self, kinds: Sequence[int]) -> NDArray[np.bool_]:
        """Return which holes each need takes, plugged (o, h)."""
        rules, keep_outs = self.problem.rules, self.board.keep_outs
        rows = [
            [
                self.problem.needs[kind].may_plug(keep_outs[n], rules)
                and not self.problem.needs[kind].ignores(keep_outs[n], rules)
                for n in self._plugs
            ]
            for kind in kinds
        ]
        return np.array(rows, np.bool_).reshape(len(kinds), len(self._plugs))


def _segments(shape: Polygon) -> NDArray[np.float64]:
    """Return every edge of a polygon's rings, (k, 4)."""
    lines = []
    for ring in (shape.exterior, *shape.interiors):
        points = np.asarray(ring.coords)
        lines.append(np.hstack([points[:-1], points[1:]]))
    edges = np.concatenate(lines)
    lengths = np.hypot(edges[:, 2] - edges[:, 0], edges[:, 3] - edges[:, 1])
    return np.ascontiguousarray(edges[lengths > 0])
