"""Boards out of rendered photographs; bad photographs get one sentence and no board."""

import os

import cv2
import numpy as np
import pytest
import shapely
from photograph_renderer import photographed, plank_outline, small_camera, small_scene
from shapely.geometry import LinearRing

from nesting.cli import main
from nesting.errors import PhotographError
from nesting.photo.board_face import Face
from nesting.photo.photo_overlay import overlay_png
from nesting.photo.photographed import Asked, Photographed, measured
from nesting.photo.picture_file import groups_in
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
    low = small_scene(holes=HOLES, recesses=RECESS, sheets_drop=22.0)
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


def refusal(scene, **changes):
    with pytest.raises(PhotographError) as told:
        read(scene, small_camera(**changes))
    text = str(told.value)
    assert "\n" not in text and len(text) < 260
    return text


def other_board(seed=5):
    return np.add(plank_outline(np.random.default_rng(seed), 640, 100), (0, -640))


BAD = {
    "no marks": (lambda: small_scene(sheets=[]), {}, "none of the tool's marks"),
    "one sheet": (lambda: small_scene(sheets=[(1, 0, 300, 1.5)]), {}, "1 mark sheet .* at least 2"),
    "a sheet twice": (
        lambda: small_scene(sheets=[(1, -200, 300, 1.5), (1, 220, 300, 1.6), (3, 0, -300, 1.5)]),
        {},
        "sheet 1 is there twice",
    ),
    "bent": (lambda: small_scene(curl=9.0), {}, "bent|one plane"),
    "blurred": (small_scene, {"blur": 5.0}, "blurred|none of the tool's"),
    "glare": (small_scene, {"glare": (60.0, 0.0, 60.0)}, "glare hides"),
    "out of the picture": (small_scene, {"at": (330.0, 60.0)}, "hidden|at least 2"),
    "no board": (
        lambda: small_scene(wood=(150, 152, 150), width=8.0, thickness=0.0, length=30.0),
        {},
        "no board",
    ),
}


@pytest.mark.parametrize("what", BAD)
def test_a_bad_picture_gets_a_sentence_and_no_board(what):
    made, changes, said = BAD[what]
    import re

    assert re.search(said, refusal(made(), **changes))


def test_two_boards_are_refused():
    sheets = [(1, -200, 310, 1.5), (2, 200, 305, 1.8), (3, -210, -320, 1.4), (4, 200, -320, -1.4)]
    scene = small_scene(sheets=sheets, others=(other_board(),))
    assert "two boards" in refusal(scene, across=1700.0, at=(0.0, -300.0), pixels=(1600, 1200))


def test_a_sheet_lying_lower_than_the_others_is_named(picture):
    high, low = small_scene(), small_scene(sheets_drop=30.0)
    view = small_camera()
    one, other = photographed(high, view), photographed(low, view)
    mixed = one.copy()
    mixed[:450, 650:] = other[:450, 650:]
    with pytest.raises(PhotographError, match=r"one plane.*sheet"):
        measured("x", ["p.jpg"], [mixed], [None], Asked(22.0))


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


def test_lines_are_no_holes():
    def draw(wood):
        for y in range(20, 300, 40):
            cv2.line(wood, (-20, y), (620, y + 8), (20, 22, 25), 4)

    assert not [find for find in round_finds(face(draw)) if find.confidence >= 0.8]


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
