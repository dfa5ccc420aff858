"""Rows of the book: what each must hold, names that come near, areas and volumes."""

import copy
import math

import pytest
from book_shop import need, plank

from nesting.book.opening import opened
from nesting.book.record import want_body
from nesting.book.rows import amount, board_row, check_row, near, next_name
from nesting.book.wood import board_data
from nesting.errors import BookError

CORNERS = [[0.0, 0.0], [300.0, 0.0], [300.0, 60.0], [0.0, 60.0]]
FRAME = {"at": [0.0, 0.0], "box": [0.0, 0.0, 300.0, 60.0], "area_mm2": 18000.0}
BOARD = board_row("A", board_data(plank()), came="recorded", by="Teasel")
ROWS = {
    "project": {
        "name": "Teasel",
        "body": {
            "unit": "mm", "was": ["Burr"], "kerf_mm": 2.0, "trim_mm": 0.0,
            "blade_clearance_mm": 100.0,
        },
    },
    "want": {"project": "Teasel", "part": "cleat", "body": want_body(need())},
    "plan": {
        "project": "Teasel",
        "body": {
            "pieces": ["cleat"], "boards": ["A"],
            "lies": [{"label": "cleat", "part": "cleat", "board": "A", "x_mm": 1.0, "y_mm": 2.0,
                      "angle_deg": 0.0, "turned_over": False}],
        },
    },
    "board": {**BOARD, "body": {**BOARD["body"], "frames": [FRAME], "whole": FRAME}},
    "piece": {
        "number": 7,
        "body": {
            "label": "cleat", "sawn_as": "cleat", "siding_mm": 25.0, "thickness_mm": 30.0,
            "taped": False, "frame": [0.0, 0.0], "outline": [CORNERS], "keep_outs": [],
            "serves": {"form": [1.0] * 5, "siding_mm": 25.0, "species": ["teak"]},
        },
    },
}  # fmt: skip
NAMES = {
    "project": "project Teasel", "want": "want Teasel cleat", "plan": "plan Teasel",
    "board": "board A", "piece": "piece 7",
}  # fmt: skip

BAD = [
    ("project", ("unit",), "furlong"), ("project", ("unit",), None), ("project", ("was",), "Burr"),
    *(("project", (name,), value) for name in ("kerf_mm", "trim_mm", "blade_clearance_mm")
      for value in (-0.5, 100.5, "2", math.nan, True)),
    ("want", ("labels",), ["a", "b"]), ("want", ("labels",), "a"), ("want", ("quantity",), 2),
    ("want", ("quantity",), 1.5), ("want", ("family",), 7), ("want", ("species",), "teak"),
    ("want", ("area_mm2",), "18000"), ("want", ("siding_mm",), None),
    ("want", ("outline",), [CORNERS[:2]]),
    ("plan", ("pieces",), "cleat"), ("plan", ("boards",), [7]), ("plan", ("lies",), {"a": 1}),
    *(("plan", ("lies", 0, name), 7) for name in ("label", "part", "board")),
    *(("plan", ("lies", 0, name), "7") for name in ("x_mm", "y_mm", "angle_deg", "turned_over")),
    *(("board", (name,), 7) for name in ("root", "came", "by", "said", "checked", "taped")),
    *(("board", (*frame, name), value) for frame in (("frames", 0), ("whole",))
      for name, value in (("at", [0.0]), ("box", [0.0] * 3), ("area_mm2", "big"))),
    ("board", ("at",), [0.0, "0"]), ("board", ("at",), 0.0), ("board", ("at",), [0.0] * 3),
    ("board", ("wood", "thickness_mm"), -3.0),
    ("piece", ("label",), 7), ("piece", ("sawn_as",), None), ("piece", ("taped",), "no"),
    ("piece", ("siding_mm",), 0), ("piece", ("siding_mm",), 31.5), ("piece", ("siding_mm",), "25"),
    ("piece", ("thickness_mm",), 23.5), ("piece", ("frame",), [0.0]),
    ("piece", ("serves", "form"), [1.0] * 4), ("piece", ("serves", "siding_mm"), "25"),
    ("piece", ("serves", "species"), "teak"), ("piece", ("outline",), [CORNERS[:2]]),
    ("piece", ("keep_outs",), [{"kind": "metall", "at": [[1.0, 1.0]]}]),
]  # fmt: skip


@pytest.mark.parametrize("table", ROWS)
def test_row_that_holds_what_it_must_is_taken(table):
    check_row(table, ROWS[table])


@pytest.mark.parametrize(("table", "loc", "value"), BAD, ids=str)
def test_row_with_one_thing_that_cannot_be_is_refused_by_its_name(table, loc, value):
    row = copy.deepcopy(ROWS[table])
    *way, last = loc
    block = row["body"]
    for step in way:
        block = block[step]
    block[last] = value
    with pytest.raises(BookError, match=f"^{NAMES[table]}: .*\\S"):
        check_row(table, row)


OPTIONAL = {"was", "outline", "bolts", "lies", "serves", "whole"}


@pytest.mark.parametrize(
    ("table", "name"),
    [(table, name) for table, row in ROWS.items() for name in row["body"]
     if name not in OPTIONAL or (table, name) == ("piece", "outline")
     if (table, name) != ("piece", "taped")],  # books of the first form do not say it
)  # fmt: skip
def test_row_that_lacks_something_is_refused_by_its_name(table, name):
    row = copy.deepcopy(ROWS[table])
    del row["body"][name]
    with pytest.raises(BookError, match=f"^{NAMES[table]}: .*{name}"):
        check_row(table, row)


def test_row_may_lack_what_books_did_not_always_hold():
    for table, row in ROWS.items():
        left = {name: value for name, value in row["body"].items() if name not in OPTIONAL}
        kept = {"outline": row["body"]["outline"]} if table == "piece" else {}
        check_row(table, {**row, "body": {**left, **kept}})


def test_saw_may_have_no_kerf_and_a_piece_may_be_a_millimetre_thicker_than_recorded():
    project, piece = copy.deepcopy(ROWS["project"]), copy.deepcopy(ROWS["piece"])
    project["body"]["kerf_mm"] = 0
    piece["body"]["siding_mm"] = 31.0
    check_row("project", project)
    check_row("piece", piece)


def test_amounts_are_area_and_volume_of_boards_and_pieces():
    assert amount("board", BOARD) == (2000.0 * 200, 2000.0 * 200 * 30)
    assert amount("piece", ROWS["piece"]) == (300.0 * 60, 300.0 * 60 * 25)


def test_names_that_come_near_are_offered_and_no_others():
    known = ["deck-01", "deck-02", "keel"]
    assert near("dek-01", known) == "; did you mean deck-01, deck-02?"
    assert near("thwart", known) == ""


@pytest.mark.parametrize("root", ["A", "A*", "A[1]", "A?"])
def test_next_offcut_has_the_first_number_that_no_board_has(tmp_path, root):
    with opened(tmp_path / "shop.book", create=True) as book:
        assert next_name(book, root) == f"{root}.1"
        for name in (f"{root}.1", f"{root}.3", f"{root}.1.2", "Ab.2", "A1.2"):
            book.connection.execute(
                "INSERT INTO board (name, state, body) VALUES (?, 'in stock', '{}')", (name,)
            )
        assert next_name(book, root) == f"{root}.2"
