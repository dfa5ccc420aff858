"""A chart of what every place of an item costs, from depths sampled once on a grid; compiled.

For items that lie only in given ways the depth of each pair of ways is sampled beforehand. The
chart of one item is then a weighted sum of shifted grids: coarse, but of all places at once. Its
hollows are where a slide begins.
"""

from __future__ import annotations

import math

import numpy as np

from nesting.engine.geometry.arrays import (
    BEGIN,
    END,
    HIGH_X,
    HIGH_Y,
    LOW_X,
    LOW_Y,
    Floats,
    Ints,
    X,
    Y,
)
from nesting.engine.geometry.compiled import door, inner
from nesting.engine.jostle.blocks import WAY
from nesting.engine.jostle.convex_sums import depth_in
from nesting.engine.jostle.field import Chart, Field, Scene, Singles, Table

VALUES_FROM, COLUMNS, ROWS = 0, 1, 2
"""Of a grid: where it begins in the values, its columns and rows."""

FINENESS = 6.0
"""Steps of the grid to the size of a mean item: 4, 5.5, 8 and 12 led to strips as long."""


def no_chart() -> Chart:
    """Return the chart of items that lean: none."""
    none = np.zeros(0, np.float32)
    return Chart(np.zeros((0, 0, 3), np.int64), np.zeros((0, 0, 2)), none, np.ones(1), none)


def chart_of(table: Table, unit: float) -> Chart:
    """Return the depths of all pairs of ways of a table, sampled; without room for a chart."""
    pairs = table.pairs.shape[:2]
    grids, lows = np.zeros((*pairs, 3), np.int64), np.zeros((*pairs, 2))
    step = np.array([unit / FINENESS])
    values = np.zeros(_lay_grids(grids, lows, step[0], table), np.float32)
    _sample_all(values, grids, lows, step[0], table)
    return Chart(grids, lows, values, step, np.zeros(0, np.float32))


def with_room(chart: Chart, length: float, width: float) -> Chart:
    """Return a chart with room for all places in a box so long and wide."""
    if not len(chart.grids):
        return chart
    columns, rows = (math.ceil(size / chart.step[0]) + 2 for size in (length, width))
    return chart._replace(cells=np.zeros(columns * rows, np.float32))


@door
def _lay_grids(grids: Ints, lows: Floats, step: float, table: Table) -> int:
    """Write where the grid of each pair lies, and return how many values there are."""
    total = 0
    for a in range(grids.shape[0]):
        for b in range(grids.shape[1]):
            low_x, low_y, high_x, high_y = np.inf, np.inf, -np.inf, -np.inf
            for s in range(table.pairs[a, b, BEGIN], table.pairs[a, b, END]):
                box = table.sums.boxes[s]
                low_x, low_y = min(low_x, box[LOW_X]), min(low_y, box[LOW_Y])
                high_x, high_y = max(high_x, box[HIGH_X]), max(high_y, box[HIGH_Y])
            lows[a, b, X], lows[a, b, Y] = low_x, low_y
            grids[a, b, VALUES_FROM] = total
            grids[a, b, COLUMNS] = int((high_x - low_x) / step) + 1
            grids[a, b, ROWS] = int((high_y - low_y) / step) + 1
            total += grids[a, b, COLUMNS] * grids[a, b, ROWS]
    return total


@door
def _sample_all(values: Singles, grids: Ints, lows: Floats, step: float, table: Table) -> None:
    for a in range(grids.shape[0]):
        for b in range(grids.shape[1]):
            begin, columns, rows = grids[a, b, VALUES_FROM], grids[a, b, COLUMNS], grids[a, b, ROWS]
            low_x, low_y = lows[a, b, X], lows[a, b, Y]
            for s in range(table.pairs[a, b, BEGIN], table.pairs[a, b, END]):
                box = table.sums.boxes[s]
                for row in range(max(0, int((box[LOW_Y] - low_y) / step)), rows):
                    y = low_y + row * step
                    if y > box[HIGH_Y]:
                        break
                    for column in range(max(0, int((box[LOW_X] - low_x) / step)), columns):
                        x = low_x + column * step
                        if x > box[HIGH_X]:
                            break
                        depth, _ = depth_in(table.sums, s, x, y)
                        values[begin + row * columns + column] += depth


@inner
def _add_grid(
    chart: Chart,
    a: int,
    b: int,
    x: float,
    y: float,
    weight: float,
    low_x: float,
    low_y: float,
    columns: int,
    rows: int,
) -> None:
    """Add the grid of a pair, the fixed item at (x, y), to the chart."""
    step, cells = chart.step[0], chart.cells
    begin, own_columns, own_rows = (
        chart.grids[a, b, VALUES_FROM],
        chart.grids[a, b, COLUMNS],
        chart.grids[a, b, ROWS],
    )
    at_x = math.floor((x + chart.lows[a, b, X] - low_x) / step + 0.5)
    at_y = math.floor((y + chart.lows[a, b, Y] - low_y) / step + 0.5)
    left, right = max(0, at_x), min(columns, at_x + own_columns)
    if left >= right:
        return
    heft, size = np.float32(weight), right - left
    for row in range(max(0, at_y), min(rows, at_y + own_rows)):
        to = row * columns + left
        source = begin + (row - at_y) * own_columns + left - at_x
        # Through views, so that indices begin at 0 and the loop becomes vector instructions.
        own, given = cells[to : to + size], chart.values[source : source + size]
        for k in range(size):
            own[k] += heft * given[k]


@inner
def draw(i: int, way: int, field: Field, scene: Scene) -> tuple[int, int]:
    """Draw the chart of item i in one way, over the limits of its field; columns and rows."""
    chart, layout, limit = scene.chart, scene.layout, field.limit
    step = chart.step[0]
    columns = int((limit[HIGH_X] - limit[LOW_X]) / step) + 2
    rows = int((limit[HIGH_Y] - limit[LOW_Y]) / step) + 2
    for k in range(columns * rows):
        chart.cells[k] = np.float32(0.0)
    for j in range(layout.outline.shape[0]):
        if j != i:
            b, x, y = int(layout.place[j, WAY]), layout.place[j, X], layout.place[j, Y]
            weight = layout.weight[i, j]
            _add_grid(chart, way, b, x, y, weight, limit[LOW_X], limit[LOW_Y], columns, rows)
    for k in range(scene.wood.boxes.shape[0]):
        if scene.ways.blocks[layout.outline[i], k]:
            b, weight = chart.grids.shape[0] + k, layout.weight[i, i]
            _add_grid(chart, way, b, 0.0, 0.0, weight, limit[LOW_X], limit[LOW_Y], columns, rows)
    return columns, rows


@inner
def is_hollow(cells: Singles, cell: int, columns: int, rows: int) -> bool:
    """Return whether no neighbour of a cell is lower, nor as low and earlier."""
    own, column, row = cells[cell], cell % columns, cell // columns
    for y in range(max(0, row - 1), min(rows, row + 2)):
        for x in range(max(0, column - 1), min(columns, column + 2)):
            at = y * columns + x
            if cells[at] < own or (cells[at] == own and at < cell):
                return False
    return True
