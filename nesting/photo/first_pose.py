"""A first guess of views and of where sheets lie, from the sheets seen best in turn."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nesting.photo.camera import View, on_plane, turned
from nesting.photo.opencv import opencv
from nesting.photo.pose_problem import Array, Problem


def first_parameters(problem: Problem, base: int) -> Array | None:
    """Return first parameters: views by the base sheet and by those that it makes known."""
    places: dict[int, tuple[float, float, float]] = {base: (0.0, 0.0, 0.0)}
    views: dict[int, View] = {}
    zero = np.zeros(problem.size)
    while len(views) < len(problem.shots):
        fresh = [
            (int(np.sum(_known(problem, picture, places))), picture)
            for picture in range(len(problem.shots))
            if picture not in views and _known(problem, picture, places).any()
        ]
        if not fresh:
            return None
        picture = max(fresh)[1]
        views[picture] = _first_view(problem, picture, places)
        lens = problem.lens(zero, picture)
        for index in set(problem.sheet[problem.picture == picture].tolist()) - set(places):
            mine = (problem.picture == picture) & (problem.sheet == index)
            met = on_plane(problem.seen[mine], views[picture], lens)
            places[index] = _rigid(problem.model[mine], met)
    first = places[0]
    return _packed(problem, views, places, first)


def _known(
    problem: Problem, picture: int, places: dict[int, tuple[float, float, float]]
) -> NDArray[np.bool_]:
    made: NDArray[np.bool_] = (problem.picture == picture) & np.isin(problem.sheet, list(places))
    return made


def _first_view(
    problem: Problem, picture: int, places: dict[int, tuple[float, float, float]]
) -> View:
    cv2 = opencv()
    mine = _known(problem, picture, places)
    parameters = np.zeros(problem.size)
    own = parameters[3 + 6 * len(problem.shots) :].reshape(-1, 3)
    lens = problem.lens(parameters, picture)
    own[:] = 0.0
    world = _laid(problem, mine, places)
    matrix = np.array(
        [[lens.focal, 0, lens.middle[0]], [0, lens.focal, lens.middle[1]], [0, 0, 1.0]]
    )
    bend = np.array([lens.k1, lens.k2, 0, 0, 0])
    _, turn, shift = cv2.solvePnP(world, problem.seen[mine], matrix, bend, flags=cv2.SOLVEPNP_IPPE)
    return View(turned(turn.ravel()), shift.ravel())


def _laid(
    problem: Problem, mine: NDArray[np.bool_], places: dict[int, tuple[float, float, float]]
) -> Array:
    place = np.array([places[index] for index in problem.sheet[mine].tolist()])
    x, y = problem.model[mine].T
    cos, sin = np.cos(place[:, 2]), np.sin(place[:, 2])
    flat = np.column_stack([cos * x - sin * y + place[:, 0], sin * x + cos * y + place[:, 1]])
    return np.column_stack([flat, np.zeros(len(flat))])


def _rigid(model: Array, met: Array) -> tuple[float, float, float]:
    """Return the shift and turn that lay a sheet's corners nearest to where they were met."""
    a, b = model - model.mean(axis=0), met - met.mean(axis=0)
    turn = float(np.arctan2(np.sum(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]), np.sum(a * b)))
    cos, sin = np.cos(turn), np.sin(turn)
    x, y = met.mean(axis=0) - np.array([[cos, -sin], [sin, cos]]) @ model.mean(axis=0)
    return float(x), float(y), turn


def _packed(
    problem: Problem,
    views: dict[int, View],
    places: dict[int, tuple[float, float, float]],
    first: tuple[float, float, float],
) -> Array:
    """Return parameters in the first sheet's frame."""
    cv2 = opencv()
    cos, sin = np.cos(first[2]), np.sin(first[2])
    turn = np.array([[cos, -sin, 0], [sin, cos, 0], [0, 0, 1.0]])
    shift = np.array([first[0], first[1], 0.0])
    parameters = np.zeros(problem.size)
    for picture, view in views.items():
        own = parameters[3 + 6 * picture : 9 + 6 * picture]
        own[:3] = cv2.Rodrigues(view.turn @ turn)[0].ravel()
        own[3:] = (view.turn @ shift + view.shift) / 1000.0
    rows = parameters[3 + 6 * len(problem.shots) :].reshape(-1, 3)
    for index, (x, y, angle) in places.items():
        flat = turn[:2, :2].T @ (np.array([x, y]) - shift[:2])
        rows[index] = flat[0] / 1000.0, flat[1] / 1000.0, angle - first[2]
    return parameters
