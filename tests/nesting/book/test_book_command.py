"""What is typed at the ``book`` command, mistakes too; sheets read back; two projects, one pile."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace

import pytest
import shapely

from nesting import cli
from nesting.book.opening import opened
from nesting.book.rows import board_in, board_named

PARTS = """parts:
  - part: slat
    family: plank
    species: teak
    quantity: 3
    shape: {length: 500, width: 80, thickness: 20}
"""
STOCK = """unit, mm
board, species, thickness, length, width, metal, knots
D-1, teak, 25, 1200, 200, "5 at 1150, 100 up", "10 at 1100, 50 up"
D-2, teak, 25, 900, 180, none, none
D-3, teak, 40, 2500, 300, none, none
"""


def project(folder, name="Teasel", parts=PARTS, unit="mm"):
    path = folder / f"{name.lower()}.yaml"
    path.write_text(
        f"version: 1\nname: {name}\nunit: {unit}\nbook: pile.book\nstock: [{{file: pile.csv}}]\n"
        f"{parts}outputs: {{folder: plan-{name}, write: []}}\n"
    )
    return path


@pytest.fixture
def teasel(tmp_path):
    (tmp_path / "pile.csv").write_text(STOCK)
    path = project(tmp_path)
    assert cli.main(["book", "record", str(path)]) == 0
    assert nest(path) == 0
    return path


def nest(path, *more):
    return cli.main(["nest", str(path), "--rounds", "0", "--workers", "1", "-q", *more])


def said(capsys, code, *arguments):
    capsys.readouterr()
    assert cli.main(["book", *map(str, arguments)]) == code
    out, err = capsys.readouterr()
    return out + err


def opened_boards(path, name="Teasel"):
    summary = json.loads((path.parent / f"plan-{name}" / "summary.json").read_text())
    return [row["board"] for row in summary["boards"]]


def test_mistakes_are_told_in_a_sentence(teasel, capsys, tmp_path):
    first = opened_boards(teasel)[0]
    (tmp_path / "none.yaml").write_text("version: 1\nname: X\nunit: mm\n")
    for code, words, *arguments in [
        (3, "names no book: write   book: stock.book", "status", tmp_path / "none.yaml"),
        (3, "cannot be read: No such file", "status", tmp_path / "nothing.yaml"),
        (3, "saws nothing from board D-9; did you mean", "cut", teasel, "D-9"),
        (3, "no piece slat, 9 of 3", "cut", teasel, first, "--pieces", "slat, 9 of 3"),
        (2, "is no PIECE=OTHER", "cut", teasel, first, "--used", "slat"),
        (2, "say what was found", "found", teasel, "D-1"),
        (2, "--metal", "found", teasel, "D-1", "--metal", "somewhere"),
        (2, "--metal", "found", teasel, "D-1", "--metal", "5 at 5000, 20 up"),
        (3, "no board D-8 in the book; did you mean", "taped", teasel, "D-8", "--length", "9"),
        (2, "--length: 'long' is no length", "taped", teasel, "D-1", "--length", "long"),
        (3, "must be over 0 and at most 400 mm", "taped", teasel, "D-1", "--thickness", "900"),
        (2, "say what the tape has", "taped", teasel, "D-1"),
        (3, "no piece keel of Teasel was sawn", "spoiled", teasel, "keel"),
        (3, "no board Q in the book", "history", teasel, "Q"),
        (3, "Teasel holds no board D-1", "release", teasel, "D-1"),
        (3, "name the project file", "gone", tmp_path / "pile.book", "D-1"),
        (5, "is there already", "backup", teasel, tmp_path / "pile.csv"),
        (3, "is no stock book", "restore", teasel, tmp_path / "pile.csv", "--overwrite"),
    ]:
        assert words in said(capsys, code, *arguments), (words, arguments)
    assert "is sound: 1 step" in said(capsys, 0, "sound", teasel)


def test_whole_of_a_day_with_a_piece_used_otherwise(teasel, capsys):
    first = opened_boards(teasel)[0]
    assert "sawn: slat" in said(capsys, 0, "cut", teasel, first, "--why", "wet day")
    assert f"sheet of {first} is left to be sawn" in said(capsys, 3, "cut", teasel, first)
    text = said(capsys, 0, "history", teasel, first)
    assert "wet day" in text
    status = said(capsys, 0, "status", teasel.parent / "pile.book")
    assert "of 3 pieces done" in status


def test_projects_in_inches_are_told_in_inches(tmp_path, capsys):
    (tmp_path / "pile.csv").write_text(STOCK)
    parts = PARTS.replace("500", "19").replace("80", "3").replace("20}", "3/4}")
    path = project(tmp_path, "Inch", parts, "in")
    assert cli.main(["book", "record", str(path)]) == 0
    text = said(capsys, 0, "taped", path, "D-2", "--length", "2 ft")
    assert text == "D-2: 24 in x 7 1/16 in, 63/64 in thick\n"


def test_curved_offcut_is_taped_from_a_string(teasel, capsys):
    said(
        capsys,
        0,
        "taped",
        teasel,
        "D-1",
        "--string",
        "0: -20 to 90; 600: 10 to 130; 1100: -10 to 8",
    )
    with opened(teasel.parent / "pile.book") as book:
        board = board_in(board_named(book, "D-1"))
    # Its lowest point lies where the board's lower edge was; what lies off it now is gone.
    corners = [(0, 0), (600, 30), (1100, 10), (1100, 28), (600, 150), (0, 110)]
    assert set(corners) <= set(board.shape.exterior.coords)
    # Hollow below, it follows a batten there.
    assert shapely.Polygon(corners).buffer(1e-6).covers(board.shape)
    assert board.shape.area == pytest.approx(shapely.Polygon(corners).area, rel=0.06)
    assert board.keep_outs == ()
    for code, words, *how in [
        (2, "--string: '0: 2' is no station; write for example 0: -2 to 3", "--string", "0: 2"),
        (2, "is of 1 station, must be two or more", "--string", "0: 2 to 3"),
        (2, "--string: the width at station 9 mm is -1 mm", "--string", "0: 2 to 3; 9: 2 to 1"),
        (2, "--string: upper[2]: 'x' is no length", "--string", "0: 2 to 3; 9: 2 to x"),
        (2, "--widths: width[2]: -5 is not over 0", "--widths", "0: 5; 9: -5"),
        (2, "--widths: stations must rise", "--widths", "0: 5; 9: 5; 4: 5"),
        (2, "taped one way", "--widths", "0: 5; 9: 5", "--length", "9"),
        (2, "taped one way", "--widths", "0: 5; 9: 5", "--string", "0: 2 to 3; 9: 2 to 3"),
        (2, "is no rectangle: give --length and --width", "--length", "9"),
    ]:
        assert words in said(capsys, code, "taped", teasel, "D-1", *how), (words, how)


def test_what_one_project_holds_or_cut_another_does_not_get(teasel, tmp_path, capsys):
    assert "reserved for Teasel" in said(capsys, 0, "reserve", teasel)
    sorrel = project(tmp_path, "Sorrel")
    assert cli.main(["book", "record", str(sorrel)]) == 0
    capsys.readouterr()
    held = opened_boards(teasel)
    assert cli.main(["nest", str(sorrel), "--rounds", "0", "--workers", "1"]) == 0
    assert f"reserved by Teasel: {held[0]}" in capsys.readouterr().err
    for board in held:
        text = said(capsys, 3, "gone", sorrel, board)
        assert f"board {board} is reserved by the project Teasel" in text
    # A plan made before cannot be reserved once another project has what it opens.
    said(capsys, 0, "release", teasel)
    assert nest(sorrel, "--overwrite") == 0
    said(capsys, 0, "reserve", teasel)
    text = said(capsys, 3, "reserve", sorrel)
    assert "the plan of Sorrel cannot be reserved" in text
    assert "is reserved by Teasel" in text
    for board in held:
        said(capsys, 0, "cut", teasel, board)
    assert "is sawn up by Teasel" in said(capsys, 3, "reserve", sorrel)
    assert "the last step" in said(capsys, 3, "undo", sorrel)


def test_nest_goes_on_from_what_was_cut(teasel, capsys):
    for board in opened_boards(teasel):
        said(capsys, 0, "cut", teasel, board)
    assert nest(teasel, "--overwrite") == cli.PROJECT_WRONG
    assert "all pieces of Teasel are sawn, by the book" in capsys.readouterr().err
    label = "slat, 2 of 3"
    said(capsys, 0, "spoiled", teasel, label, "--why", "dropped")
    assert nest(teasel, "--overwrite") == 0
    summary = json.loads((teasel.parent / "plan-Teasel" / "summary.json").read_text())
    labels = [part["label"] for row in summary["boards"] for part in row["parts"]]
    assert (labels, summary["unplaced"]) == ([label], [])
    assert cli.main(["remeasure", str(teasel)]) == 0


def test_sheet_with_metal_drawn_in_cad_is_read_back(teasel, capsys, tmp_path):
    import ezdxf

    first = opened_boards(teasel)[0]
    file = next((teasel.parent / "plan-Teasel").glob(f"*{first}*.dxf"))
    drawing = ezdxf.readfile(file)
    drawing.modelspace().add_circle((400, 100), 3, dxfattribs={"layer": "METAL"})
    corners = [(700, 20), (760, 20), (760, 60)]
    drawing.modelspace().add_lwpolyline(corners, close=True, dxfattribs={"layer": "ROT"})
    changed = tmp_path / "changed.dxf"
    drawing.saveas(changed)
    with opened(tmp_path / "pile.book") as book:
        before = board_in(board_named(book, first))
    text = said(capsys, 3, "cut", teasel, first, "--sheet", changed)
    assert "has metal at (400, 100) mm, which the book does not know" in text
    assert f"{first}: 2 keep-outs more, 0 gone" in said(capsys, 0, "read", teasel, changed)
    with opened(tmp_path / "pile.book") as book:
        after = board_in(board_named(book, first))
    assert after.keep_outs[: len(before.keep_outs)] == before.keep_outs
    kinds = [(str(k.kind), k.source) for k in after.keep_outs[len(before.keep_outs) :]]
    assert kinds == [("metal", "bench"), ("rot", "bench")]
    # The plan's own sheet does not have them: what was found stays.
    assert "0 keep-outs more, 0 gone" in said(capsys, 0, "read", teasel, file)
    with opened(tmp_path / "pile.book") as book:
        assert board_in(board_named(book, first)) == after


METAL = {"layer": "METAL"}
CORNERS = [(400, 90), (420, 90), (420, 110)]


def hatched(space):
    hatch = space.add_hatch(dxfattribs=METAL)
    hatch.paths.add_polyline_path(CORNERS, is_closed=True)


def nail_block(space):
    space.doc.blocks.new("nail").add_circle((0, 0), 3)
    space.add_blockref("nail", (400, 100), METAL)


@pytest.mark.parametrize(
    ("draw", "told"),
    [
        (hatched, "HATCH on layer 'METAL' is not read"),
        (nail_block, "INSERT on layer 'METAL' is not read"),
        (lambda m: m.add_ellipse((400, 100), (5, 0), 0.5, dxfattribs=METAL), "ELLIPSE on layer"),
        (lambda m: m.add_arc((400, 100), 5, 0, 200, dxfattribs=METAL), "ARC on layer 'METAL'"),
        (lambda m: m.add_point((400, 100), dxfattribs=METAL), "POINT on layer 'METAL'"),
        (lambda m: m.add_text("nail", height=9, dxfattribs=METAL), "TEXT on layer 'METAL'"),
        (lambda m: m.add_line((400, 90), (420, 95), dxfattribs=METAL), "closes nothing"),
        (lambda m: m.add_lwpolyline(CORNERS, dxfattribs=METAL), "closes nothing: draw"),
        (
            lambda m: m.add_lwpolyline(CORNERS, close=True, dxfattribs=METAL | {"const_width": 4}),
            "has width 4",
        ),
        (
            lambda m: m.add_circle((-400, 100), 3, dxfattribs=METAL | {"extrusion": (0, 0, -1)}),
            "has extrusion -1",
        ),
        (lambda m: m.add_circle((400, 100), 3, dxfattribs={"layer": "NAILS"}), "on no layer of"),
        (lambda m: m.add_circle((400, 100), 3), "put it on METAL, OLD_HOLE"),
        (lambda m: m.add_line((400, 90), (420, 95), dxfattribs={"layer": "nails"}), "on no layer"),
    ],
)
def test_whatever_is_drawn_on_a_sheet_as_metal_is_read_or_refused(
    teasel, capsys, tmp_path, draw, told
):
    import ezdxf

    first = opened_boards(teasel)[0]
    file = next((teasel.parent / "plan-Teasel").glob(f"*{first}*.dxf"))
    drawing = ezdxf.readfile(file)
    drawing.modelspace().add_line((400, 90), (420, 95), dxfattribs={"layer": "CHALK"})
    drawing.saveas(tmp_path / "chalk.dxf")
    assert "0 keep-outs more" in said(capsys, 0, "read", teasel, tmp_path / "chalk.dxf")
    draw(drawing.modelspace())
    changed = tmp_path / "changed.dxf"
    drawing.saveas(changed)
    assert told in said(capsys, 3, "read", teasel, changed)
    assert told in said(capsys, 3, "cut", teasel, first, "--sheet", changed)


def test_sheet_of_a_board_that_the_book_does_not_know_is_new_stock(teasel, capsys, tmp_path):
    first = opened_boards(teasel)[0]
    file = next((teasel.parent / "plan-Teasel").glob(f"*{first}*.dxf"))
    other = project(tmp_path, "Other")
    other.write_text(other.read_text().replace("pile.book", "new.book"))
    (tmp_path / "pile.csv").write_text(STOCK.replace("D-", "E-"))
    assert cli.main(["book", "record", str(other)]) == 0
    assert "'chalk' is not known" in said(capsys, 3, "read", other, file, "--species", "chalk")
    assert f"{first}: new from a sheet" in said(capsys, 0, "read", other, file)
    with opened(tmp_path / "new.book") as book, opened(tmp_path / "pile.book") as old:
        found, known = (board_in(board_named(one, first)) for one in (book, old))
    assert replace(found, shape=known.shape, keep_outs=()) == replace(known, keep_outs=())
    assert found.shape.equals_exact(known.shape, 0.01, normalize=True)
    assert [k.source for k in found.keep_outs] == [k.source for k in known.keep_outs]
    # A sheet of an older version does not say what wood it is.
    bare = tmp_path / "bare.dxf"
    lines = file.read_bytes().splitlines(keepends=True)
    at = next(n for n, line in enumerate(lines) if line.startswith(b"species="))
    bare.write_bytes(b"".join(lines[: at - 1] + lines[at + 1 :]))
    (tmp_path / "new.book").unlink()
    assert cli.main(["book", "record", str(other)]) == 0
    assert "give --species" in said(capsys, 3, "read", other, bare)
    assert f"{first}: new from a sheet" in said(capsys, 0, "read", other, bare, "--species", "teak")


def test_plan_without_a_book_says_nothing_of_one(tmp_path):
    (tmp_path / "pile.csv").write_text(STOCK)
    path = project(tmp_path)
    path.write_text(path.read_text().replace("book: pile.book\n", ""))
    assert nest(path) == 0
    assert "book" not in json.loads((tmp_path / "plan-Teasel" / "summary.json").read_text())


def test_recording_composes_the_project_file_once(teasel, monkeypatch):
    from nesting.yaml_file import document

    composed, compose = [], document.compose

    def counted(file, *rest):
        composed.append(file)
        return compose(file, *rest)

    monkeypatch.setattr(document, "compose", counted)
    assert cli.main(["book", "record", str(teasel)]) == 0
    assert composed.count(str(teasel)) == 1


def test_record_refuses_a_project_without_a_book_and_a_book_itself(teasel, capsys):
    teasel.write_text(teasel.read_text().replace("book: pile.book\n", ""))
    assert "names no book: write   book: stock.book" in said(capsys, 3, "record", teasel)
    book = teasel.with_name("pile.book")
    assert "is a book: name the project file" in said(capsys, 3, "record", book)
    assert "cannot be read: No such file" in said(capsys, 3, "record", teasel.with_name("no.yaml"))


def test_export_and_rebuild_do_without_what_reads_project_files(teasel):
    folder, book = teasel.parent, teasel.with_name("pile.book")
    code = (
        "import sys\nfrom nesting.cli import main\n"
        f"assert main(['book', 'export', {str(book)!r}, {str(folder / 'plain')!r}]) == 0\n"
        f"assert main(['book', 'rebuild', {str(folder / 'plain')!r}, "
        f"{str(folder / 'again.book')!r}]) == 0\n"
        "print('pydantic' in sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )  # fmt: skip
    assert done.stdout.splitlines()[-1] == "False"
