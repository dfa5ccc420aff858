"""Round things on a board's face: holes, recesses, bungs, and knots that may be taken for them.

Discs darker or lighter than the wood about them are looked for in many sizes; about each, rays go
out from its middle, and a circle is fitted to where they cross its rim. What counts for it: rays
that agree, a rim that is sharp, how much darker it is. Limits were set on rendered pictures, and on
none of the real textures that the figures in DEVELOPERS.md were measured with.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from nesting.photo.board_face import Face
from nesting.photo.disc_places import disc_places
from nesting.photo.disc_rims import Measured, measured_discs
from nesting.photo.opencv import opencv
from nesting.photo.plan_view import Array, Mask

SMALLEST_MM = 3.5
"""Diameter: smaller dark spots are too many, and no hole to be plugged."""

SURE, LISTED = 0.8, 0.3
"""From so much confidence on a find stands as it is; below the second it is a remark alone."""


@dataclass(frozen=True)
class Find:
    """One round thing: what it is taken for, where (mm, on the face), how large and how sure."""

    kind: str
    x: float
    y: float
    diameter: float
    confidence: float
    note: str = ""


def round_finds(face: Face) -> tuple[Find, ...]:
    """Return the round things of a face, the surest first."""
    cv2 = opencv()
    light = shade_of(face)
    ground = _wood_light(light, face)
    inner = cv2.erode(
        face.wood.astype(np.uint8), np.ones((3, 3), np.uint8), iterations=round(RIM_MM / face.mm)
    )
    places = disc_places(light, ground, Face(face.picture, inner > 0, face.mm))
    if not len(places):
        return ()
    measured = measured_discs(light, ground, bare_light(light, face), places, face.mm)
    speckled = {
        sign: sum(m.sign == sign and m.agree < 0.85 and m.radius > 3.0 for m in measured)
        > MOST_SPECKS
        for sign in (-1.0, 1.0)
    }
    judged = ((_judged(row, face.high_mm, speckled[row.sign]), row) for row in measured)
    return tuple(_once([(find, row) for find, row in judged if find is not None]))


def shade_of(face: Face) -> NDArray[np.uint8]:
    """Return how light a face is: the lightest of three colours, since a hole is dark in all of
    them, and dark paint in some alone.
    """
    made: NDArray[np.uint8] = opencv().GaussianBlur(face.picture, (3, 3), 0.6).max(axis=2)
    return made


UNSEEN_TIMES, UNSEEN_OFF = 0.58, 8.0
"""Where ink is lighter than this share of bare wood, or nearer to it than so many shades of 255, a
hole as dark as ink would not be told: ``_judged`` asks for more."""


def too_dark(face: Face, ink: float) -> Mask:
    """Return the cells of a face on which a hole as dark as ink would not be told from the wood."""
    bare = bare_light(shade_of(face), face)
    made: Mask = (ink > UNSEEN_TIMES * bare) | (bare - ink < UNSEEN_OFF)
    return made


def _wood_light(light: NDArray[np.uint8], face: Face) -> Array:
    """Return how light the wood is about each cell: the middle of what lies within some 20 mm."""
    cv2 = opencv()
    times = face.mm / 1.5
    small = cv2.resize(light, None, fx=times, fy=times, interpolation=cv2.INTER_AREA)
    wood = cv2.resize(
        face.wood.astype(np.uint8), small.shape[::-1], interpolation=cv2.INTER_NEAREST
    )
    filled = np.where(wood > 0, small, np.uint8(np.median(small[wood > 0]))).astype(np.uint8)
    middle = cv2.GaussianBlur(cv2.medianBlur(filled, 27), (0, 0), 4)
    made: Array = cv2.resize(middle, light.shape[::-1], interpolation=cv2.INTER_LINEAR).astype(
        np.float32
    )
    return np.maximum(made, 12.0)


BARE_TILE_MM, BARE_PERCENT = 70.0, 20.0
"""Bare wood is as light as the darker fifth of a patch: what is left when paint is lighter."""


def bare_light(light: NDArray[np.uint8], face: Face) -> Array:
    """Return how light bare wood is about each cell, whatever paint lies beside it."""
    cv2 = opencv()
    tile = int(BARE_TILE_MM / face.mm)
    rows, columns = max(1, light.shape[0] // tile), max(1, light.shape[1] // tile)
    bare = np.zeros((rows, columns), np.float32)
    for row, (strip, wood) in enumerate(
        zip(np.array_split(light, rows), np.array_split(face.wood, rows), strict=True)
    ):
        tiles = zip(
            np.array_split(strip, columns, 1), np.array_split(wood, columns, 1), strict=True
        )
        for column, (cells, is_wood) in enumerate(tiles):
            some = cells[::3, ::3][is_wood[::3, ::3]]
            bare[row, column] = np.percentile(some, BARE_PERCENT) if len(some) > 40 else np.nan
    bare = np.where(np.isnan(bare), np.nanmedian(bare) if np.isfinite(bare).any() else 60.0, bare)
    made: Array = cv2.resize(
        bare.astype(np.float32), light.shape[::-1], interpolation=cv2.INTER_LINEAR
    )
    return np.maximum(made, 10.0)


RIM_MM = 3.0
"""Nothing is looked for nearer to the edge: what is there belongs to the edge itself."""

MOST_SPECKS = 6
"""With more spots of one shade that are no discs, paint or lichen, a round one proves little."""


def _soft(value: float, low: float, high: float) -> float:
    """Return 0 at one figure and below, 1 at the other and above (or the other way), else
    between.
    """
    return float(np.clip((value - low) / (high - low), 0.0, 1.0))


LEAST_ROUND, MOST_LONG, LEAST_ABOUT, MOST_OPEN, UNSURE = 0.9, 0.12, 0.7, 0.06, 0.75
"""A dark disc is a sure hole only where its rim is round nearly all the way, and bare wood lies
about it: in a dark seam, a check or a patch of lichen there are many that are none."""


def _stands_alone(m: Measured) -> bool:
    """Return whether a dark disc is one all round, with wood about it that is not dark too."""
    is_round = m.agree >= LEAST_ROUND and m.long <= MOST_LONG
    return is_round and m.outside >= LEAST_ABOUT and m.open_share <= MOST_OPEN


PLAIN_ROUND, PLAIN_LONG, PLAIN_STEP, PLAIN_EVEN, PLAIN = 0.95, 0.03, 0.09, 0.045, 0.85
"""A disc is plainly a bung whose rim is a circle all round and sharp, and whose shade is even:
flakes of paint and knots lack one of these, however many lie about. Set on 99 rendered bungs, of
which 86 are plain, and 306 other spots, of which none is; textures of real wood among them."""


def _is_plain_bung(m: Measured) -> bool:
    """Return whether a disc is as round, as sharp and as even as a turned bung alone is."""
    is_round = m.agree >= PLAIN_ROUND and m.long <= PLAIN_LONG
    return is_round and m.step >= PLAIN_STEP and m.even <= PLAIN_EVEN


def _judged(m: Measured, high_mm: float, is_speckled: bool) -> Find | None:
    """Return what a disc is taken for, or None where it is nothing."""
    diameter = 2 * m.radius
    if diameter < SMALLEST_MM or diameter > 32.0:
        return None
    contrast = abs(m.shade - m.outside)
    if m.sign < 0 and m.core < 0.7 * min(m.bare, m.outside):
        rounded = _soft(m.agree, 0.55, 0.88) * _soft(m.long, 0.42, 0.15) * _soft(m.gap, 110, 50)
        rounded *= _soft(m.open_share, 0.3, 0.14)
        dark = _soft(m.core / m.bare, 0.62, 0.44) * _soft(m.wood * contrast, 7, 16)
        sharp = _soft(m.step, 0.04, 0.1)
        sure = rounded * (0.2 + 0.8 * dark) * (0.3 + 0.7 * sharp)
        if not _stands_alone(m):
            sure = min(sure, UNSURE)
        return _find("hole", m, high_mm, sure) if sure >= 0.1 else None
    if diameter < 9.0 or contrast < 0.06:
        return None
    rounded = _soft(m.agree, 0.62, 0.93) * _soft(m.long, 0.3, 0.1) * _soft(m.gap, 90, 35)
    sharp = _soft(m.step, 0.03, 0.09)
    clear = _soft(contrast / (0.03 + m.even), 0.8, 2.2)
    sure = (0.7 if is_speckled else 0.95) * rounded * sharp * clear
    sure = max(sure, PLAIN) if _is_plain_bung(m) else min(sure, UNSURE)
    return _find("bung", m, high_mm, sure) if sure >= 0.12 else None


def _find(kind: str, m: Measured, high_mm: float, sure: float) -> Find:
    return Find(kind, m.x, high_mm - m.y, 2 * m.radius, round(sure, 2))


RECESS_TIMES = 2.0
"""A disc with a darker hole in its middle is a recess, if it is so many times as wide."""


def _once(discs: list[tuple[Find, Measured]]) -> list[Find]:
    """Return finds with those that stand on one another made one.

    A disc with a darker hole in its middle is a recess; else the surer of two stays, the larger
    if both are as sure.
    """
    found = list[Find]()
    used = set[int]()
    for i, (large, outer) in enumerate(discs):
        inner = [
            small
            for small, m in discs
            if small.kind == "hole"
            and large.diameter > max(RECESS_TIMES * small.diameter, 9.0)
            and np.hypot(large.x - small.x, large.y - small.y) < 0.22 * large.diameter
            and m.outside > 0.25
            and m.core < 0.7 * m.outside
            and outer.agree > 0.75
        ]
        if inner:
            sure = max(
                large.confidence, min(0.9, outer.agree * max(s.confidence for s in inner) + 0.2)
            )
            found.append(replace(large, kind="recess", confidence=round(sure, 2)))
            used.add(i)
    rest = [find for i, (find, _) in enumerate(discs) if i not in used]
    kept = list[Find]()
    ordered = sorted(found, key=_rank) + sorted(rest, key=_rank)
    for find in ordered:
        if not any(_overlap(other, find) for other in kept):
            kept.append(find)
    return sorted(kept, key=_rank)


def _rank(find: Find) -> tuple[float, float]:
    return -find.confidence, -find.diameter


def _overlap(one: Find, other: Find) -> bool:
    return bool(
        np.hypot(one.x - other.x, one.y - other.y) < 0.5 * max(one.diameter, other.diameter)
    )
