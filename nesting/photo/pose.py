"""Where the camera stood, how its lens bends, and how the sheets lie: all from the marks at once.

Unknown are the lens (focal length, k1, k2), a view for each picture, and where each sheet lies in
the marks' plane; known is each sheet's shape. The sum of squared distances in the pictures is
made least (bundle adjustment: Triggs and others 2000, "Bundle adjustment: a modern synthesis",
in Vision Algorithms, Springer; from memory). The first sheet's frame is the plane's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from nesting.errors import PhotographError
from nesting.photo.camera import Lens, View, on_plane, projected, turned
from nesting.photo.mark_sheet import MARKS_A_SHEET, sheet_corners
from nesting.photo.marks import SeenMark
from nesting.photo.opencv import opencv

Array = NDArray[np.float64]

USUAL_FOCAL = 0.76
"""Focal length over the picture's long side where nothing says it: a phone's main camera is about
27 mm on a frame 36 mm wide (common practice, no source)."""

FOCAL_DOUBT, EXIF_DOUBT, BEND_DOUBT = 0.3, 0.04, 0.15
"""How far these may be off at one standard deviation, before the marks have their say: parts of
the focal length, with and without the picture's own word; k1 and k2."""

CORNER_PIXELS = 0.25
"""Standard deviation of a mark's corner (measured on rendered pictures with noise and blur)."""


@dataclass(frozen=True)
class Shot:
    """The marks of one picture, and its size."""

    name: str
    marks: tuple[SeenMark, ...]
    width: int
    height: int
    focal: float | None = None
    """In pixels, where the picture says it or it is given."""


@dataclass(frozen=True)
class GivenLens:
    """What is known of the lens: where a figure is given it is not fitted."""

    focal: float | None = None
    k1: float | None = None
    k2: float | None = None


@dataclass(frozen=True)
class Fit:
    """What explains the marks: lens and view of each picture, places of sheets, what is left."""

    lenses: tuple[Lens, ...]
    views: tuple[View, ...]
    sheets: dict[int, tuple[float, float, float]]
    left: dict[tuple[int, int], float]
    """Root mean square of what is left, pixels, by picture and sheet."""
    left_mm: dict[tuple[int, int], float]
    spread: Array
    """Covariance of the parameters."""
    parameters: Array
    problem: Problem


@dataclass(frozen=True)
class Problem:
    """The marks of all pictures as arrays, and how parameters are laid out."""

    shots: tuple[Shot, ...]
    sheets: tuple[int, ...]
    picture: NDArray[np.intp]
    sheet: NDArray[np.intp]
    model: Array
    seen: Array
    focal0: float
    focal_doubt: float
    given: GivenLens

    @property
    def size(self) -> int:
        """How many parameters there are."""
        return 3 + 6 * len(self.shots) + 3 * len(self.sheets)

    def lens(self, parameters: Array, picture: int) -> Lens:
        """Return the lens that parameters stand for, its middle in one of the pictures."""
        shot = self.shots[picture]
        focal = self.given.focal or self.focal0 * float(np.exp(parameters[0]))
        k1 = self.given.k1 if self.given.k1 is not None else float(parameters[1])
        k2 = self.given.k2 if self.given.k2 is not None else float(parameters[2])
        if self.given.k1 is not None and self.given.k2 is None:
            k2 = 0.0
        return Lens(focal, k1, k2, ((shot.width - 1) / 2, (shot.height - 1) / 2))

    def view(self, parameters: Array, picture: int) -> View:
        """Return the view of a picture that parameters stand for."""
        own = parameters[3 + 6 * picture : 9 + 6 * picture]
        return View(turned(own[:3]), own[3:] * 1000.0)

    def places(self, parameters: Array) -> Array:
        """Return (s, 3) x, y (mm) and turn (radians) of each sheet; the first lies at the
        origin.
        """
        own = parameters[3 + 6 * len(self.shots) :].reshape(-1, 3).copy()
        own[0] = 0.0
        made: Array = own * np.array([1000.0, 1000.0, 1.0])
        return made

    def world(self, parameters: Array) -> Array:
        """Return (n, 3) the corners in the world."""
        place = self.places(parameters)[self.sheet]
        cos, sin = np.cos(place[:, 2]), np.sin(place[:, 2])
        x, y = self.model.T
        flat = np.column_stack([cos * x - sin * y + place[:, 0], sin * x + cos * y + place[:, 1]])
        return np.column_stack([flat, np.zeros(len(flat))])

    def misses(self, parameters: Array) -> Array:
        """Return (n, 2) how far each corner is seen from where parameters put it, pixels."""
        world = self.world(parameters)
        found = np.empty_like(self.seen)
        for picture in range(len(self.shots)):
            mine = self.picture == picture
            view, lens = self.view(parameters, picture), self.lens(parameters, picture)
            found[mine] = projected(world[mine], view, lens)
        return found - self.seen

    def residuals(self, parameters: Array) -> Array:
        """Return misses in standard deviations, and what is known beforehand."""
        before = parameters[:3] / np.array([self.focal_doubt, BEND_DOUBT, BEND_DOUBT])
        return np.concatenate([self.misses(parameters).ravel() / CORNER_PIXELS, before])


def problem_of(shots: Sequence[Shot], given: GivenLens, ruler_mm: float) -> Problem:
    """Return the marks of pictures as one problem; its first sheet is the one seen best."""
    by_sheet: dict[int, float] = {}
    for shot in shots:
        for mark in shot.marks:
            by_sheet[mark.sheet] = by_sheet.get(mark.sheet, 0.0) + mark.side
    sheets = tuple(sorted(by_sheet, key=lambda sheet: -by_sheet[sheet]))
    corners = sheet_corners(ruler_mm)
    rows = [
        (picture, sheets.index(mark.sheet), corners[mark.number % MARKS_A_SHEET], mark.corners)
        for picture, shot in enumerate(shots)
        for mark in shot.marks
    ]
    focals = [shot.focal for shot in shots if shot.focal]
    long_side = max(shots[0].width, shots[0].height)
    return Problem(
        tuple(shots),
        sheets,
        np.repeat([row[0] for row in rows], 4),
        np.repeat([row[1] for row in rows], 4),
        np.concatenate([row[2] for row in rows]),
        np.concatenate([row[3] for row in rows]),
        focals[0] if focals else USUAL_FOCAL * long_side,
        EXIF_DOUBT if focals else FOCAL_DOUBT,
        given,
    )


def fitted(problem: Problem) -> Fit:
    """Return what explains the marks best, begun from the sheets seen best in turn."""
    best: tuple[float, Array, Array] | None = None
    for base in range(min(3, len(problem.sheets))):
        start = _start(problem, base)
        if start is None:
            continue
        for loss in ("soft_l1", "linear"):
            found = least_squares(
                problem.residuals,
                start,
                loss=loss,
                f_scale=4.0,
                method="trf",
                x_scale="jac",
                max_nfev=60,
            )
            start = found.x
        if best is None or found.cost < best[0]:
            best = float(found.cost), found.x, np.asarray(found.jac)
        if found.cost < 4.0 * len(problem.seen):
            break
    if best is None:
        raise PhotographError(
            "the pictures hang together by no common sheet: take them so that neighbours share two"
        )
    return _fit(problem, best[1], best[2])


def _fit(problem: Problem, parameters: Array, jacobian: Array) -> Fit:
    misses = problem.misses(parameters)
    degrees = max(1, misses.size - problem.size)
    noise = max(1.0, float(np.sum((misses / CORNER_PIXELS) ** 2)) / degrees)
    # What the pictures do not say (the first sheet's own place) counts for nothing.
    spread = np.linalg.pinv(jacobian.T @ jacobian, rcond=1e-12, hermitian=True) * noise
    count = len(problem.shots)
    left, left_mm = {}, {}
    for picture in range(count):
        for index, sheet in enumerate(problem.sheets):
            mine = (problem.picture == picture) & (problem.sheet == index)
            if mine.any():
                off = float(np.sqrt(np.mean(np.sum(misses[mine] ** 2, axis=1))))
                left[picture, sheet] = off
                left_mm[picture, sheet] = off * _mm_a_pixel(problem, mine)
    places = problem.places(parameters)
    return Fit(
        tuple(problem.lens(parameters, picture) for picture in range(count)),
        tuple(problem.view(parameters, picture) for picture in range(count)),
        {sheet: tuple(places[i].tolist()) for i, sheet in enumerate(problem.sheets)},
        left,
        left_mm,
        np.asarray(spread, dtype=np.float64),
        parameters,
        problem,
    )


def _mm_a_pixel(problem: Problem, mine: NDArray[np.bool_]) -> float:
    """Return the size of a pixel at a sheet, from the sides of its marks there."""
    seen, model = problem.seen[mine].reshape(-1, 4, 2), problem.model[mine].reshape(-1, 4, 2)
    sides = [np.linalg.norm(np.roll(c, 1, axis=1) - c, axis=2).mean() for c in (model, seen)]
    return float(sides[0] / sides[1])


def _start(problem: Problem, base: int) -> Array | None:
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


def length_doubt(
    fit: Fit, one: tuple[int, Array], other: tuple[int, Array], height_mm: float
) -> float:
    """Return the standard deviation of a length, mm, between pixels of two pictures on the
    board.
    """

    def length(parameters: Array) -> float:
        ends = [
            on_plane(
                pixel[None],
                fit.problem.view(parameters, picture),
                fit.problem.lens(parameters, picture),
                height_mm,
            )[0]
            for picture, pixel in (one, other)
        ]
        return float(np.linalg.norm(ends[0] - ends[1]))

    middle = length(fit.parameters)
    slope = np.zeros(len(fit.parameters))
    for i in range(len(slope)):
        moved = fit.parameters.copy()
        moved[i] += 1e-6
        slope[i] = (length(moved) - middle) / 1e-6
    return float(np.sqrt(max(0.0, float(slope @ fit.spread @ slope))))
