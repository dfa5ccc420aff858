"""Compiled: in which boxes a part may lie, which points it covers there, what they weigh.

Plain twins are in the tests.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from nesting.engine.geometry.arrays import Flags, Floats, Ints, X, Y
from nesting.engine.geometry.compiled import door
from nesting.rules import TOUCH_MM

ANGLE, HALF_SIDE, HALF_ANGLE = 2, 3, 4
"""Of boxes, behind the middle's x and y: its angle, radians, half the sides, half the range."""


@door
def may_lie(
    boxes: Floats,
    samples: Floats,
    angles: Floats,
    limits: Floats,
    starts: Floats,
    spans: Floats,
    grain: Floats,
) -> Flags:
    """Return whether a part may be true to the grain somewhere in each box (n, 5), (n,) bool.

    Its own grain runs at ``angles``, radians, at ``samples`` (s, 2); the board's in pieces with
    ``starts`` and ``spans`` (g, 2) about angles ``grain``; ``limits`` (g,) say how far off those
    the part's may be. How much nearer one piece comes than another, as a point moves, is told by
    the angle between the ways to both; each way turns by no more than the point moves over how far
    it still is.
    """
    found = np.ones(len(boxes), np.bool_)
    pieces = len(grain)
    away, heading, turns = np.empty(pieces), np.empty(pieces), np.empty(pieces)
    for b in range(len(boxes)):
        cosine, sine = math.cos(boxes[b, ANGLE]), math.sin(boxes[b, ANGLE])
        for s in range(len(samples)):
            u, v = samples[s]
            off = boxes[b, HALF_SIDE] * math.sqrt(2.0) + math.hypot(u, v) * boxes[b, HALF_ANGLE]
            x, y = boxes[b, X] + cosine * u - sine * v, boxes[b, Y] + sine * u + cosine * v
            first = 0
            for g in range(pieces):
                over_x, over_y = x - starts[g, X], y - starts[g, Y]
                square = spans[g, X] ** 2 + spans[g, Y] ** 2
                along = (over_x * spans[g, X] + over_y * spans[g, Y]) / square
                along = min(max(along, 0.0), 1.0)
                over_x -= along * spans[g, X]
                over_y -= along * spans[g, Y]
                away[g] = math.hypot(over_x, over_y)
                heading[g] = math.atan2(over_y, over_x)
                turns[g] = -math.log(max(1.0 - off / max(away[g], off), 1e-9))
                if away[g] < away[first]:
                    first = g
            is_along = False
            for g in range(pieces):
                lean = abs(angles[s] + boxes[b, ANGLE] - grain[g]) % math.pi
                if min(lean, math.pi - lean) > limits[g] + boxes[b, HALF_ANGLE]:
                    continue
                apart = abs(heading[g] - heading[first])
                apart = min(apart, 2 * math.pi - apart) + turns[g] + turns[first]
                rate = 2 * math.sin(min(apart, math.pi) / 2)
                if away[g] - away[first] <= rate * off + TOUCH_MM:
                    is_along = True
                    break
            if not is_along:
                found[b] = False
                break
    return found


@door
def may_fit(boxes: Floats, rim: Floats, distances: Floats, corner: Floats, side: float) -> Flags:
    """Return whether the rim (r, 2) of a part may lie in free wood in each box (n, 5), (n,) bool.

    ``distances`` to free wood are kept in cells from ``corner`` on; that of the nearest cell
    stands for points outside them, as free wood is within.
    """
    found = np.ones(len(boxes), np.bool_)
    rows, columns = distances.shape
    for b in range(len(boxes)):
        cosine, sine = math.cos(boxes[b, ANGLE]), math.sin(boxes[b, ANGLE])
        for r in range(len(rim)):
            u, v = rim[r]
            off = boxes[b, HALF_SIDE] * math.sqrt(2.0) + math.hypot(u, v) * boxes[b, HALF_ANGLE]
            x, y = boxes[b, X] + cosine * u - sine * v, boxes[b, Y] + sine * u + cosine * v
            column = min(max(math.floor((x - corner[X]) / side), 0), columns - 1)
            row = min(max(math.floor((y - corner[Y]) / side), 0), rows - 1)
            if distances[row, column] > off + math.sqrt(2.0) * side:
                found[b] = False
                break
    return found


@door
def covered(
    boxes: Floats, points: Floats, depths: Floats, corner: Floats, side: float
) -> NDArray[np.uint8]:
    """Return for boxes (n, 5) and points (m, 2) whether the part covers the point, (n, m) 0 or 1.

    ``depths`` are those of points in the part, in cells from ``corner`` on. A point covered lies
    deeper than the part moves there within the box.
    """
    rows, columns = depths.shape
    found = np.zeros((len(boxes), len(points)), np.uint8)
    far = math.hypot(
        max(-corner[X], corner[X] + columns * side), max(-corner[Y], corner[Y] + rows * side)
    )
    for b in range(len(boxes)):
        shift = boxes[b, HALF_SIDE] * math.sqrt(2.0)
        cosine, sine = math.cos(boxes[b, ANGLE]), math.sin(boxes[b, ANGLE])
        for p in range(len(points)):
            x, y = points[p, X] - boxes[b, X], points[p, Y] - boxes[b, Y]
            if abs(x) > far or abs(y) > far:
                continue
            u, v = cosine * x + sine * y, cosine * y - sine * x
            column = math.floor((u - corner[X]) / side)
            row = math.floor((v - corner[Y]) / side)
            if 0 <= row < rows and 0 <= column < columns:
                moves = shift + (math.hypot(u, v) + shift) * boxes[b, HALF_ANGLE]
                if depths[row, column] >= moves:
                    found[b, p] = 1
    return found


@door
def weighed(covers: NDArray[np.uint8], which: Ints, weights: Floats) -> Floats:
    """Return for each box of covers (n, m) what the points covered among some (w,) weigh, (n,)."""
    found = np.zeros(len(covers))
    for b in range(len(covers)):
        for w in range(len(which)):
            if covers[b, which[w]]:
                found[b] += weights[w]
    return found
