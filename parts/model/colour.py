"""A colour for each board, so that pieces out of one board are seen to belong together.

Colours go round the hue circle by the golden angle, which keeps any number of them apart, in
three depths by turns; OKLCH keeps the depths equal to the eye. They are made here and belong to
no one else's palette. Names always stand beside them: colour never says anything alone.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

Colour = tuple[float, float, float]
"""Red, green and blue as on a screen (sRGB), each 0 to 1."""

GOLDEN_ANGLE_DEG = 137.508
FIRST_HUE_DEG = 45.0
"""The first board is the brown of new wood."""

DEPTHS = ((0.66, 0.125), (0.50, 0.11), (0.78, 0.105), (0.58, 0.12), (0.85, 0.085))
"""Lightness and chroma in OKLCH by turns: all read against white, and lines in black on them."""

NO_BOARD: Colour = (0.80, 0.80, 0.78)
"""A piece that has no board: still to be bought, or not yet nested."""

_CONE_OF_LAB = np.array(
    [[1.0, 0.3963377774, 0.2158037573], [1.0, -0.1055613458, -0.0638541728],
     [1.0, -0.0894841775, -1.2914855480]]
)  # fmt: skip
_RGB_OF_CONE = np.array(
    [[4.0767416621, -3.3077115913, 0.2309699292], [-1.2684380046, 2.6097574011, -0.3413193965],
     [-0.0041960863, -0.7034186147, 1.7076147010]]
)  # fmt: skip
"""OKLab to linear sRGB (B. Ottosson, A perceptual color space for image processing, 2020)."""


def board_colours(boards: Iterable[str]) -> dict[str, Colour]:
    """Return a colour for each board's name, in the order given."""
    return {board: _nth(k) for k, board in enumerate(dict.fromkeys(boards))}


def _nth(k: int) -> Colour:
    lightness, chroma = DEPTHS[k % len(DEPTHS)]
    return from_oklch(lightness, chroma, FIRST_HUE_DEG + k * GOLDEN_ANGLE_DEG)


def from_oklch(lightness: float, chroma: float, hue_deg: float) -> Colour:
    """Return a colour of OKLCH, clipped to what a screen can show."""
    turn = math.radians(hue_deg)
    lab = np.array([lightness, chroma * math.cos(turn), chroma * math.sin(turn)])
    linear = (_RGB_OF_CONE @ (_CONE_OF_LAB @ lab) ** 3).clip(0.0, 1.0)
    shown = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    red, green, blue = (float(value) for value in shown)
    return red, green, blue
