"""A board comes back whole from every file that the tool writes of it and reads again."""

from __future__ import annotations

import csv
from dataclasses import fields, replace
from pathlib import Path

import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from project_texts import HEAD, only_blocks, project_text, written
from shapely.geometry import LineString, Point, Polygon

from nesting.accounts.account import account_board
from nesting.book.wood import board_data, board_of
from nesting.errors import ProjectFileError
from nesting.grain import GrainPath, straight_grain
from nesting.nest import Nest
from nesting.project import read_project
from nesting.project.file_types import LONGEST_NAME
from nesting.project.written_stock import boards_text
from nesting.rules import Rules
from nesting.sheets import cut_sheet, write_dxf
from nesting.sheets.read_back import read_back
from nesting.stock.board import Board
from nesting.stock.board_outline import board_outline
from nesting.stock.keep_out import KeepOut, KeepOutKind

K = KeepOutKind

RING = Polygon(
    [(300, 20), (500, 20), (500, 130), (300, 130)], [[(350, 50), (450, 50), (450, 90), (350, 90)]]
)
KEEP_OUTS = (
    KeepOut(K.METAL, Point(100.5, 40), 3.25, 12.0, "a nail, bent", "bench", 0.5),
    KeepOut(K.SPLIT, LineString([(0, 40), (250, 44)]), 1.0, 0.02, "follows: the grain", "photo", 1),
    KeepOut(K.GROOVE, LineString([(600, 40), (700, 60), (800, 30)]), 4.0, 8.0, "bent", "tape", 0.9),
    KeepOut(K.ROT, RING, 0.0, 30.0, "round a sound core", "expected", 0.25),
    KeepOut(K.STAIN, Polygon([(820, 10), (880, 10), (880, 60)]), 2.0, 5.0, "#1", "drawing", 0.0),
)
FULL = Board(
    "D-07/2",
    board_outline([(0.125, 0), (900, 10), (880, 140), (1e-5, 150)]),
    17.333333333333332,
    "teak",
    GrainPath(((0.0, 10.0), (400.0, 31.0), (900.1, 90.0))),
    KEEP_OUTS,
    "engine bed: port",
    "abaft frame 7, 'inner' face {x}",
    13.5,
    False,
    (2, 3),
    "sprung; lay it hollow up, 100 % dry?",
)
"""Nothing in it is as usual."""


def plain(board: Board) -> dict:
    """All of a board, its rings begun and turned one way."""
    cores = [shapely.normalize(keep_out.core) for keep_out in board.keep_outs]
    keep_outs = [
        (core, *(getattr(k, field.name) for field in fields(KeepOut) if field.name != "core"))
        for core, k in zip(cores, board.keep_outs, strict=True)
    ]
    made = {field.name: getattr(board, field.name) for field in fields(Board)}
    return {**made, "shape": shapely.normalize(board.shape), "keep_outs": keep_outs}


def read_again(boards: list[Board], folder: Path) -> tuple[Board, ...]:
    (folder / "stock.yaml").write_text(boards_text(boards))
    text = project_text().replace("stock:", "stock:\n- {file: stock.yaml}\nother:").split("other:")
    parts = project_text()[project_text().index("parts:") :]
    return read_project(written(folder, f"{text[0]}{parts}")).stock


@pytest.fixture(autouse=True)
def _only_block_family(monkeypatch):
    monkeypatch.setattr("nesting.project.own_families.known_families", only_blocks)


def test_the_full_board_fills_every_field():
    """So a new field is not forgotten here."""
    usual = Board("x", FULL.shape, 20.0, "oak")
    assert not [f.name for f in fields(Board)[1:] if getattr(FULL, f.name) is None]
    same = [f.name for f in fields(Board) if getattr(FULL, f.name) == getattr(usual, f.name)]
    assert same == ["shape"]
    for field in fields(KeepOut):
        if field.name not in ("kind", "core"):
            assert any(getattr(k, field.name) != getattr(KeepOut, field.name) for k in KEEP_OUTS)


def test_stock_file_of_a_full_board_is_read_as_that_board(tmp_path):
    (found,) = read_again([FULL], tmp_path)
    # The least depth that a file may say is 0.1 mm.
    shallow = replace(KEEP_OUTS[1], depth_mm=0.1)
    wanted = replace(FULL, keep_outs=(KEEP_OUTS[0], shallow, *KEEP_OUTS[2:]))
    assert plain(found) == plain(wanted)


TEXTS = st.text(
    st.characters(codec="utf-8", categories=("L", "N", "P", "S", "Zs"), exclude_characters="\\"),
    min_size=1,
    max_size=30,
).map(lambda text: " ".join(text.split()))


def figure(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high).map(lambda value: value if abs(value) > 1e-30 else 0.0)


@st.composite
def boards(draw) -> Board:
    keep_outs = [
        KeepOut(
            draw(st.sampled_from(K)),
            Point(draw(st.floats(1.0, 400.0)), draw(st.floats(1.0, 80.0))),
            draw(st.floats(0.05, 40.0)),
            draw(st.none() | st.floats(0.1, 40.0)),
            draw(TEXTS | st.just("")),
            draw(TEXTS.filter(bool)),
            draw(figure(0.0, 1.0)),
        )
        for _ in range(draw(st.integers(0, 3)))
    ]
    count = draw(st.integers(1, 12))
    leaf = draw(st.none() | st.tuples(st.integers(1, count), st.just(count)))
    shape = board_outline(
        [
            (0, 0),
            (400 + draw(figure(0.0, 1000.0)), 0),
            (400, 80 + draw(figure(0.0, 1000.0))),
            (0, 80),
        ]
    )
    grain = [(0.0, 0.0), (draw(st.floats(1.0, 1e4)), draw(figure(-50.0, 50.0)))]
    return Board(
        draw(TEXTS.filter(bool)), shape, draw(st.floats(0.1, 400.0)), "teak",
        GrainPath(tuple(grain)), tuple(keep_outs), draw(TEXTS), draw(TEXTS),
        draw(st.none() | st.just(0.0) | figure(1.0, 200.0)), draw(st.none() | st.booleans()), leaf,
        draw(TEXTS),
    )  # fmt: skip


def _is_written(board: Board) -> bool:
    """Whether a project may say the board's texts at all: it refuses what nobody sees."""
    from nesting.unseen import unseen_in

    texts = [board.name, board.member, board.came_from, board.note]
    texts += [text for k in board.keep_outs for text in (k.note, k.source)]
    return not any(unseen_in(text) for text in texts)


@settings(max_examples=25, suppress_health_check=list(HealthCheck), deadline=None)
@given(board=boards().filter(_is_written))
def test_any_board_is_read_as_it_was_written(tmp_path_factory, board):
    (found,) = read_again([board], tmp_path_factory.mktemp("stock"))
    assert plain(found) == plain(board)
    assert plain(board_of(board.name, board_data(board))) == plain(board)


def test_a_name_has_one_way_of_writing_its_letters_from_python_too(tmp_path):
    board = replace(FULL, name="be\u0301a \ufa2a")
    assert board.name == "b\u00e9a \u98ef" == read_again([board], tmp_path)[0].name


def test_any_name_that_the_tool_gives_is_read(tmp_path):
    """A name of 80 letters has a copy, its leaf, and what is left of that."""
    longest = "x" * LONGEST_NAME + "-02/1.3"
    assert read_again([replace(FULL, name=longest)], tmp_path)[0].name == longest
    with pytest.raises(ProjectFileError, match="87 characters long; at most 80"):
        read_again([replace(FULL, name="x" * 87)], tmp_path)


@pytest.mark.parametrize("version", ["R2010", "R12"])
def test_a_cut_sheet_says_all_of_its_board(tmp_path, version):
    board = replace(FULL, note="Ł" * 200, came_from="so far " * 71)
    # In R12 lines with round ends are chords; a keep-out's place is checked by others.
    nest = Nest(board, ())
    sheet = cut_sheet(nest, account_board(nest, Rules()), Rules(), project_name="Teasel")
    record = read_back(write_dxf(sheet, tmp_path / "sheet.dxf", version=version))
    found = Board(
        record.board_name, record.outline, record.thickness_mm, keep_outs=record.keep_outs,
        **record.told,
    )  # fmt: skip
    assert shapely.hausdorff_distance(found.shape, board.shape) < 1e-3
    assert replace(found, shape=board.shape, keep_outs=()) == replace(board, keep_outs=())
    for one, wanted in zip(found.keep_outs, KEEP_OUTS, strict=True):
        assert replace(one, core=wanted.core, reach_mm=wanted.reach_mm) == wanted
        gap = shapely.symmetric_difference(one.polygon, wanted.polygon).area
        assert gap < 0.01 * wanted.polygon.area


TABLE = {
    "board": "D-07/2", "species": "teak", "thickness": "17.5", "length": "900", "width": "150",
    "member": "engine bed", "came from": "abaft frame 7", "moisture": "13.5", "heartwood": "no",
    "grain": "4.5", "leaf": "2 of 3", "note": "sprung; lay it hollow up",
}  # fmt: skip


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_a_table_says_all_of_a_board_but_single_keep_outs(tmp_path, ending):
    import openpyxl

    rows = [["unit", "mm"], list(TABLE), list(TABLE.values())]
    if ending == "csv":
        with (tmp_path / "stock.csv").open("w", newline="") as file:
            csv.writer(file).writerows(rows)
    else:
        book = openpyxl.Workbook()
        for row in rows:
            book.active.append(row)
        book.save(tmp_path / "stock.xlsx")
    head = project_text().split("stock:")[0]
    parts = project_text()[project_text().index("parts:") :]
    text = f"{head}stock:\n- {{file: stock.{ending}}}\n{parts}"
    (found,) = read_project(written(tmp_path, text)).stock
    wanted = Board.rectangle(
        "D-07/2", 900, 150, 17.5, "teak", grain=straight_grain(4.5), member="engine bed",
        came_from="abaft frame 7", moisture_percent=13.5, heartwood=False, leaf=(2, 3),
        note="sprung; lay it hollow up",
    )  # fmt: skip
    assert plain(found) == plain(wanted)
    left = {f.name for f in fields(Board)} - {f.name for f in fields(Board) if f.name in
            {name.replace(" ", "_") for name in TABLE}}  # fmt: skip
    assert left == {"name", "shape", "thickness_mm", "keep_outs", "moisture_percent"}


@pytest.mark.parametrize(
    ("leaf", "says"),
    [
        ("leaf: 4 of 3", "'4 of 3' is no leaf; write which and of how many, as 2 of 3"),
        ("leaf: 2/3", "is no leaf"),
        ("leaf: 1 of 2, resaw: 2", "it is a leaf already; to saw it again, leave out leaf"),
    ],
)
def test_a_leaf_that_cannot_be_is_refused(tmp_path, leaf, says):
    entry = f"{{board: D, species: teak, thickness: 40, length: 900, width: 90, {leaf}}}"
    text = project_text()
    parts = text[text.index("parts:") :]
    with pytest.raises(ProjectFileError, match=says):
        read_project(written(tmp_path, f"{HEAD}stock:\n- {entry}\n{parts}"))
