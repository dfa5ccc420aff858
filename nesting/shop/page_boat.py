"""The boat for the page: pieces as facets where they stand in her, and her lines about them."""

from __future__ import annotations

import base64
from typing import TYPE_CHECKING, Any

import numpy as np

from nesting.project import Project
from nesting.shop.folio import Folio

if TYPE_CHECKING:
    from parts.curves import Points
    from parts.lines import Hull
    from parts.model.mesh import Mesh

STEPS = 32_000
"""A mesh's points are whole steps, so many to its greatest figure: a tenth of a mm in 3 m."""

Json = dict[str, Any]


def boat_data(folio: Folio, plan: Json) -> Json | None:
    """Return the pieces that know where they stand, and the hull's lines; None without a boat.

    ``plan`` is the rest of the page's data; its pieces learn here where they stand.
    """
    job = folio.job
    if not isinstance(job, Project) or job.boat is None:
        return None
    from parts.boat.whereabouts import whereabouts
    from parts.model.facets import facets_of
    from parts.model.piece import sawn_for

    numbers = {piece["label"]: number for number, piece in enumerate(plan["pieces"])}
    meshes: list[Json] = []
    standing: list[Json] = []
    for name, part in job.parts.items():
        places = part.positions()
        if not places:
            continue
        mesh = facets_of(part)
        meshes.append(_packed(mesh))
        for place, sawn in zip(places, sawn_for(name, part), strict=True):
            points = place.in_boat(mesh.points)
            low, high = (_corner(points, least) for least in (True, False))
            cut = [numbers[label] for label in sawn.cut if label in numbers]
            where = whereabouts(job.boat, low, high, job.unit)
            before = folio.stand.sawn if folio.stand and not cut else {}
            for number in cut:
                plan["pieces"][number]["stands"] = where
            standing.append(
                {"label": sawn.label, "pieces": cut, "sawn": sawn.source(before),
                 "mesh": len(meshes) - 1, "where": where,
                 "axes": np.round(place.axes, 7).tolist(), "origin": list(place.origin)}
            )  # fmt: skip
    if not standing:
        return None
    return {"meshes": meshes, "standing": standing, "lines": _lines(job.boat.hull)}


def _corner(points: Points, is_least: bool) -> tuple[float, float, float]:
    x, y, z = (points.min(axis=0) if is_least else points.max(axis=0)).tolist()
    return x, y, z


def _packed(mesh: Mesh) -> Json:
    """Return a mesh as base64: points in whole steps, 16 bits each, corners likewise."""
    step = max(float(np.abs(mesh.points).max()), 1.0) / STEPS
    is_small = len(mesh.points) < 2**16
    corners = mesh.triangles.astype("<u2" if is_small else "<u4")
    return {
        "step": step,
        "points": _base64(np.round(mesh.points / step).astype("<i2")),
        "corners": _base64(corners),
        "bits": 16 if is_small else 32,
    }


def _base64(numbers: Any) -> str:
    return base64.b64encode(numbers.tobytes()).decode()


def _lines(hull: Hull) -> list[list[float]]:
    """Return the hull's edges and sections, x, y, z, x, y, z, ... each, to a mm."""
    from parts.model.ghost import ghost_lines

    edges, sections = ghost_lines(hull)
    return [np.round(line).astype(int).ravel().tolist() for line in (*edges, *sections)]
