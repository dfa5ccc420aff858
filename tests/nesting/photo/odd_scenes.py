"""Scenes with what happens in a yard: things that lie on the board, wet and scraped wood, a second
board, a board that is twisted or runs out of the picture.

Each takes a scene and a camera as ``random_case`` draws them, and gives both back changed. The
truth stays that of the board.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import photograph_renderer as pr
import shapely
from shapely import affinity
from shapely.geometry import LineString, Point


def laid_on(scene, ring, colour, rng, *, ticks=False):
    """Return a scene with a thing of one colour (B, G, R) lying on the board and past it."""
    mask = np.zeros(scene.cover.shape, np.uint8)
    pr.fill(mask, scene.low, np.asarray(ring), 255)
    shade = 1 + 0.06 * pr.fractal(rng, scene.cover.shape, (60, 60), 3)
    thing = np.array(colour, np.float32) * shade[..., None]
    if ticks:
        lines = (np.arange(scene.cover.shape[1]) * pr.GRID % 10 < 1.4)[None, :, None]
        thing = np.where(lines, 30.0, thing)
    alpha = mask[..., None] / 255.0
    face = scene.face * (1 - alpha) + thing * alpha
    return replace(
        scene,
        face=np.clip(face, 0, 255).astype(np.uint8),
        cover=np.maximum(scene.cover, mask),
    )


def tape(scene, camera, rng):
    """A steel tape across the board, somewhat askew."""
    x, y = scene.outline[int(rng.integers(30, 130))] * (1.0, 0.0)
    half = float(rng.uniform(150, 320))
    line = LineString([(x, y - half), (x + rng.uniform(-60, 60), y + half)])
    ring = line.buffer(9.5, cap_style="flat").exterior.coords[:-1]
    return laid_on(scene, ring, (40, 200, 230), rng, ticks=True), camera


def gloved(scene, at, rng):
    """Return a scene with a glove that lies there."""
    palm = [Point(0, 0).buffer(42)]
    fingers = [
        LineString([(0, 0), (95 * np.cos(a), 95 * np.sin(a))]).buffer(11)
        for a in np.radians([40, 70, 95, 120, 165])
    ]
    shape = affinity.rotate(shapely.union_all([*palm, *fingers]), float(rng.uniform(0, 360)))
    shape = affinity.translate(shape, *map(float, at))
    colour = ((70, 120, 170), (150, 95, 40), (50, 50, 50))[int(rng.integers(3))]
    return laid_on(scene, shape.exterior.coords[:-1], colour, rng)


def glove(scene, camera, rng):
    """A glove on the board, partly past its edge."""
    x, y = scene.outline[int(rng.integers(20, 300))]
    return gloved(scene, (x, y * rng.uniform(0.5, 1.1)), rng), camera


def glove_at_end(scene, camera, rng):
    """A glove over an end of the board, or over a corner of it."""
    way = float(rng.choice([-1.0, 1.0]))
    up = float(rng.choice([-1.0, 0.0, 1.0]))
    middle = scene.outline.mean(axis=0)
    ahead = (scene.outline - middle) @ (way, 0.0)
    end = scene.outline[ahead > ahead.max() - 60.0]
    at = end[int(np.argmax(end @ (0.2 * way, up)))] if up else (end[:, 0].mean(), middle[1])
    return gloved(scene, np.add(at, rng.uniform(-15, 15, 2)), rng), camera


def wet(scene, camera, rng):
    """Wet patches on the face, dark and not sharp at their rims."""
    blots = pr.fractal(rng, scene.cover.shape, (7, 9), 4) > 0.7
    blots = cv2.GaussianBlur(blots.astype(np.float32), (0, 0), 3)[..., None]
    face = scene.face * (1 - float(rng.uniform(0.3, 0.5)) * blots)
    return replace(scene, face=face.astype(np.uint8)), camera


def scraped(scene, camera, rng):
    """Paint on one part of the face, scraped off the other; the paint of a ground's colour."""
    low, high = scene.outline.min(axis=0), scene.outline.max(axis=0)
    at = low[0] + (high[0] - low[0]) * float(rng.uniform(0.3, 0.7))
    columns = scene.low[0] + pr.GRID * np.arange(scene.cover.shape[1])
    ragged = 14 * pr.fractal(rng, scene.cover.shape, (90, 90), 3)
    painted = (columns[None, :] + ragged < at)[..., None]
    tint = np.array(pr.GROUNDS[int(rng.integers(len(pr.GROUNDS)))], np.float32)
    shade = 1 + 0.04 * pr.fractal(rng, scene.cover.shape, (30, 30), 4)[..., None]
    face = np.where(painted, np.clip(tint * shade, 0, 255), scene.face)
    for x, y, d in scene.holes:
        face = face.astype(np.float32)
        pr.paint_hole(rng, face, scene.low, x, y, d)
    return replace(scene, face=np.clip(face, 0, 255).astype(np.uint8)), camera


def end_grain(scene, camera, rng):
    """An end seen from beyond it: light end grain below the face."""
    far = float(rng.choice([-0.3, 0.3])) * float(np.ptp(scene.outline[:, 0]))
    eye = (camera.eye[0] + far, camera.eye[1], camera.eye[2])
    return replace(scene, side_shade=1.25), replace(camera, eye=eye, aim=(0.1 * far, 0.0))


def another(scene, rng, gap):
    """Return the ring of a second board beside the first, so far off it."""
    length = float(rng.uniform(0.4, 0.75) * np.ptp(scene.outline[:, 0]))
    ring = pr.plank_outline(rng, length, float(rng.uniform(80, 180)), taper=0.0)
    under = ring[:, 1].min()
    over = scene.outline[:, 1].max()
    along = float(rng.uniform(-150, 150))
    return np.add(ring, (along, over - under + gap))


def second_board(scene, camera, rng):
    """A second board of the same wood beside the first, clear of it."""
    return with_board(scene, another(scene, rng, float(rng.uniform(30, 110))), rng), camera


def board_against(scene, camera, rng):
    """A second board that lies against the first."""
    return with_board(scene, another(scene, rng, float(rng.uniform(0, 3))), rng), camera


def with_board(scene, ring, rng):
    """Return a scene with one more board, of the first one's wood."""
    mask = np.zeros(scene.cover.shape, np.uint8)
    pr.fill(mask, scene.low, ring, 255)
    left, low = np.maximum(0, pr.grid_of(scene.low, ring.min(axis=0) - 10).astype(int))
    right, high = pr.grid_of(scene.low, ring.max(axis=0) + 10).astype(int)
    middle = int(pr.grid_of(scene.low, scene.outline.mean(axis=0))[1])
    strip = scene.face[middle - 40 : middle + 40, left:right]
    wood = np.tile(np.concatenate([strip, strip[::-1]]), ((high - low) // 160 + 1, 1, 1))
    face, box = scene.face.copy(), (slice(low, high), slice(left, right))
    face[box] = np.where(mask[box][..., None] > 0, wood[: high - low], face[box])
    cover = np.maximum(scene.cover, mask)
    return replace(scene, face=face, cover=cover, others=(*scene.others, ring))


def over_the_edge(scene, camera, rng):
    """A camera that does not see one end of the board."""
    far = float(rng.choice([-0.28, 0.28])) * float(np.ptp(scene.outline[:, 0]))
    eye = (camera.eye[0] + far, camera.eye[1], camera.eye[2])
    return scene, replace(camera, eye=eye, aim=(camera.aim[0] + far, camera.aim[1]))


def twisted(scene, camera, rng):
    """One end of the board higher than the other, and one side."""
    long = float(np.ptp(scene.outline[:, 0]))
    rise = float(rng.uniform(15, 40)) * float(rng.choice([-1, 1]))
    slope = rise / long
    return replace(scene, tilt=(slope, 0.0, abs(rise) / 2)), camera


AMISS = {
    "tape": tape,
    "glove": glove,
    "glove at end": glove_at_end,
    "wet": wet,
    "scraped": scraped,
    "end grain": end_grain,
    "second board": second_board,
    "board against": board_against,
    "over the edge": over_the_edge,
    "twisted": twisted,
}
