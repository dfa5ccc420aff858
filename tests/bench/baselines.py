"""What simpler ways of packing make of the same boards and parts, by the same rules.

First fit: parts by falling area, each on the first board that takes it, at the first corner
from the left that is free; plain shapely. Rectangles: a general library for packing boxes,
given the parts' boxes and the largest clear rectangles of the boards.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from nesting.need import Holes, Misfit, Need
from nesting.nest import CuttingPlan, Nest, Placement, Unplaced
from nesting.referee.check import check_nest
from nesting.rules import Rules
from nesting.stock.board import Board

CELL_MM = 8.0
"""Clear rectangles are found on a grid of this step: a saw's gap and a little more."""

MOST_RECTANGLES = 6
LEAST_CELLS = 40


def first_fit(needs: Sequence[Need], boards: Sequence[Board], rules: Rules) -> CuttingPlan:
    """Return the plan of first fit, bottom left."""
    lying: list[list[Placement]] = [[] for _ in boards]
    free: dict[tuple[int, Holes], BaseGeometry] = {}
    for need in _copies(needs):
        for b, board in enumerate(boards):
            if need.misfit(board, rules) is not None:
                continue
            key = (b, need.holes)
            if key not in free:
                free[key] = _without(_sound(board, need, rules), lying[b], rules)
            placement = _first_spot(need, board, free[key], lying[b], rules)
            if placement is not None:
                lying[b].append(placement)
                for holes in Holes:
                    if (b, holes) in free:
                        free[b, holes] = _without(free[b, holes], [placement], rules)
                break
    return _plan(needs, boards, lying)


def _copies(needs: Sequence[Need]) -> list[Need]:
    return [n for n in sorted(needs, key=lambda n: -n.outline.area_mm2) for _ in range(n.quantity)]


def _sound(board: Board, need: Need, rules: Rules) -> BaseGeometry:
    """Return where the part's wood may lie, holes it may plug left to the referee."""
    taken = [
        k.core.buffer(k.reach_mm + rules.clearance_mm(k.kind) + 1e-3, quad_segs=32)
        for k in board.keep_outs
        if not need.ignores(k, rules) and not need.may_plug(k, rules)
    ]
    return board.shape.buffer(-rules.trim_mm - 1e-3).difference(shapely.union_all(taken))


def _without(free: BaseGeometry, lying: Sequence[Placement], rules: Rules) -> BaseGeometry:
    grow = rules.part_gap_mm / math.cos(math.pi / 64) + 1e-3
    for placement in lying:
        free = free.difference(placement.polygon.buffer(grow, quad_segs=16))
    return free


def _first_spot(
    need: Need, board: Board, free: BaseGeometry, lying: Sequence[Placement], rules: Rules
) -> Placement | None:
    shapely.prepare(free)
    own = need.outline.grain.angles_deg[0]
    best: tuple[float, float, Placement] | None = None
    for half in (0.0, 180.0):
        turned = Placement(need, 0.0, 0.0, (board.grain.angles_deg[0] - own + half) % 360.0)
        shape = turned.polygon
        a, b, c, d = shape.bounds
        if c - a > board.length_mm or d - b > board.width_mm or shape.area > free.area:
            continue
        for x, y in _corners(board, lying, rules):
            if best is not None and (x, y) >= best[:2]:
                break
            moved = replace(turned, x_mm=x - a, y_mm=y - b)
            if free.contains(moved.polygon) and not check_nest(Nest(board, (moved,)), rules):
                best = (x, y, moved)
                break
    return best[2] if best else None


def _corners(
    board: Board, lying: Sequence[Placement], rules: Rules
) -> Iterator[tuple[float, float]]:
    """Yield places for a part's lower left corner, from the left, then from below."""
    x0, y0, _, _ = board.shape.bounds
    xs, ys = {x0 + rules.trim_mm + 0.01}, {y0 + rules.trim_mm + step for step in (0.01, 3, 6, 9)}
    for bounds in (placement.polygon.bounds for placement in lying):
        xs.add(bounds[2] + rules.part_gap_mm + 0.01)
        ys.add(bounds[3] + rules.part_gap_mm + 0.01)
    for keep_out in board.keep_outs:
        bounds, clear = keep_out.polygon.bounds, rules.clearance_mm(keep_out.kind) + 0.01
        xs.add(bounds[2] + clear)
        ys.add(bounds[3] + clear)
    yield from ((x, y) for x in sorted(xs) for y in sorted(ys))


def rectangles(needs: Sequence[Need], boards: Sequence[Board], rules: Rules) -> CuttingPlan:
    """Return what a library for packing rectangles makes of boxes and clear rectangles."""
    lying: list[list[Placement]] = [[] for _ in boards]
    clear = [clear_rectangles(board, rules) for board in boards]
    groups: dict[tuple[int, ...], list[Need]] = {}
    for need in needs:
        suits = tuple(b for b, board in enumerate(boards) if need.misfit(board, rules) is None)
        groups.setdefault(suits, []).append(need)
    for suits, group in sorted(groups.items(), key=lambda item: len(item[0])):
        bins = [(b, r) for b in suits for r in range(len(clear[b]))]
        bins.sort(key=lambda at: (not lying[at[0]], boards[at[0]].area_mm2))
        used = _packed(_copies(group), bins, boards, clear, lying, rules)
        for b, r in used:
            clear[b][r] = (0.0, 0.0, 0.0, 0.0)
    return _plan(needs, boards, lying)


def _packed(copies, bins, boards, clear, lying, rules):
    """Pack copies into rectangles (board, number); return those that were used."""
    from rectpack import PackingBin, PackingMode, newPacker

    gap = rules.part_gap_mm
    packer = newPacker(mode=PackingMode.Offline, bin_algo=PackingBin.BFF, rotation=False)
    for number, (b, r) in enumerate(bins):
        x0, y0, x1, y1 = clear[b][r]
        packer.add_bin(int(100 * (x1 - x0 + gap)), int(100 * (y1 - y0 + gap)), bid=number)
    for number, need in enumerate(copies):
        a, b, c, d = _along(need).polygon.bounds
        packer.add_rect(
            math.ceil(100 * (c - a + gap)) + 1, math.ceil(100 * (d - b + gap)) + 1, rid=number
        )
    packer.pack()
    used = set()
    for bin_index, x, y, _, _, number in packer.rect_list():
        board, r = bins[packer[bin_index].bid]
        turned = _along(copies[number])
        a, b, _, _ = turned.polygon.bounds
        left, low, _, _ = clear[board][r]
        placement = replace(turned, x_mm=left + x / 100 - a, y_mm=low + y / 100 - b)
        if not check_nest(Nest(boards[board], (placement,)), rules):
            lying[board].append(placement)
            used.add((board, r))
    return used


def _along(need: Need) -> Placement:
    return Placement(need, 0.0, 0.0, -need.outline.grain.angles_deg[0])


def clear_rectangles(board: Board, rules: Rules) -> list[tuple[float, float, float, float]]:
    """Return up to a few rectangles of clear wood, largest first, with a saw's gap between."""
    x0, y0, x1, y1 = board.shape.bounds
    taken = [k.core.buffer(k.reach_mm + rules.clearance_mm(k.kind) + 1e-3) for k in board.keep_outs]
    free = board.shape.buffer(-rules.trim_mm - 1e-3).difference(shapely.union_all(taken))
    shapely.prepare(free)
    xs, ys = np.arange(x0, x1 - CELL_MM, CELL_MM), np.arange(y0, y1 - CELL_MM, CELL_MM)
    left, low = np.meshgrid(xs, ys, indexing="ij")
    clear = shapely.contains(free, shapely.box(left, low, left + CELL_MM, low + CELL_MM))
    found = []
    for _ in range(MOST_RECTANGLES):
        i, j, m, n = _largest_block(clear)
        if (m - i) * (n - j) < LEAST_CELLS:
            break
        found.append((xs[i], ys[j], xs[m - 1] + CELL_MM, ys[n - 1] + CELL_MM))
        clear[max(0, i - 1) : m + 1, max(0, j - 1) : n + 1] = False
    return found


def _largest_block(clear) -> tuple[int, int, int, int]:
    """Return the largest block of true cells: first and past-last row and column."""
    best, block = 0, (0, 0, 0, 0)
    for low in range(clear.shape[1]):
        column = np.ones(len(clear), np.bool_)
        for high in range(low, clear.shape[1]):
            column &= clear[:, high]
            edges = np.flatnonzero(np.diff(np.concatenate([[0], column.astype(np.int8), [0]])))
            if not len(edges):
                break
            lengths = edges[1::2] - edges[::2]
            longest = int(lengths.argmax())
            if lengths[longest] * (high - low + 1) > best:
                best = lengths[longest] * (high - low + 1)
                block = (int(edges[2 * longest]), low, int(edges[2 * longest + 1]), high + 1)
    return block


def _plan(
    needs: Sequence[Need], boards: Sequence[Board], lying: Sequence[Sequence[Placement]]
) -> CuttingPlan:
    numbers: Counter[str] = Counter()
    nests = []
    for board, placements in zip(boards, lying, strict=True):
        numbered = []
        for placement in placements:
            numbers[placement.need.part] += 1
            numbered.append(replace(placement, copy=numbers[placement.need.part]))
        if numbered:
            nests.append(Nest(board, tuple(numbered)))
    left = tuple(
        Unplaced(need, need.quantity - numbers[need.part], Misfit.NO_ROOM)
        for need in needs
        if numbers[need.part] < need.quantity
    )
    return CuttingPlan(tuple(nests), left)


def only_placed(plan: CuttingPlan, needs: Sequence[Need]) -> list[Need]:
    """Return the parts list that a plan fulfils: what it placed, and no more."""
    placed = Counter(p.need.part for nest in plan.nests for p in nest.placements)
    return [replace(n, quantity=placed[n.part]) for n in needs if placed[n.part]]
