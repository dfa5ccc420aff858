"""One board as obstacles and holes in flat arrays, for parts that may overlap during the search."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from nesting.engine.jostle.layout import bare_wood, packed_pieces
from nesting.engine.state.problem import Problem
from nesting.engine.wood.board_region import core_pieces
from nesting.engine.wood.room_bounds import FEW_STEPS
from nesting.engine.wood.runs import free_beside
from nesting.flat_geometry.overlay import united, without
from nesting.need import Need
from nesting.stock.board import Board
from nesting.stock.keep_out import PLUGGABLE


class CrowdedWood:
    """What is known of a board for such parts."""

    def __init__(self, board: int, problem: Problem) -> None:
        self.problem, self._number = problem, board
        self.board: Board = problem.boards[board]
        rules, trim = problem.rules, problem.rules.trim_mm
        outside = problem.grounds[board].outside
        pieces, gaps, owner = list(outside.rings()), [trim] * len(outside), [-1] * len(outside)
        for number, keep_out in enumerate(self.board.keep_outs):
            for ring in core_pieces(keep_out.core).rings():
                pieces.append(ring)
                gaps.append(keep_out.reach_mm + rules.kept_off_mm(keep_out))
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
        """Area that parts may cover: the board but for its hopeless defects.

        On a board with very many keep-outs a little more, which takes a tenth of the time.
        """
        bad = [k for k in self.board.keep_outs if k.kind not in PLUGGABLE]
        if not self.problem.grounds[self._number].is_crowded:
            return float(without(self.board.shape, united([k.polygon for k in bad])).area)
        rough = [k.core.buffer(k.reach_mm, quad_segs=FEW_STEPS) for k in bad]
        return float(free_beside(self.board.shape, rough).area)

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
            outside = radius + rules.kept_off_mm(keep_out)
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
