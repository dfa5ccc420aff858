"""Sheets as people change them in CAD: moved, mirrored, copied in; read as stock, sawn by."""

import shutil
from math import pi

import ezdxf
import pytest
from ezdxf.math import Matrix44

from nesting import cli
from nesting.book.integrity import faults
from nesting.book.opening import opened
from nesting.book.rows import board_in, board_named

TEXT = """\
version: 1
name: Teal
unit: mm
book: stock.book
outputs: {folder: plan, write: []}
stock:
  - {board: A, species: teak, thickness: 30, length: 1500, width: 200,
     keep_outs: [{kind: metal, at: [1400, 50], diameter: 8},
                 {kind: rot, outline: [[1200, 100], [1260, 100], [1230, 160]]}]}
parts:
  - {part: rib, family: plank, species: teak, quantity: 3,
     shape: {length: 300, width: 80, thickness: 20}}
"""


@pytest.fixture(scope="module")
def nested(tmp_path_factory):
    """A folder with a project, its book and its plan."""
    folder = tmp_path_factory.mktemp("teal")
    (folder / "teal.yaml").write_text(TEXT)
    assert cli.main(["book", "record", str(folder / "teal.yaml")]) == 0
    how = ["--rounds", "0", "--workers", "1", "-q"]
    assert cli.main(["nest", str(folder / "teal.yaml"), *how]) == 0
    return folder


@pytest.fixture
def shop(nested, tmp_path, capsys):
    """A copy of it for each test; the book is sound at the end."""
    folder = tmp_path / "teal"
    shutil.copytree(nested, folder)
    capsys.readouterr()
    yield folder
    with opened(folder / "stock.book") as book:
        assert faults(book) == []


def changed(shop, how):
    """Return A's sheet as somebody changed it."""
    drawing = ezdxf.readfile(shop / "plan/board-A.dxf")
    how(drawing)
    drawing.saveas(shop / "changed.dxf")
    return shop / "changed.dxf"


def said(capsys, code, *words):
    assert cli.main(["book", *map(str, words)]) == code
    found = capsys.readouterr()
    return found.out + found.err


def board(shop):
    with opened(shop / "stock.book") as book:
        return board_in(board_named(book, "A"))


def everything(matrix):
    def change(drawing):
        for entity in drawing.modelspace():
            entity.transform(matrix)

    return change


def copied(layer, kind, by):
    """Return what copies what is of a kind on a layer, its tag and all, as CAD programs do."""

    def change(drawing):
        space = drawing.modelspace()
        for entity in [e for e in space if e.dxf.layer == layer and e.dxftype() == kind]:
            space.add_entity(other := entity.copy())
            other.translate(*by, 0)

    return change


def test_nail_that_is_copied_from_another_is_one_more(shop, capsys):
    before = board(shop)
    sheet = changed(shop, copied("METAL", "CIRCLE", (-1000, 100)))
    told = said(capsys, 3, "cut", shop / "teal.yaml", "A", "--sheet", sheet)
    assert "has metal at (400, 150) mm, which the book does not know" in told
    assert "A: 1 keep-out more, 0 gone" in said(capsys, 0, "read", shop / "teal.yaml", sheet)
    more = board(shop).keep_outs[len(before.keep_outs) :]
    assert [(str(k.kind), k.bounding_circle) for k in more] == [("metal", (400, 150, 4))]
    assert board(shop).keep_outs[: len(before.keep_outs)] == before.keep_outs


def test_nail_that_was_moved_is_read_before_anything_is_sawn_by_the_sheet(shop, capsys):
    def change(drawing):
        for entity in drawing.modelspace():
            if entity.dxf.layer == "METAL":
                entity.translate(-1200, 0, 0)

    sheet = changed(shop, change)
    told = said(capsys, 3, "cut", shop / "teal.yaml", "A", "--sheet", sheet)
    assert "has metal at (200, 50) mm, which the book does not know: read the sheet first" in told
    gone = "A: 1 keep-out more, 1 gone: metal at (1400, 50) mm"
    assert gone in said(capsys, 0, "read", shop / "teal.yaml", sheet)


def test_outline_that_is_copied_from_another_is_one_more(shop, capsys):
    sheet = changed(shop, copied("ROT", "LWPOLYLINE", (-800, 0)))
    assert "A: 1 keep-out more, 0 gone" in said(capsys, 0, "read", shop / "teal.yaml", sheet)
    assert board(shop).keep_outs[-1].polygon.bounds == (400, 100, 460, 160)


def test_piece_that_is_drawn_twice_is_sawn_by_neither(shop, capsys):
    sheet = changed(shop, copied("SAW_OUTLINE", "LWPOLYLINE", (0, 1)))
    told = said(capsys, 3, "cut", shop / "teal.yaml", "A", "--sheet", sheet)
    assert "rib, 1 of 3 is drawn twice" in told and "take one away" in told


def test_piece_that_was_moved_off_the_board_is_told(shop, capsys):
    def change(drawing):
        space = drawing.modelspace()
        next(e for e in space if e.dxf.layer == "SAW_OUTLINE").translate(1400, 0, 0)

    sheet = changed(shop, change)
    told = said(capsys, 0, "cut", shop / "teal.yaml", "A", "--sheet", sheet)
    assert "A: 2 pieces sawn" in told and "not wholly in the wood that is left: rib, " in told


def test_drawing_that_was_moved_as_a_whole_is_read_where_it_lay(shop, capsys):
    before = board(shop)
    sheet = changed(shop, everything(Matrix44.translate(100, 50, 0)))
    told = said(capsys, 0, "read", shop / "teal.yaml", sheet)
    assert "A: 0 keep-outs more, 0 gone; the drawing was moved by (100, 50) mm" in told
    assert board(shop) == before


def test_nail_on_a_drawing_that_was_moved_lies_where_it_is_on_the_board(shop, capsys):
    def change(drawing):
        drawing.modelspace().add_circle((500, 150), 4, dxfattribs={"layer": "METAL"})
        everything(Matrix44.translate(-30, 2000, 0))(drawing)

    told = said(capsys, 0, "read", shop / "teal.yaml", changed(shop, change))
    assert "A: 1 keep-out more, 0 gone" in told
    assert board(shop).keep_outs[-1].bounding_circle == pytest.approx((500, 150, 4))


@pytest.mark.parametrize("word", [("read",), ("cut", "A", "--sheet")])
@pytest.mark.parametrize("which", ["BOARD_EDGE", "SAW_OUTLINE", None])
def test_what_is_mirrored_is_refused(shop, capsys, which, word):
    def change(drawing):
        for entity in drawing.modelspace():
            if which in (None, entity.dxf.layer):
                entity.transform(Matrix44.scale(-1, 1, 1))

    first, *more = word
    sheet = changed(shop, change)
    told = said(capsys, 3, first, shop / "teal.yaml", *more, sheet)
    assert "is mirrored, or turned out of the plane" in told
    assert (which or "BOARD_EDGE") in told


def test_drawing_in_another_unit_is_refused(shop, capsys):
    def change(drawing):
        drawing.header["$INSUNITS"] = 1

    sheet = changed(shop, change)
    for word in (("read", shop / "teal.yaml"), ("cut", shop / "teal.yaml", "A", "--sheet")):
        told = said(capsys, 3, *word, sheet)
        assert "its unit ($INSUNITS) is 1, inches; a cut sheet is in millimetres, 4" in told


def test_drawing_that_says_no_unit_is_read(shop, capsys):
    def change(drawing):
        drawing.header["$INSUNITS"] = 0

    told = said(capsys, 0, "read", shop / "teal.yaml", changed(shop, change))
    assert "A: 0 keep-outs more, 0 gone" in told


def test_drawing_that_was_turned_is_told(shop, capsys):
    sheet = changed(shop, everything(Matrix44.z_rotate(pi / 2)))
    told = said(capsys, 3, "read", shop / "teal.yaml", sheet)
    assert "the board on the sheet is not like A in the book" in told


def test_edge_that_was_moved_alone_is_told(shop, capsys):
    before = board(shop)

    def change(drawing):
        for entity in drawing.modelspace():
            if entity.dxf.layer == "BOARD_EDGE":
                entity.translate(50, 0, 0)

    told = said(capsys, 3, "read", shop / "teal.yaml", changed(shop, change))
    assert "the edge of A was moved by (50, 0) mm, and what lies on it was not" in told
    assert board(shop) == before


def test_board_that_is_new_lies_at_its_lower_left_corner_wherever_it_is_drawn(shop, capsys):
    before = board(shop)
    sheet = changed(shop, everything(Matrix44.translate(100, -50, 0)))
    text = TEXT.replace("board: A", "board: Z").replace("stock.book", "other.book")
    (shop / "teal.yaml").write_text(text)
    said(capsys, 0, "record", shop / "teal.yaml")
    assert "A: new from a sheet, 2 keep-outs" in said(capsys, 0, "read", shop / "teal.yaml", sheet)
    with opened(shop / "other.book") as book:
        after = board_in(board_named(book, "A"))
    assert (after.shape, after.keep_outs) == (before.shape, before.keep_outs)
