"""A line followed in a plan near a path: whether there is one, and where."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import LineString

from nesting.photo.band import FINE_MM, STEP_MM, STIFF, best_path, seen_at
from nesting.photo.edge_lines import steps_along, told_by_lines
from nesting.photo.plan_view import Array, PlanView

BAND_MM = 12.0
"""How far off a bridge its line is looked for."""

BESIDE_MM = 30.0
"""So much of the sound edge at both ends of a bridge is looked at with it."""

TOLD_NATS = 2.0
"""A line that tells so much is seen."""


ON_MM, PLAIN_NATS = 2.5, 8.0
"""A line that tells so much all along, no farther off, is plain: of ten faint stretches of rendered
edges nine told 10.3 and more and lay within 3.4 mm, eight of them within 2.4; one told 3.4."""


def is_plain_line(plan: PlanView, line: Array) -> bool:
    """Return whether an edge (n, 2) lies on a plain line."""
    return bool(followed(plan, LineString(line), ON_MM)[2].mean() >= PLAIN_NATS)


def line_share(plan: PlanView, line: Array) -> float:
    """Return over what part of a bridge a line is seen that runs along it."""
    ahead, back = (line[-1] - line[-2], line[0] - line[1])
    more = [
        end + BESIDE_MM * way / np.linalg.norm(way)
        for end, way in ((line[0], back), (line[-1], ahead))
    ]
    path = LineString(np.concatenate([more[:1], line, more[1:]]))
    at, _, told = followed(plan, path, BAND_MM)
    inner = (at > BESIDE_MM) & (at < path.length - BESIDE_MM)
    return float(np.mean(told[inner] > TOLD_NATS)) if inner.any() else 0.0


def followed(plan: PlanView, path: LineString, reach_mm: float) -> tuple[Array, Array, Array]:
    """Return how far along a path places are, (n, 2) the line near it, and what it tells there."""
    at = np.linspace(0, path.length, max(8, round(path.length / STEP_MM)))
    places = shapely.get_coordinates(path.interpolate(at))
    way = np.gradient(places, axis=0)
    way /= np.maximum(1e-9, np.linalg.norm(way, axis=1, keepdims=True))
    normals = np.column_stack([way[:, 1], -way[:, 0]])
    offsets = np.arange(-reach_mm - BAND_MM, reach_mm + BAND_MM + 1e-9, FINE_MM)
    seen, hidden = seen_at(plan, places[:, None, :] + offsets[None, :, None] * normals[:, None, :])
    light = seen[..., :3].astype(np.float64)
    told = told_by_lines(steps_along(light, FINE_MM, STEP_MM), hidden, STEP_MM)
    told[:, np.abs(offsets) > reach_mm] = -1e6
    found = best_path(told, None, STIFF)
    met = places + offsets[found][:, None] * normals
    return at, met, told[np.arange(len(at)), found]
