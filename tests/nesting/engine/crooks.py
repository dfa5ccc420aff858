"""Grown crooks and knees for the tests of bounds, each from a seed."""

from __future__ import annotations

import math

import numpy as np
from shapely.geometry import Polygon

from nesting.grain import GrainPath
from nesting.need import Need
from nesting.outline import Outline
from nesting.stock.board import Board


def bent(arms, width, turn_deg, corners=6):
    """Return both edges and the middle of a bend with two arms, all (n, 2), lying upright."""
    half = math.radians(180.0 - turn_deg) / 2
    inner = width * 0.6
    turns = np.linspace(-half, half, corners)

    def line(radius):
        middle = np.column_stack([radius * np.sin(turns), radius * (1 - np.cos(turns))])
        ways = np.column_stack([np.cos(turns), np.sin(turns)])
        return np.vstack([middle[0] - arms[0] * ways[0], middle, middle[-1] + arms[1] * ways[-1]])

    lower, middle = line(inner + width), line(inner + width / 2)
    upper = line(inner)
    return lower, middle + np.array([0, width / 2]), upper + np.array([0, width])


def crook(rng, name):
    """Return a board of grown grain with a bend."""
    arms = rng.uniform(180, 320, 2)
    width = float(rng.uniform(110, 190))
    lower, middle, upper = bent(arms, width, float(rng.uniform(80, 120)))
    shape = Polygon(np.vstack([lower, upper[::-1]]))
    return Board(name, shape, 50.0, "oak", grain=GrainPath(tuple(map(tuple, middle))))


def knee(rng, name, *, quantity=3):
    """Return a knee that follows its own grown grain."""
    arms = rng.uniform(60, 140, 2)
    width = float(rng.uniform(40, 60))
    lower, middle, upper = bent(arms, width, float(rng.uniform(85, 115)))
    grain = GrainPath(tuple(map(tuple, middle)))
    outline = Outline(
        Polygon(np.vstack([lower, upper[::-1]])), 35.0, grain=grain, slope_of_grain=3.0,
        may_turn_over=bool(rng.random() < 0.5),
    )  # fmt: skip
    return Need(name, "knee", outline, ("oak",), quantity)
