"""Boards out of rendered photographs; bad photographs get one sentence and no board."""

import os
import re
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
import shapely
from photograph_renderer import (
    GRID,
    ground_texture,
    photographed,
    plank_outline,
    small_camera,
    small_scene,
    wood_texture,
)
from shapely.geometry import LinearRing

from nesting.cli import main
from nesting.errors import PhotographError
from nesting.photo.board_face import Face
from nesting.photo.edge_doubts import Stretch
from nesting.photo.marks import seen_marks
from nesting.photo.photo_overlay import overlay_png
from nesting.photo.photographed import Asked, NoBoard, Photographed, board_in, measured
from nesting.photo.picture_file import Group, groups_in
from nesting.photo.round_finds import round_finds
from nesting.photo.stock_text import quoted_text, stock_text
from nesting.project import read_project
from nesting.units import Unit

HOLES = [
    (-250.0, 25.0, 8.0),
    (-250.0, -25.0, 7.0),
    (0.0, 30.0, 9.0),
    (10.0, -28.0, 6.5),
    (240.0, 22.0, 8.0),
]
RECESS = [(120.0, 0.0, 18.0)]


def read(scene, *cameras, below=0.0):
    pictures = [photographed(scene, camera) for camera in cameras]
    names = [f"p{i}.jpg" for i in range(len(pictures))]
    return measured(
        "deck-01", names, pictures, [None] * len(pictures), Asked(scene.thickness, below)
    )


@pytest.fixture(scope="module")
def scene():
    return small_scene(holes=HOLES, recesses=RECESS)


@pytest.fixture(scope="module")
def picture(scene):
    return photographed(scene, small_camera())


@pytest.fixture(scope="module")
def board(scene, picture):
    return measured("deck-01", ["p.jpg"], [picture], [None], Asked(scene.thickness))


def lined_up(scene, board):
    """Return what carries the board's frame onto the scene's, by its sure holes alone."""
    mine = np.array([(f.x, f.y) for f in board.finds if f.confidence >= 0.8])
    true = np.array([h[:2] for h in (*scene.holes, *scene.recesses)])
    axis = np.arctan2(*(scene.outline[159] - scene.outline[0])[::-1])
    best = None
    for start in (axis, axis + np.pi):
        turn = np.array([[np.cos(start), -np.sin(start)], [np.sin(start), np.cos(start)]])
        shift = scene.outline.mean(0) - np.mean(board.outline.exterior.coords[:-1], axis=0) @ turn.T
        for _ in range(20):
            moved = mine @ turn.T + shift
            near = true[np.argmin(np.linalg.norm(moved[:, None] - true, axis=2), axis=1)]
            u, _, v = np.linalg.svd((mine - mine.mean(0)).T @ (near - near.mean(0)))
            turn = v.T @ np.diag([1, np.linalg.det(v.T @ u.T)]) @ u.T
            shift = near.mean(0) - mine.mean(0) @ turn.T
        off = float(np.mean(np.linalg.norm(mine @ turn.T + shift - near, axis=1)))
        if best is None or off < best[0]:
            best = off, turn, shift
    return best[1], best[2]


def misses(scene, board):
    turn, shift = lined_up(scene, board)
    mine = np.array(shapely.segmentize(board.outline.exterior, 3.0).coords) @ turn.T + shift
    true = shapely.segmentize(LinearRing(scene.outline), 3.0)
    return np.concatenate(
        [
            shapely.distance(shapely.points(mine), true),
            shapely.distance(shapely.points(np.array(true.coords)), LinearRing(mine)),
        ]
    )


def test_outline_and_holes_are_those_of_the_board(scene, board):
    off = misses(scene, board)
    assert np.median(off) < 1.0 and off.max() < 5.0
    assert board.doubt_mm < 3.0
    turn, shift = lined_up(scene, board)
    for x, y, d in HOLES:
        near = min(
            board.finds, key=lambda f: np.hypot(*(np.array([f.x, f.y]) @ turn.T + shift - (x, y)))
        )
        assert near.kind == "hole" and near.confidence >= 0.8
        assert near.diameter == pytest.approx(d, abs=1.0)
        assert np.hypot(*(np.array([near.x, near.y]) @ turn.T + shift - (x, y))) < 1.5
    sure = [find.kind for find in board.finds if find.confidence >= 0.8]
    assert sorted(sure) == ["hole"] * len(HOLES) + ["recess"]


@pytest.mark.parametrize("unit", [Unit.MM, Unit.INCH])
def test_the_stock_file_is_read_back_as_it_was_found(tmp_path, board, unit):
    text = stock_text([board], unit=unit, species="white oak", thickness="22 mm")
    (tmp_path / "photographed.yaml").write_text(text)
    (tmp_path / "project.yaml").write_text(
        "version: 1\nname: try\nunit: mm\nstock: [{file: photographed.yaml}]\n"
        "parts: [{part: seat, family: plank, species: white oak,\n"
        "  shape: {length: 100, width: 30, thickness: 18}}]\n"
    )
    (back,) = read_project(tmp_path / "project.yaml").stock
    assert back.shape.symmetric_difference(board.outline).area < 0.3 * board.outline.length
    listed = [find for find in board.finds if find.confidence >= 0.3]
    assert len(back.keep_outs) == len(listed) + len(board.bites)
    assert all(one.source == "photograph" for one in back.keep_outs)
    for number, find in enumerate(board.finds, 1):
        assert f"{number}" in text and (find.confidence >= 0.3 or "perhaps" in text)


def test_the_overlay_is_a_picture_as_long_as_the_board(board):
    shown = cv2.imdecode(np.frombuffer(overlay_png(board, Unit.MM), np.uint8), cv2.IMREAD_COLOR)
    assert shown.shape[1] > board.outline.bounds[2]


@pytest.mark.skipif("PHOTOGRAPHS" not in os.environ, reason="ten seconds: PHOTOGRAPHS=1")
def test_marks_on_the_ground_need_their_depth_told(scene):
    low = replace(scene, sheets_drop=22.0)
    view = small_camera()
    right = read(low, view, below=22.0)
    wrong = read(low, view)
    true = read(scene, view).outline.bounds[2]
    assert right.outline.bounds[2] == pytest.approx(true, abs=2.5)
    assert wrong.outline.bounds[2] > true + 8


def test_a_long_board_from_two_pictures():
    sheets = [
        (1, -520, 270, 0.1),
        (2, 0, 272, 1.2),
        (3, 500, 275, 2.0),
        (4, -480, -270, 0.3),
        (5, 20, -272, 0.0),
        (6, 530, -275, 1.0),
    ]
    places = [(x * 1.9, y, d) for x, y, d in HOLES]
    scene = small_scene(length=1300.0, sheets=sheets, holes=places, recesses=RECESS)
    board = read(scene, small_camera(at=(-330.0, 0.0)), small_camera(2, at=(330.0, 0.0)))
    off = misses(scene, board)
    assert np.median(off) < 1.2 and off.max() < 6.0
    assert sum(find.kind == "hole" and find.confidence >= 0.8 for find in board.finds) == len(HOLES)


def refusal(picture):
    with pytest.raises(PhotographError) as told:
        measured("deck-01", ["p.jpg"], [picture], [None], Asked(22.0))
    text = str(told.value)
    assert "\n" not in text and len(text) < 260
    return text


def without_sheets(picture, *numbers):
    """Return a picture with some sheets painted over."""
    left = picture.copy()
    for mark in seen_marks(cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY)):
        if mark.sheet in numbers:
            cv2.fillConvexPoly(left, np.round(mark.corners).astype(np.int32), (150, 152, 150))
    return left


def with_sheet_twice(picture):
    """Return a picture with a piece that holds one sheet laid over another."""
    marks = seen_marks(cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY))
    low, other = (
        np.min([mark.corners.min(axis=0) for mark in marks if mark.sheet == sheet], axis=0) - 12
        for sheet in (1, 2)
    )
    (x, y), (u, v) = low.astype(int), other.astype(int)
    made = picture.copy()
    made[v : v + 250, u : u + 250] = picture[y : y + 250, x : x + 250]
    return made


BAD = {
    "no marks": (lambda p: without_sheets(p, 1, 2, 3, 4), "none of the tool's marks"),
    "one sheet": (lambda p: without_sheets(p, 2, 3, 4), "1 mark sheet .* at least 2"),
    "a sheet twice": (with_sheet_twice, "sheet 1 is there twice"),
    "blurred": (lambda p: cv2.GaussianBlur(p, (0, 0), 5.0), "blurred|none of the tool's"),
}


@pytest.mark.parametrize("what", BAD)
def test_a_bad_picture_gets_a_sentence_and_no_board(picture, what):
    made, said = BAD[what]
    assert re.search(said, refusal(made(picture)))


FEW = (800, 600)
"""Pixels that are enough to tell that a picture is no good."""

TAKEN_BADLY = {
    "glare": ({}, {"glare": (60.0, 0.0, 100.0)}, r"glare.* \d+ % of"),
    "out of the picture": ({}, {"at": (330.0, 60.0)}, "hidden|at least 2"),
    "bare ground": ({"cover": 0}, {}, "no board"),
}


@pytest.mark.parametrize("what", TAKEN_BADLY)
def test_a_picture_taken_badly_gets_a_sentence_and_no_board(scene, what):
    other, changes, said = TAKEN_BADLY[what]
    changed = {name: np.full_like(getattr(scene, name), value) for name, value in other.items()}
    assert re.search(
        said, refusal(photographed(replace(scene, **changed), small_camera(pixels=FEW, **changes)))
    )


def test_a_small_glare_is_told_with_its_place_and_the_rest_is_read(scene):
    board = read(scene, small_camera(glare=(60.0, 0.0, 60.0)))
    assert misses(scene, board).max() < 5.0
    (patch,) = board.blind
    assert 60 < np.ptp(np.array(patch.shape.exterior.coords), axis=0).min() < 150
    (told,) = [note for note in board.notes if note.startswith("face")]
    assert "burnt out by light" in told
    number = len(board.finds) + len(board.bites) + 1
    assert re.search(rf"face {number}, 3\d\d to 4\d\d mm from the left end", told)
    text = stock_text([board], unit=Unit.MM, species="oak", thickness="22 mm")
    assert f"{number}: doubtful, burnt out by light" in text and "kind: stain" in text


@pytest.mark.skipif("PHOTOGRAPHS" not in os.environ, reason="seconds: PHOTOGRAPHS=1")
def test_a_bent_sheet_is_refused_in_a_picture():
    bent = small_scene(curl=9.0)
    assert re.search("bent|one plane", refusal(photographed(bent, small_camera())))


def curled(curl):
    return photographed(small_scene(curl=curl, holes=HOLES), small_camera())


@pytest.mark.skipif("PHOTOGRAPHS" not in os.environ, reason="seconds: PHOTOGRAPHS=1")
def test_paper_that_curls_a_little_on_all_sheets_is_refused_or_is_in_the_doubt(scene):
    assert "paper that curls" in refusal(curled(3.5))
    board = measured("deck-01", ["p.jpg"], [curled(1.0)], [None], Asked(scene.thickness))
    off = board.outline.bounds[2] - float(np.ptp(scene.outline[:, 0]))
    assert abs(off) < board.doubt_mm + 2.0


def laid(picture, corners, onto):
    """Return a picture with the piece within four corners laid onto four others, white about it."""
    made = picture.copy()
    for ring in (corners, onto):
        cv2.fillConvexPoly(made, np.round(grown(ring)).astype(np.int32), (240, 240, 240))
    matrix = cv2.getPerspectiveTransform(corners.astype(np.float32), onto.astype(np.float32))
    size = picture.shape[1::-1]
    piece = cv2.warpPerspective(picture, matrix, size, flags=cv2.INTER_CUBIC)
    there = cv2.fillConvexPoly(
        np.zeros(picture.shape[:2], np.uint8), np.round(grown(onto, 1.1)).astype(np.int32), 1
    )
    made[there > 0] = piece[there > 0]
    return made


def grown(ring, times=1.15):
    middle = ring.mean(axis=0)
    return middle + times * (ring - middle)


def marks_of(picture, sheet):
    grey = cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY)
    return [mark.corners for mark in seen_marks(grey) if mark.sheet == sheet]


def at_97_percent(picture):
    made, every = picture, marks_of(picture, 1)
    middle = np.concatenate(every).mean(axis=0)
    for corners in every:
        made = laid(made, corners, middle + 0.97 * (corners - middle))
    return made


def one_mark_curled(picture):
    corners = marks_of(picture, 1)[0]
    bent = corners.copy()
    bent[:2] += 0.12 * (corners[[3, 2]] - corners[:2])
    return laid(picture, corners, bent)


def two_sheets_mixed(picture):
    one, other = marks_of(picture, 1)[0], marks_of(picture, 2)[0]
    made = laid(picture, one, other)
    back = laid(picture, other, one)
    there = cv2.fillConvexPoly(
        np.zeros(picture.shape[:2], np.uint8), np.round(grown(one)).astype(np.int32), 1
    )
    made[there > 0] = back[there > 0]
    return made


WRONG_MARKS = [at_97_percent, one_mark_curled, two_sheets_mixed]


@pytest.mark.parametrize("what", WRONG_MARKS)
def test_wrong_marks_are_refused_and_their_sheet_named(picture, what):
    assert re.search(r"sheet [12]\b.*print", refusal(what(picture)))


def painted_like_the_ground(scene, x, y, wide, high):
    """Return a scene with a patch of its face as the ground is, and a little darker."""
    face = scene.face.copy()
    low = np.round((np.array([x, y]) - scene.low) / GRID).astype(int)
    high = low + np.round(np.array([wide, high]) / GRID).astype(int)
    box = (slice(low[1], high[1]), slice(low[0], high[0]))
    face[box] = np.clip(scene.ground[box].astype(float) * 0.85, 0, 255).astype(np.uint8)
    return replace(scene, face=face)


def test_paint_like_the_ground_takes_nothing_off_the_board_and_is_told(scene):
    board = read(painted_like_the_ground(scene, -110.0, 10.0, 200.0, 60.0), small_camera())
    off = misses(scene, board)
    assert np.median(off) < 1.0 and off.max() < 5.0
    (bite,) = board.bites
    assert 210 < bite.bounds[0] < 260 and 420 < bite.bounds[2] < 480
    text = stock_text([board], unit=Unit.MM, species="oak", thickness="22 mm")
    assert f"{len(board.finds) + 1}: doubtful, notch or stain" in text


def test_a_face_as_dark_as_ink_is_read_by_its_edge_and_all_of_it_is_told(scene):
    dark = (scene.face * np.float32(0.18)).astype(np.uint8)
    board = read(replace(scene, face=dark), small_camera())
    assert misses(scene, board).max() < 5.0
    (patch,) = board.blind
    assert patch.shape.equals(board.outline)
    (told,) = [note for note in board.notes if note.startswith("face")]
    assert re.search("dark as the marks' ink, holes would not show; rub chalk.*tape", told)
    # What is not sure on it is no line of its own: all of it must be looked at.
    assert not [find for find in board.finds if 0.3 <= find.confidence < 0.8]


def other_board(seed=5):
    return np.add(plank_outline(np.random.default_rng(seed), 640, 100), (0, -640))


def test_two_boards_are_refused():
    sheets = [(1, -200, 310, 1.5), (2, 200, 305, 1.8), (3, -210, -320, 1.4), (4, 200, -320, -1.4)]
    both = small_scene(sheets=sheets, others=(other_board(),))
    view = small_camera(across=1700.0, at=(0.0, -300.0))
    assert "two boards" in refusal(photographed(both, view))


def test_a_sheet_lying_lower_than_the_others_is_named(scene, picture):
    other = photographed(replace(scene, sheets_drop=30.0), small_camera())
    mixed = picture.copy()
    mixed[:450, 650:] = other[:450, 650:]
    with pytest.raises(PhotographError, match=r"one plane.*sheet"):
        measured("x", ["p.jpg"], [mixed], [None], Asked(22.0))


@pytest.fixture(scope="module")
def planks():
    """Return a picture that is filled with wood, joints and nail holes: no marks, no board."""
    rng = np.random.default_rng(4)
    shown = wood_texture(rng, (900, 1200), (90, 130, 165), paint=0.15, saw=True)
    shown[::180] = 30
    for x, y in rng.uniform(40, 860, (40, 2)):
        cv2.circle(shown, (int(x), int(y)), 6, (20, 22, 25), -1)
    return np.clip(shown, 0, 255).astype(np.uint8)


@pytest.mark.parametrize("what", ["wood", "ground", "marks of another family"])
def test_pictures_of_other_things_hold_no_board(planks, what):
    shown = planks
    if what == "ground":
        shown = ground_texture(np.random.default_rng(2), (900, 1200), (70, 95, 75), much=0.2)
        shown = np.clip(shown, 0, 255).astype(np.uint8)
    elif what == "marks of another family":
        shown = planks.copy()
        family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_6X6_250)
        for number in range(12):
            mark = cv2.aruco.generateImageMarker(family, number, 100)
            y, x = 60 + 280 * (number // 4), 60 + 280 * (number % 4)
            shown[y - 20 : y + 120, x - 20 : x + 120] = 245
            shown[y : y + 100, x : x + 100] = mark[..., None]
    assert "none of the tool's marks" in refusal(shown)


@pytest.mark.skipif("PHOTOGRAPHS" not in os.environ, reason="real pictures: PHOTOGRAPHS=FOLDER")
def test_real_pictures_without_mark_sheets_hold_no_board():
    folder = Path(os.environ["PHOTOGRAPHS"])
    paths = sorted(path for path in folder.rglob("*.jpg"))
    if not paths:
        pytest.skip(f"{folder}: no pictures in it")
    for path in paths:
        found = board_in(Group(path.stem, (path,)), Asked(22.0))
        assert isinstance(found, NoBoard), path
        assert "none of the tool's marks" in found.reason, path
        # Nor do its looks alone make a mark of ours: not one is read in it.
        assert not seen_marks(cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)), path


def face(draw):
    chance = np.random.default_rng(1)
    wood = np.clip(chance.normal(1, 0.03, (300, 600, 1)) * (90, 130, 165), 0, 255).astype(np.uint8)
    draw(wood)
    return Face(cv2.GaussianBlur(wood, (0, 0), 0.8), np.ones(wood.shape[:2], bool), 0.6)


def test_dark_paint_and_bays_of_bare_wood_are_no_holes():
    def draw(wood):
        cv2.circle(wood, (100, 150), 9, (120, 80, 50), -1)  # blue paint
        cv2.rectangle(wood, (300, 0), (599, 299), (238, 240, 240), -1)
        cv2.circle(wood, (450, 150), 9, (90, 130, 165), -1)  # bare wood in white paint
        cv2.circle(wood, (200, 80), 7, (20, 22, 25), -1)

    sure = [
        find for find in round_finds(face(draw)) if find.kind == "hole" and find.confidence >= 0.8
    ]
    assert [(round(f.x), round(f.diameter)) for f in sure] == [(120, 8)]


def test_a_plain_bung_is_sure_and_a_flake_of_paint_is_not():
    def draw(wood):
        cv2.circle(wood, (150, 150), 13, (66, 95, 122), -1, cv2.LINE_AA)
        cv2.ellipse(wood, (400, 150), (13, 11), 20.0, 0.0, 360.0, (66, 95, 122), -1, cv2.LINE_AA)

    finds = [find for find in round_finds(face(draw)) if find.kind == "bung"]
    sure = [find for find in finds if find.confidence >= 0.8]
    assert [round(f.x / 10) for f in sure] == [9]
    assert [round(f.x / 10) for f in finds if f not in sure] == [24]


def test_lines_are_no_holes():
    def draw(wood):
        for y in range(20, 300, 40):
            cv2.line(wood, (-20, y), (620, y + 8), (20, 22, 25), 4)

    assert not [find for find in round_finds(face(draw)) if find.confidence >= 0.8]


def test_a_dark_spot_in_a_dark_seam_is_listed_and_a_hole_beside_it_is_sure():
    def draw(wood):
        wood[:, 290:310] = (52, 56, 60)
        cv2.circle(wood, (300, 150), 9, (12, 12, 14), -1)
        cv2.circle(wood, (100, 150), 9, (12, 12, 14), -1)

    holes = {round(f.x): f.confidence for f in round_finds(face(draw)) if f.kind == "hole"}
    assert holes.keys() >= {60, 180}
    assert holes[60] >= 0.8 > holes[180] >= 0.3


def test_names_stay_names_in_yaml():
    assert [quoted_text(name) for name in ("deck 7", "7", "Yes", "a: b", "-x")] == [
        "deck 7",
        '"7"',
        '"Yes"',
        '"a: b"',
        '"-x"',
    ]


def test_a_folder_of_pictures_and_folders(tmp_path):
    for name in ("a.jpg", "b.PNG", "notes.txt", "long/1.jpg", "long/2.jpg"):
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(b"x")
    assert [(g.name, len(g.paths)) for g in groups_in([tmp_path])] == [
        ("a", 1),
        ("b", 1),
        ("long", 2),
    ]


def test_the_command_writes_what_it_found_and_says_what_it_did_not(tmp_path, picture, capsys):
    folder = tmp_path / "in"
    folder.mkdir()
    cv2.imwrite(str(folder / "deck-01.jpg"), picture)
    cv2.imwrite(str(folder / "deck-02.jpg"), np.full((600, 800, 3), 128, np.uint8))
    (folder / "deck-03.jpg").write_bytes(b"no picture")
    options = [
        "--species",
        "teak",
        "--thickness",
        "22 mm",
        "--workers",
        "1",
        "-o",
        str(tmp_path / "out"),
        "-q",
    ]
    code = main(["photo", str(folder), *options])
    shown = capsys.readouterr()
    assert code == 3
    assert "1 board of 3" in shown.out
    assert "deck-02: " in shown.err and "deck-03: " in shown.err and "cannot be read" in shown.err
    text = (tmp_path / "out" / "photographed.yaml").read_text()
    assert "# No board from deck-02.jpg" in text and "board: deck-01" in text
    assert (tmp_path / "out" / "seen-deck-01.png").exists()
    assert main(["photo", str(folder), *options]) == 5
    assert "--overwrite" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--thickness", "2 m"], "--thickness"),
        (["--thickness", "20 mm", "--ruler", "100 mm"], "--ruler"),
        (["--thickness", "20 mm", "--marks-below", "3 m"], "--marks-below"),
    ],
)
def test_figures_that_cannot_be_are_refused(tmp_path, options, said, capsys):
    (tmp_path / "a.jpg").write_bytes(b"x")
    assert main(["photo", str(tmp_path / "a.jpg"), "--species", "teak", *options]) == 2
    assert said in capsys.readouterr().err


def test_a_result_is_a_board(board):
    assert isinstance(board, Photographed)


def test_an_inch_yard_reads_its_notes_in_inches_and_a_doubtful_end_is_said_with_the_length(board):
    end = Stretch(np.array([(0.0, 20.0), (2.0, 90.0)]), "no sharp line is seen along it")
    noted = replace(board, stretches=(end,), notes=("up to 25.4 mm of its side were seen",))
    text = stock_text([noted], unit=Unit.INCH, species="oak", thickness="1 in")
    (note,) = re.findall(r"note: (.*)", text)[:1]
    assert "but for its left end, which is doubtful; up to 1 in of its side" in note
    assert " mm" not in note
    plain = stock_text([board], unit=Unit.MM, species="oak", thickness="22 mm")
    assert re.search(r"length known to \d\.\d mm[;\"\n]", plain)
