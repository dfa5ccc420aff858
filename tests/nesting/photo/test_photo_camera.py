"""Camera, marks and pose, held against OpenCV's own projection and a second reader of PDF."""

from dataclasses import replace

import cv2
import numpy as np
import pypdfium2
import pytest
from photograph_renderer import Camera

from nesting.errors import OutputError, PhotographError
from nesting.photo import opencv as door
from nesting.photo.camera import Lens, View, on_plane, projected, straightened, turned
from nesting.photo.flat_sheets import require_flat
from nesting.photo.mark_sheet import CENTRES_MM, MARK_MM, RULER_MM, mark_sheets, sheet_corners
from nesting.photo.marks import SeenMark, rim_width, seen_marks
from nesting.photo.pose import fitted, length_doubt
from nesting.photo.pose_problem import GivenLens, Shot, problem_of
from nesting.sheets.pdf import write_pdf
from nesting.shop.kinds import Paper

LENS = Lens(2300.0, -0.11, 0.03, (1499.5, 1124.5))


def matrix(lens):
    return np.array([[lens.focal, 0, lens.middle[0]], [0, lens.focal, lens.middle[1]], [0, 0, 1.0]])


@pytest.mark.parametrize("seed", range(8))
def test_projection_is_opencvs(seed):
    chance = np.random.default_rng(seed)
    vector, shift = chance.normal(0, 0.8, 3), np.array([*chance.normal(0, 200, 2), 2500.0])
    world = chance.uniform(-900, 900, (40, 3)) * (1, 1, 0.1)
    lens = Lens(chance.uniform(900, 4000), *chance.uniform(-0.15, 0.1, 2), (1499.5, 1124.5))
    bend = np.array([lens.k1, lens.k2, 0, 0, 0])
    theirs = cv2.projectPoints(world, vector, shift, matrix(lens), bend)[0].reshape(-1, 2)
    view = View(turned(vector), shift)
    assert np.allclose(view.turn, cv2.Rodrigues(vector)[0], atol=1e-12)
    assert np.allclose(projected(world, view, lens), theirs, atol=1e-6)


def test_the_way_back_undoes_it():
    chance = np.random.default_rng(3)
    view = View(turned(np.array([3.0, 0.2, 0.1])), np.array([30.0, 20.0, 2400.0]))
    for height in (0.0, 35.0, -20.0):
        flat = chance.uniform(-900, 900, (60, 2))
        pixels = projected(np.column_stack([flat, np.full(60, height)]), view, LENS)
        assert np.allclose(on_plane(pixels, view, LENS, height), flat, atol=1e-6)
    theirs = cv2.undistortPoints(
        pixels[:, None], matrix(LENS), np.array([LENS.k1, LENS.k2, 0, 0, 0])
    )
    assert np.allclose(straightened(pixels, LENS), theirs[:, 0], atol=1e-4)


@pytest.mark.parametrize("paper", [Paper.A4, Paper.LETTER])
def test_a_printed_sheet_has_its_marks_where_they_are_said_to_be(tmp_path, paper):
    path = write_pdf(mark_sheets(2, paper, first=7), tmp_path / "marks.pdf")
    page = pypdfium2.PdfDocument(path)[1]
    times = 150 / 72
    picture = np.array(page.render(scale=times).to_pil().convert("L"))
    wide, high = paper.size_mm
    assert picture.shape[1] == pytest.approx(wide / 25.4 * 150, abs=2)
    marks = seen_marks(picture)
    assert [mark.number for mark in marks] == [28, 29, 30, 31]
    for mark, corners in zip(marks, sheet_corners(), strict=True):
        assert mark.sheet == 8
        mm = (mark.corners + 0.5) * 25.4 / 150 - (wide / 2, high / 2)
        # A page is a whole number of pixels: that moves all of it by part of one, 0.17 mm.
        assert np.allclose(mm * (1, -1), corners, atol=0.2)
        assert mark.side * 25.4 / 150 == pytest.approx(MARK_MM, abs=0.05)


def test_the_long_ruler_is_as_long_as_the_marks_reach():
    ys = [y for _, y in CENTRES_MM]
    assert max(ys) - min(ys) + MARK_MM == RULER_MM
    assert np.allclose(sheet_corners(RULER_MM * 1.01), 1.01 * sheet_corners())


def shots(places, cameras, noise, seed, drop=()):
    """Return the marks of sheets at places as cameras see them, by OpenCV, with noise."""
    chance, found = np.random.default_rng(seed), []
    for number, camera in enumerate(cameras):
        turn, shift = camera.pose()
        bend = np.array([camera.k1, camera.k2, 0, 0, 0])
        marks = []
        for sheet, (x, y, angle) in places.items():
            cos, sin = np.cos(angle), np.sin(angle)
            for i, corners in enumerate(sheet_corners()):
                flat = corners @ np.array([[cos, sin], [-sin, cos]]) + (x, y)
                world = np.column_stack([flat, np.full(4, -30.0 if sheet in drop else 0.0)])
                seen = cv2.projectPoints(
                    world, cv2.Rodrigues(turn)[0], shift, camera.matrix(), bend
                )[0][:, 0]
                if ((seen > 0) & (seen < (camera.width, camera.height))).all():
                    marks.append(
                        SeenMark(4 * (sheet - 1) + i, seen + chance.normal(0, noise, (4, 2)))
                    )
        found.append(Shot(f"p{number}", tuple(marks), camera.width, camera.height))
    return found


PLACES = {
    1: (-900, 330, 0.3),
    2: (0, 340, 2.0),
    3: (900, 330, -1.0),
    4: (-800, -330, 3.0),
    5: (820, -340, 0.1),
}


def camera(x=0.0, high=2300.0, focal=2400.0):
    return Camera(3000, 2250, focal, -0.08, 0.02, (x + 150, -350, high), (x, 0))


def distance(fit, one, other):
    a, b = (np.array(fit.sheets[sheet][:2]) for sheet in (one, other))
    return float(np.hypot(*(a - b)))


def true_distance(one, other):
    return float(np.hypot(*np.subtract(PLACES[one][:2], PLACES[other][:2])))


def test_sheets_laid_anywhere_fix_scale_lens_and_plane():
    fit = fitted(problem_of(shots(PLACES, [camera()], 0.15, 1), GivenLens(), RULER_MM))
    assert fit.lenses[0].focal == pytest.approx(2400, rel=0.02)
    assert fit.lenses[0].k1 == pytest.approx(-0.08, abs=0.01)
    for pair in ((1, 3), (4, 5), (1, 5)):
        assert distance(fit, *pair) == pytest.approx(true_distance(*pair), abs=2.0)


def test_stated_doubt_of_a_length_comes_true():
    misses, stated = [], []
    for seed in range(6):
        fit = fitted(problem_of(shots(PLACES, [camera()], 0.25, seed), GivenLens(), RULER_MM))
        misses.append(distance(fit, 1, 3) - true_distance(1, 3))
        ends = [
            projected(np.array([[*fit.sheets[s][:2], 0.0]]), fit.views[0], fit.lenses[0])[0]
            for s in (1, 3)
        ]
        stated.append(length_doubt(fit, (0, ends[0]), (0, ends[1]), 0.0))
    assert 0.4 < np.sqrt(np.mean(np.square(misses))) / np.mean(stated) < 2.2


def test_pictures_that_share_sheets_make_one_plane():
    places = {**PLACES, 6: (2700, 330, 1.0), 7: (2600, -330, 0.5), 8: (1750, 340, 0.0)}
    fit = fitted(
        problem_of(shots(places, [camera(0), camera(1700)], 0.15, 2), GivenLens(), RULER_MM)
    )
    true = float(np.hypot(*np.subtract(places[1][:2], places[6][:2])))
    assert distance(fit, 1, 6) == pytest.approx(true, abs=5.0)


def test_a_bent_sheet_is_named():
    (shot,) = shots(PLACES, [camera()], 0.1, 4)
    # The far part of sheet 2 is seen shortened, as bent paper is.
    bent = tuple(
        SeenMark(m.number, m.corners + np.array([3.0, 4.0])) if m.number == 5 else m
        for m in shot.marks
    )
    fit = fitted(problem_of([replace(shot, marks=bent)], GivenLens(), RULER_MM))
    with pytest.raises(PhotographError, match="sheet 2 is bent"):
        require_flat(fit)
    require_flat(fitted(problem_of([shot], GivenLens(), RULER_MM)))


def test_a_given_lens_is_kept():
    problem = problem_of(
        shots(PLACES, [camera()], 0.1, 1), GivenLens(2400.0, -0.08, 0.02), RULER_MM
    )
    assert fitted(problem).lenses[0].focal == 2400.0


def test_blur_is_measured_in_pixels():
    picture = np.full((600, 600), 240, np.uint8)
    picture[200:400, 200:400] = 30
    square = np.array([(199.5, 199.5), (399.5, 199.5), (399.5, 399.5), (199.5, 399.5)])
    widths = [
        rim_width(cv2.GaussianBlur(picture, (0, 0), sigma), [SeenMark(0, square)])
        for sigma in (1.0, 4.0)
    ]
    # A blurred edge's steepest slope is its height over sigma times the root of 2 pi.
    assert widths[1] == pytest.approx(4.0 * np.sqrt(2 * np.pi), rel=0.1)
    assert widths[0] < 0.4 * widths[1]


def test_without_opencv_a_sentence_says_how_to_get_it(monkeypatch):
    def fail(name):
        raise ModuleNotFoundError(name=name)

    monkeypatch.setattr(door, "import_module", fail)
    with pytest.raises(OutputError, match=r"salvage-nest\[photo\]"):
        door.opencv()
