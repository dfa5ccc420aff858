import pytest
from project_texts import findings_of, only_blocks, project_text, written

from nesting.errors import ShapeError
from nesting.project import read_project
from nesting.project.boards import leaves_of
from nesting.stock.board import Board
from nesting.stock.board_outline import board_outline
from nesting.stock.keep_out import KeepOutKind, circle


@pytest.fixture(autouse=True)
def _families(monkeypatch):
    monkeypatch.setattr("nesting.project.own_families.known_families", only_blocks)


def _stock(folder, text):
    """Return the boards of a stock file, in mm."""
    written(folder, f"unit: mm\n{text}", "deck.yaml")
    return read_project(written(folder, project_text(stock="  - file: deck.yaml\n"))).stock


def _wrong(folder, text):
    written(folder, f"unit: mm\n{text}", "deck.yaml")
    return findings_of(written(folder, project_text(stock="  - file: deck.yaml\n")))


def _board(rest: str) -> str:
    return f"boards:\n  - {{board: D, species: teak, thickness: 40, {rest}}}\n"


def test_board_by_its_widths_follows_its_lower_edge(tmp_path):
    rest = "widths: {at: [0, 1000, 2000], width: [100, 120, 90], lower: [0, 10, 30]}"
    (board,) = _stock(tmp_path, _board(rest))
    assert board.shape.bounds == (0, 0, 2000, 130)
    assert board.area_mm2 == pytest.approx(110 * 1000 + 105 * 1000)


def test_board_carries_what_was_noted_of_it(tmp_path):
    rest = (
        "length: 900, width: 90, member: decking, came_from: 'port side, third strake', "
        "moisture: 14, heartwood: true, grain: 4.5"
    )
    (board,) = _stock(tmp_path, _board(rest))
    assert (board.member, board.came_from) == ("decking", "port side, third strake")
    assert (board.moisture_percent, board.heartwood) == (14, True)
    assert board.grain.angles_deg == pytest.approx((4.5,))


def test_grain_may_be_a_line_of_points(tmp_path):
    rest = "length: 900, width: 90, grain: [[0, 20], [450, 30], [900, 90]]"
    (board,) = _stock(tmp_path, _board(rest))
    assert board.grain.points == ((0, 20), (450, 30), (900, 90))


@pytest.mark.parametrize(
    ("grain", "message"),
    [
        ("up", "'up' is no direction; write degrees, as 4.5, or [[x, y], [x, y]]"),
        ("270", "270 is no direction; degrees go from -180 to 180"),
        ("[[0, 0]]", "a grain path needs two points or more, this one has 1"),
        ("[[0, 0], [0, 0]]", "a grain path has the same point twice in a row"),
        ("[0, 1]", "each point of a grain line is written [x, y]"),
    ],
)
def test_grain_that_is_none_says_why(tmp_path, grain, message):
    (found,) = _wrong(tmp_path, _board(f"length: 900, width: 90, grain: {grain}"))
    assert found.partition(": ")[2] == f"board D: grain: {message}"


def test_defaults_hold_where_a_board_says_nothing(tmp_path):
    boards = _stock(
        tmp_path,
        "defaults: {species: teak, thickness: 40, width: 90, member: decking}\n"
        "boards:\n  - {board: A, length: 900}\n"
        "  - {board: B, length: 800, width: 70, member: rail}\n",
    )
    assert [(b.width_mm, b.member) for b in boards] == [(90, "decking"), (70, "rail")]


def test_outline_of_its_own_drops_the_default_width(tmp_path):
    (board,) = _stock(
        tmp_path,
        "defaults: {species: teak, thickness: 40, width: 90}\n"
        "boards:\n  - {board: A, outline: [[0, 0], [900, 0], [900, 60]]}\n",
    )
    assert board.width_mm == 60


def test_keep_outs_of_the_defaults_come_before_the_boards_own(tmp_path):
    (board,) = _stock(
        tmp_path,
        "defaults:\n  species: teak\n  thickness: 40\n  width: 90\n"
        "  keep_outs: [{kind: hole, at: [50, 45], diameter: 9}]\n"
        "boards:\n  - board: A\n    length: 900\n"
        "    keep_outs: [{kind: metal, at: [80, 45], diameter: 4}]\n",
    )
    assert [k.kind for k in board.keep_outs] == [KeepOutKind.HOLE, KeepOutKind.METAL]


def test_keep_out_of_the_defaults_off_a_board_is_shown_at_the_defaults(tmp_path):
    found = _wrong(
        tmp_path,
        "defaults:\n  species: teak\n  thickness: 40\n"
        "  keep_outs: [{kind: hole, at: [50, 145], diameter: 9}]\n"
        "boards:\n  - {board: A, length: 900, width: 90}\n",
    )
    assert found == [
        "deck.yaml:5:15: board A: hole at (50, 145) mm lies 55.0 mm off the board; check the "
        "coordinates, or take it out of the list"
    ]


def test_mistake_in_the_defaults_is_said_once(tmp_path):
    boards = "".join(
        f"  - {{board: A{i}, species: teak, length: 900, width: 90}}\n" for i in range(9)
    )
    found = _wrong(tmp_path, f"defaults: {{thicknes: 40, thickness: 30}}\nboards:\n{boards}")
    assert found == ["deck.yaml:2:12: defaults: thicknes: unknown key, did you mean thickness?"]


def test_both_forms_of_a_board_are_one_too_many(tmp_path):
    rest = "length: 900, width: 90, outline: [[0, 0], [9, 0], [9, 9]]"
    assert _wrong(tmp_path, _board(rest)) == [
        "deck.yaml:3:5: board D: give one of outline or length and width, not both"
    ]


def test_boards_alike_are_numbered(tmp_path):
    boards = _stock(tmp_path, _board("length: 900, width: 90, count: 12"))
    assert [board.name for board in boards][:2] == ["D-01", "D-02"]
    assert boards[-1].name == "D-12"


def test_numbered_name_that_is_taken_is_refused(tmp_path):
    text = _board("length: 900, width: 90, count: 2") + (
        "  - {board: D-02, species: teak, thickness: 40, length: 900, width: 90}\n"
    )
    (found,) = _wrong(tmp_path, text)
    assert found.startswith("deck.yaml:4:13: board D-02: D-02 is the name of a board at ")


def test_resawn_board_makes_leaves_of_equal_thickness(tmp_path):
    rest = "length: 900, width: 90, resaw: 2, count: 2"
    boards = _stock(tmp_path, _board(rest))
    assert [board.name for board in boards] == ["D-01/1", "D-01/2", "D-02/1", "D-02/2"]
    assert {board.thickness_mm for board in boards} == {(40 - 3) / 2}


def test_board_too_thin_to_resaw_is_refused(tmp_path):
    text = (
        "boards:\n  - {board: D, species: teak, thickness: 30, length: 900, width: 90, resaw: 11}\n"
    )
    assert _wrong(tmp_path, text) == [
        "deck.yaml:3:77: board D: resaw: 30 mm sawn into 11 with a kerf of 3 mm leaves nothing"
    ]


def _thick(*depths):
    keep_outs = [circle(KeepOutKind.RECESS, 50 + 50 * i, 45, 20) for i in range(len(depths))]
    object_with_depth = [
        type(k)(k.kind, k.core, k.reach_mm, depth_mm=d)
        for k, d in zip(keep_outs, depths, strict=True)
    ]
    shape = board_outline([(0, 0), (900, 0), (900, 90), (0, 90)])
    return Board("D", shape, 66, "teak", keep_outs=tuple(object_with_depth))


def test_keep_out_reaches_only_the_leaves_that_its_depth_reaches():
    # Leaves 20 mm, kerfs 3 mm: faces at 0-20, 23-43, 46-66 mm.
    leaves = leaves_of(_thick(10, 20, 22, 30, 43, 50, None), 3, 3.0)
    assert [leaf.thickness_mm for leaf in leaves] == [20, 20, 20]
    depths = [[k.depth_mm for k in leaf.keep_outs] for leaf in leaves]
    assert depths == [[10, None, None, None, None, None, None], [7, None, None, None], [4, None]]


def test_one_leaf_is_the_board_itself():
    board = _thick(10)
    assert leaves_of(board, 1, 3.0) == (board,)


def test_leaves_thinner_than_nothing_are_refused():
    with pytest.raises(ShapeError, match="66 mm sawn into 23 with a kerf of 3 mm leaves nothing"):
        leaves_of(_thick(), 23, 3.0)


@pytest.mark.parametrize(
    ("keep_out", "count"),
    [
        ("{kind: hole, at: [50, 45], diameter: 9}", 1),
        ("{kind: hole, places: [[50, 45], [70, 45]], diameter: 9}", 2),
        ("{kind: split, from: [0, 45], to: [200, 50], width: 2}", 1),
        ("{kind: rot, outline: [[0, 0], [0, 50], [50, 50], [0, 0]]}", 1),
        ("{kind: hole, row: {from: [50, 20], to: [850, 20], spacing: 100}, diameter: 9}", 9),
        ("{kind: hole, row: {from: [50, 20], to: [850, 20], count: 5}, diameter: 9}", 5),
        ("{kind: hole, edge_row: {edge: upper, inset: 9, from: 50, spacing: 200}, diameter: 6}", 5),
        ("{kind: hole, crossings: {at: [100, 500], insets: [20]}, diameter: 9}", 4),
        ("{kind: hole, crossings: {first: 100, spacing: 400, offsets: [30]}, diameter: 9}", 3),
        ("{kind: hole, crossings: {first: 100, spacing: 400, count: 2, offsets: [30, 60]}, "
         "diameter: 9}", 4),
    ],
)  # fmt: skip
def test_keep_out_in_each_form(tmp_path, keep_out, count):
    (board,) = _stock(tmp_path, _board(f"length: 900, width: 90, keep_outs: [{keep_out}]"))
    assert len(board.keep_outs) == count


@pytest.mark.parametrize("kind", list(KeepOutKind))
def test_keep_out_of_each_kind(tmp_path, kind):
    rest = f"length: 900, width: 90, keep_outs: [{{kind: {kind}, at: [50, 45], diameter: 9}}]"
    (board,) = _stock(tmp_path, _board(rest))
    assert [k.kind for k in board.keep_outs] == [kind]


def test_keep_out_carries_depth_note_source_and_confidence(tmp_path):
    keep_out = (
        "{kind: stain, at: [50, 45], diameter: 60, depth: 2, note: black, source: photograph, "
        "confidence: 0.6}"
    )
    (board,) = _stock(tmp_path, _board(f"length: 900, width: 90, keep_outs: [{keep_out}]"))
    (found,) = board.keep_outs
    assert (found.depth_mm, found.note) == (2, "black")
    assert (found.source, found.confidence) == ("photograph", 0.6)


@pytest.mark.parametrize(
    ("keep_out", "message"),
    [
        ("{kind: paper, at: [5, 5], diameter: 3}", "kind: 'paper' is not known, allowed: metal, "
         "hole, recess, groove, rot, split, knot, stain, worn edge"),
        ("{kind: worn_edge, at: [5, 5], diameter: 3}", "kind: 'worn_edge' is not known, did you "
         "mean worn edge?"),
        ("{kind: hole, at: [5, 5]}", "diameter: missing (diameter of each)"),
        ("{kind: hole, at: [5, 5, 5], diameter: 3}", "at: 3 given, must be at most 2"),
        ("{kind: hole, at: 5, diameter: 3}", "at: 5 is no list; write [first, second]"),
        ("{kind: hole, at: [5, 5], diameter: 0}", "diameter: 0 is not over 0; a size here must be"),
        ("{kind: split, from: [5, 5], to: [5, 5], width: 2}", "split: a slot must have two ends, "
         "both are at (5.0, 5.0)"),
        ("{kind: hole, row: {from: [5, 5], to: [9, 5]}, diameter: 3}", "give a row a spacing or a "
         "count, one of the two"),
        ("{kind: hole, row: {from: [5, 5], to: [800, 5], spacing: 0.1}, diameter: 3}", "the "
         "pattern makes 7,951 keep-outs, at most 2,000 are read: is the spacing's unit right?"),
        ("{kind: hole, crossings: {at: [5], first: 5, spacing: 5, insets: [5]}, diameter: 3}",
         "crossings: give the beams either as at: [...], or as first: and spacing:"),
        ("{kind: hole, crossings: {at: [5]}, diameter: 3}", "crossings: give offsets: from the "
         "lower edge, or insets: from both edges"),
        ("{kind: hole, crossings: {at: [950], insets: [5]}, diameter: 3}", "station 950 mm is off "
         "the board, which goes from 0 to 900 mm"),
        ("{kind: hole, crossings: {ofsets: [5], at: [9]}, diameter: 3}", "ofsets: unknown key, did "
         "you mean offsets?"),
        ("{kind: rot, outline: [[1, 1], [20, 20], [1, 20], [20, 1]]}", "the outline crosses "
         "itself: edge 1 (from (1, 1) mm) meets edge 3 (from (1, 20) mm) at (10.5, 10.5) mm; check "
         "the order of its points"),
        ("{kind: hole, at: [5, 5], diameter: 3, confidence: 60}", "confidence: 60 is not allowed, "
         "must be at most 1"),
    ],
)  # fmt: skip
def test_keep_out_that_cannot_be_says_why(tmp_path, keep_out, message):
    found = _wrong(tmp_path, _board(f"length: 900, width: 90, keep_outs: [{keep_out}]"))
    assert f"board D: {message}" in [text.partition(": ")[2] for text in found]


def test_bad_keep_out_does_not_hide_another(tmp_path):
    keep_outs = "[{kind: hole, at: [950, 5], diameter: 3}, {kind: paper, at: [5, 5], diameter: 3}]"
    found = _wrong(tmp_path, _board(f"length: 900, width: 90, keep_outs: {keep_outs}"))
    assert [text.partition(" board D: ")[2].split()[0] for text in found] == ["hole", "kind:"]


def test_stock_file_has_a_unit_of_its_own(tmp_path):
    written(
        tmp_path,
        "unit: in\nboards:\n  - {board: D, species: teak, thickness: 2, length: 40, width: 5}\n",
        "deck.yaml",
    )
    project = read_project(written(tmp_path, project_text(stock="  - file: deck.yaml\n")))
    assert project.stock[0].length_mm == pytest.approx(40 * 25.4)
    assert project.needs[0].outline.length_mm == 300


def test_stock_file_without_a_unit_is_refused(tmp_path):
    written(tmp_path, "boards:\n  - {board: D, species: teak}\n", "deck.yaml")
    assert findings_of(written(tmp_path, project_text(stock="  - file: deck.yaml\n"))) == [
        "deck.yaml:1:1: unit: missing (what a bare number means: mm, cm, m, in or ft)"
    ]


def test_place_of_an_own_keep_out_is_not_shifted_by_those_of_the_defaults(tmp_path):
    found = _wrong(
        tmp_path,
        "defaults:\n  species: teak\n  thickness: 40\n  width: 90\n"
        "  keep_outs: [{kind: hole, at: [50, 45], diameter: 9}, "
        "{kind: hol, at: [5, 5], diameter: 1}]\n"
        "boards:\n  - board: A\n    length: 900\n    keep_outs:\n"
        "      - {kind: metal, at: [80, 45], diameter: 4}\n"
        "      - {kind: metal, at: [980, 45], diameter: 4}\n",
    )
    assert [text.partition(": ")[0] for text in found] == ["deck.yaml:6:63", "deck.yaml:12:9"]


def test_keep_outs_that_are_no_list_are_refused_beside_those_of_the_defaults(tmp_path):
    found = _wrong(
        tmp_path,
        "defaults:\n  keep_outs: [{kind: hole, at: [50, 45], diameter: 9}]\n"
        "boards: [{board: A, species: teak, thickness: 40, length: 900, width: 90, "
        "keep_outs: 3}]\n",
    )
    assert found == ["deck.yaml:4:86: board A: keep_outs: 3 is no list; write [first, second]"]
