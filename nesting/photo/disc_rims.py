"""What is measured of a disc on a face: a circle through where rays cross its rim, and shades."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nesting.photo.opencv import opencv
from nesting.photo.plan_view import Array, Mask

RAYS = 40


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


def measured_discs(
    light: NDArray[np.uint8], ground: Array, bare: Array, places: Array, mm: float
) -> list[Measured]:
    """Return what is measured of discs, in their order.

    ``light``, ``ground``, ``bare``: how light the face, its wood and its bare wood are, cell by
    cell; ``places``: (n, 4) column, row, radius (cells) and sign.
    """
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
