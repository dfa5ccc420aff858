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

from nesting.photo.opencv import opencv
from nesting.photo.plan_view import Array, Mask

FACE_MM = 0.6
"""A cell of the face on which round things are looked for."""

RADII_MM = (2.0, 2.6, 3.4, 4.4, 5.7, 7.4, 9.6, 12.5)
DARK_RADII = 3
"""The first ones are those of holes: no bung is so small."""

FINE_RADII = 4
"""So many of them are looked for in full cells, larger ones in cells of twice the size."""

LEAST_CONTRAST = 0.05
LEAST_SPREADS = 4.5
RAYS = 40
MOST_OF_A_SIZE = 85
"""The strongest discs of each size are looked at closer, and no more."""

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


@dataclass(frozen=True)
class Face:
    """A board's face as a picture along its length, upper edge first, and which cells are wood."""

    picture: NDArray[np.uint8]
    wood: Mask
    mm: float

    @property
    def high_mm(self) -> float:
        """Height of the middle of the uppermost row over that of the lowest."""
        return float((self.picture.shape[0] - 1) * self.mm)


def round_finds(face: Face) -> tuple[Find, ...]:
    """Return the round things of a face, the surest first."""
    cv2 = opencv()
    # The lightest of three colours: a hole is dark in all of them, dark paint in some alone.
    light = cv2.GaussianBlur(face.picture, (3, 3), 0.6).max(axis=2)
    ground = _wood_light(light, face)
    inner = cv2.erode(
        face.wood.astype(np.uint8), np.ones((3, 3), np.uint8), iterations=round(RIM_MM / face.mm)
    )
    places = _candidates(light, ground, Face(face.picture, inner > 0, face.mm))
    if not len(places):
        return ()
    measured = _measured(light, ground, _bare_light(light, face), places, face.mm)
    speckled = {
        sign: sum(m.sign == sign and m.agree < 0.85 and m.radius > 3.0 for m in measured)
        > MOST_SPECKS
        for sign in (-1.0, 1.0)
    }
    judged = ((_judged(row, face.high_mm, speckled[row.sign]), row) for row in measured)
    return tuple(_once([(find, row) for find, row in judged if find is not None]))


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


def _bare_light(light: NDArray[np.uint8], face: Face) -> Array:
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


def _candidates(light: NDArray[np.uint8], ground: Array, face: Face) -> Array:
    """Return (n, 4) column, row, radius (cells) and sign of what may be discs."""
    cv2 = opencv()
    off = np.where(face.wood, light / ground - 1.0, 0.0).astype(np.float32)
    off = np.clip(off, -1.0, 0.6)
    half = cv2.resize(off, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    found = []
    for i, radius in enumerate(RADII_MM):
        times = 1 if i < FINE_RADII else 2
        cells = radius / face.mm / times
        shown = cv2.filter2D(off if times == 1 else half, -1, _disc_kernel(cells))
        spread = 1.4826 * float(np.median(np.abs(shown[::4, ::4]))) + 1e-4
        limit = max(LEAST_CONTRAST, LEAST_SPREADS * spread) if cells > 0 else 0.0
        strong = np.abs(shown)
        size = 2 * max(1, int(0.6 * cells)) + 1
        peak = (strong >= cv2.dilate(strong, np.ones((size, size), np.uint8))) & (
            strong > min(limit, 0.12)
        )
        rows, columns = np.nonzero(peak)
        worth = strong[rows, columns] / max(spread, 0.01)
        best = np.argsort(-worth if i >= DARK_RADII else -worth * (shown[rows, columns] < 0))
        best = best[:MOST_OF_A_SIZE]
        rows, columns, worth = rows[best], columns[best], worth[best]
        if i < DARK_RADII:
            dark = shown[rows, columns] < 0
            rows, columns, worth = rows[dark], columns[dark], worth[dark]
        found.append(
            np.column_stack(
                [
                    columns * times + (times - 1) / 2,
                    rows * times + (times - 1) / 2,
                    np.full(len(rows), radius / face.mm),
                    np.sign(shown[rows, columns]),
                    worth,
                ]
            )
        )
    places = np.concatenate(found)
    places = places[np.argsort(-places[:, 4])]
    rows, columns = places[:, 1].astype(int), places[:, 0].astype(int)
    inside = face.wood[
        np.clip(rows, 0, face.wood.shape[0] - 1), np.clip(columns, 0, face.wood.shape[1] - 1)
    ]
    return _thinned(places[inside])[:, :4]


def _thinned(places: Array) -> Array:
    """Return places without those that a better one of like size and sign stands on."""
    left = np.ones(len(places), bool)
    for i in range(len(places)):
        if left[i]:
            x, y, radius, sign, _ = places[i]
            rest = places[i + 1 :]
            alike = (np.abs(rest[:, 2] - radius) < 0.35 * radius + 0.5) & (rest[:, 3] == sign)
            left[i + 1 :] &= ~(alike & (np.hypot(rest[:, 0] - x, rest[:, 1] - y) < 0.7 * radius))
    return places[left]


def _disc_kernel(radius: float) -> NDArray[np.float32]:
    """Return what takes the mean over a ring from the mean over the disc within it."""
    reach = int(np.ceil(1.75 * radius)) + 1
    y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    r = np.hypot(x, y)
    inside = np.clip(0.9 * radius - r + 0.5, 0, 1)
    ring = np.clip(r - 1.2 * radius + 0.5, 0, 1) * np.clip(1.7 * radius - r + 0.5, 0, 1)
    made: NDArray[np.float32] = (inside / inside.sum() - ring / ring.sum()).astype(np.float32)
    return made


@dataclass(frozen=True)
class Measured:
    """A disc with the circle fitted to its rim; lengths in mm, shades over that of the wood."""

    x: float
    y: float
    radius: float
    sign: float
    agree: float
    """Share of the rays that cross a rim on the circle."""
    gap: float
    """Degrees of the longest stretch of rim on which no ray does."""
    open_share: float
    """Share of directions in which it is as dark past the rim: a crack or a saw cut goes on."""
    shade: float
    core: float
    outside: float
    step: float
    """How much the shade changes over a millimetre at the rim."""
    long: float
    """How much longer than wide, 0 for a circle."""
    even: float
    """Spread of shades within."""
    wood: float
    """How light the wood is, 0 to 255."""
    bare: float
    """How light bare wood is there, over that."""


def _measured(
    light: NDArray[np.uint8], ground: Array, bare: Array, places: Array, mm: float
) -> list[Measured]:
    cv2 = opencv()
    turns = 2 * np.pi * np.arange(RAYS) / RAYS
    rays = np.stack([np.cos(turns), np.sin(turns)], axis=1)
    centre, radius, sign = places[:, :2].copy(), places[:, 2].copy(), places[:, 3]
    shown = cv2.GaussianBlur(light, (0, 0), 0.7)
    share = np.linspace(0.0, 2.0, 41)
    rim = np.zeros((len(places), RAYS))
    good = np.zeros((len(places), RAYS), bool)
    for _ in range(3):
        at = (
            centre[:, None, None, :]
            + radius[:, None, None, None] * share[None, None, :, None] * rays[None, :, None, :]
        )
        seen = (
            cv2.remap(
                shown,
                at.reshape(1, -1, 2).astype(np.float32).reshape(len(places), -1, 2),
                None,
                cv2.INTER_LINEAR,
                borderMode=cv2.BORDER_REPLICATE,
            )
            .reshape(at.shape[:3])
            .astype(np.float64)
        )
        slope = -(seen[:, :, 2:] - seen[:, :, :-2]) * sign[:, None, None]
        middle = share[1:-1]
        window = np.exp(-0.5 * ((middle - 1.0) / 0.3) ** 2)
        weighed = np.clip(slope, 0, None) * window
        top = np.argmax(weighed, axis=2)
        near = np.abs(np.arange(len(middle)) - top[..., None]) <= 2
        mass = weighed * near
        rim = (mass @ middle) / np.maximum(1e-9, mass.sum(axis=2)) * radius[:, None]
        strength = np.take_along_axis(slope, top[..., None], axis=2)[..., 0]
        typical = np.median(strength, axis=1, keepdims=True)
        centre, radius, good = _circles_fitted(centre, rim, rays, strength > 0.35 * typical, mm)
    rows, columns = (
        np.clip(np.round(centre[:, axis]).astype(int), 0, ground.shape[1 - axis] - 1)
        for axis in (1, 0)
    )
    wood, dark = ground[rows, columns], bare[rows, columns] / ground[rows, columns]
    return [
        _one(
            centre[i],
            radius[i],
            sign[i],
            rim[i],
            good[i],
            seen[i],
            share,
            float(wood[i]),
            float(dark[i]),
            mm,
            turns,
        )
        for i in range(len(places))
    ]


def _circles_fitted(
    centre: Array, rim: Array, rays: Array, strong: Mask, mm: float
) -> tuple[Array, Array, Mask]:
    """Return middles and radii of circles through rims, and which rays agree with each."""
    good = strong.copy()
    new_centre, new_radius = centre.copy(), np.median(rim, axis=1)
    points = rays[None] * rim[..., None]
    rows = np.concatenate([2 * points, np.ones((*rim.shape, 1))], axis=2)
    square = np.sum(points**2, axis=2)
    for _ in range(4):
        weighed = rows * good[..., None]
        normal = np.einsum("nri,nrj->nij", weighed, rows) + 1e-6 * np.eye(3)
        solved = np.linalg.solve(normal, np.einsum("nri,nr->ni", weighed, square)[..., None])[
            ..., 0
        ]
        size = solved[:, 2] + np.sum(solved[:, :2] ** 2, axis=1)
        near = np.linalg.norm(solved[:, :2], axis=1) < 0.6 * np.median(rim, axis=1)
        sound = (good.sum(axis=1) >= RAYS // 4) & (size > 0) & near
        new_centre[sound] = centre[sound] + solved[sound, :2]
        new_radius[sound] = np.sqrt(size[sound])
        places = centre[:, None, :] + points
        off = np.abs(np.linalg.norm(places - new_centre[:, None, :], axis=2) - new_radius[:, None])
        good = strong & (off < np.maximum(0.45 / mm, 0.11 * new_radius[:, None]))
    return new_centre, np.maximum(1.0, new_radius), good


def _one(
    centre: Array,
    radius: float,
    sign: float,
    rim: Array,
    good: Mask,
    seen: Array,
    share: Array,
    wood: float,
    bare: float,
    mm: float,
    turns: Array,
) -> Measured:
    def shade(low: float, high: float) -> Array:
        return seen[:, (share >= low) & (share <= high)] / wood

    inside = shade(0.0, 0.75)
    ring = seen.mean(axis=0) / wood
    step = float(np.max(-np.diff(ring) * sign)) / max(1e-9, float(share[1] * radius * mm))
    wave = np.hypot(np.mean(rim * np.cos(2 * turns)), np.mean(rim * np.sin(2 * turns)))
    return Measured(
        float(centre[0] * mm),
        float(centre[1] * mm),
        float(radius * mm),
        float(sign),
        float(good.mean()),
        _longest_gap(good),
        _open_share(seen, share, sign),
        float(np.median(inside)),
        float(np.median(shade(0.0, 0.5))),
        float(np.median(shade(1.3, 1.8))),
        step,
        float(4 * wave / max(1e-9, rim.mean())),
        float(np.std(inside)),
        wood,
        min(1.0, bare),
    )


def _open_share(seen: Array, share: Array, sign: float) -> float:
    """Return in what share of directions shade past the rim is nearer that within than the
    usual.
    """
    within = float(np.median(seen[:, share <= 0.5]))
    past = seen[:, (share >= 1.3) & (share <= 1.8)].mean(axis=1)
    usual = float(np.median(past))
    return float(np.mean(sign * (past - within) > 0.5 * sign * (usual - within)))


def _longest_gap(good: Mask) -> float:
    """Return the longest stretch of rays that do not agree, degrees, once round."""
    if not good.any():
        return 360.0
    turned = np.roll(good, -int(np.argmax(good)))
    marks = np.flatnonzero(np.concatenate([turned, [True]]))
    return float(np.max(np.diff(marks)) - 1) * 360.0 / len(good)


def _soft(value: float, low: float, high: float) -> float:
    """Return 0 at one figure and below, 1 at the other and above (or the other way), else
    between.
    """
    return float(np.clip((value - low) / (high - low), 0.0, 1.0))


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
        return _find("hole", m, high_mm, sure) if sure >= 0.1 else None
    if diameter < 9.0 or contrast < 0.06:
        return None
    rounded = _soft(m.agree, 0.62, 0.93) * _soft(m.long, 0.3, 0.1) * _soft(m.gap, 90, 35)
    sharp = _soft(m.step, 0.03, 0.09)
    clear = _soft(contrast / (0.03 + m.even), 0.8, 2.2)
    sure = (0.7 if is_speckled else 0.95) * rounded * sharp * clear
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
