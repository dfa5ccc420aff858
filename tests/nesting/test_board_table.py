"""Boards from a table: the same boards as from YAML, and every error with its cell."""

from __future__ import annotations

import datetime
from pathlib import Path

import openpyxl
import pytest
from project_texts import HEAD, only_blocks, project_text, written

from nesting.errors import ProjectFileError
from nesting.project import read_project

IN = HEAD.replace("unit: mm", "unit: in")

SETTINGS = [("unit", "in"), ("species", "teak"), ("thickness", "1 3/4")]
HEADS = ("board", "length", "width", "heartwood", "moisture", "holes", "rot", "string", "came from")
ROWS = [
    ("D-1", "7 ft 2 in", 5.25, "yes", "14 %",
     "3/16 every 12 from 6, 1 from each edge, not the 4th", "40 to 55 lower edge 2 deep", None,
     "port, next the king plank"),
    ("D-2", None, None, "no", 14, None, None, "0: -2 to 3; 40: -1 to 3 1/2; 80: -2 to 3", None),
    ("3", 60, 5, None, None, "none", "the last 6, across; 10 to 12, 1 to 3 up", None, None),
]  # fmt: skip
YAML = """
version: 1
unit: in
defaults: {species: teak, thickness: 1 3/4}
boards:
  - board: D-1
    length: 86
    width: 5.25
    heartwood: true
    moisture: 14
    came_from: port, next the king plank
    keep_outs:
      - {kind: hole, diameter: 3/16, crossings: {at: [6, 18, 30, 54, 66, 78], insets: [1]}}
      - {kind: rot, outline: [[40, 0], [55, 0], [55, 2], [40, 2]]}
  - board: D-2
    heartwood: false
    moisture: 14
    string: {at: [0, 40, 80], lower: [-2, -1, -2], upper: [3, 3 1/2, 3]}
  - board: 3
    length: 60
    width: 5
    keep_outs:
      - {kind: rot, outline: [[54, 0], [60, 0], [60, 5], [54, 5]]}
      - {kind: rot, outline: [[10, 1], [12, 1], [12, 3], [10, 3]]}
"""


@pytest.fixture(autouse=True)
def _only_block_family(monkeypatch):
    monkeypatch.setattr("nesting.project.own_families.known_families", only_blocks)


def in_yaml(folder: Path) -> tuple:
    folder.mkdir()
    (folder / "boards.yaml").write_text(YAML)
    return stock_of(folder, "boards.yaml")


def stock_of(folder: Path, file: str, more: str = "") -> tuple:
    path = written(folder, project_text(head=IN, stock=f"  - {{file: {file}{more}}}\n"))
    return read_project(path).stock


def as_csv(folder: Path, rows, separator: str = ",") -> None:
    lines = [separator.join("" if cell is None else f'"{cell}"' for cell in row) for row in rows]
    (folder / "boards.csv").write_text("# taped on the quay\n" + "\n".join(lines) + "\n")


def as_workbook(folder: Path, rows, *, name: str = "Deck") -> None:
    book = openpyxl.Workbook()
    book.active.title = name
    for row in rows:
        book.active.append(row)
    book.save(folder / "boards.xlsx")


def assert_same(found, wanted) -> None:
    assert [board.name for board in found] == [board.name for board in wanted]
    for one, other in zip(found, wanted, strict=True):
        assert one.shape.symmetric_difference(other.shape).area < 1e-3
        for field in ("thickness_mm", "species", "moisture_percent", "heartwood", "came_from"):
            assert getattr(one, field) == getattr(other, field)
        assert len(one.keep_outs) == len(other.keep_outs)
        for mine, theirs in zip(one.keep_outs, other.keep_outs, strict=True):
            assert mine.kind == theirs.kind
            assert mine.polygon.symmetric_difference(theirs.polygon).area < 1e-2


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_csv_gives_the_boards_that_yaml_gives(tmp_path, separator):
    as_csv(tmp_path, [*SETTINGS, HEADS, *ROWS], separator)
    assert_same(stock_of(tmp_path, "boards.csv"), in_yaml(tmp_path / "twin"))


def test_spreadsheet_gives_the_boards_that_yaml_gives(tmp_path):
    as_workbook(tmp_path, [*SETTINGS, HEADS, *ROWS])
    assert_same(stock_of(tmp_path, "boards.xlsx"), in_yaml(tmp_path / "twin"))


def test_every_sheet_is_read_unless_one_is_named(tmp_path):
    book = openpyxl.Workbook()
    for name, sheet in (("Port", book.active), ("Starboard", book.create_sheet())):
        sheet.title = name
        for row in [*SETTINGS, ("board", "length", "width"), (f"{name[0]}-1", 60, 5)]:
            sheet.append(row)
    book.create_sheet("empty")
    book.save(tmp_path / "boards.xlsx")
    assert [b.name for b in stock_of(tmp_path, "boards.xlsx")] == ["P-1", "S-1"]
    assert [b.name for b in stock_of(tmp_path, "boards.xlsx", ", sheet: Starboard")] == ["S-1"]
    with pytest.raises(ProjectFileError, match="no sheet 'Keel' in it; there are Port, Starboard"):
        stock_of(tmp_path, "boards.xlsx", ", sheet: Keel")


def errors_of(folder: Path, file: str) -> list[str]:
    with pytest.raises(ProjectFileError) as caught:
        stock_of(folder, file)
    return [str(finding).removeprefix(f"{folder}/") for finding in caught.value.findings]


WRONG = {
    "a length": (("x", "1 3/x", 5), "B5", "board x: length: '1 3/x' is no length"),
    "missing": (
        ("x", None, 5), "A5",
        "board x: length: missing (along the grain); give it in this row, or for all boards in a "
        "row of its own above the heads",
    ),
    "off the board": (
        ("x", 60, 5, None, None, "1/4 at 70, 1 up"), "F5", "station 70 in is off the board",
    ),
    "no such place": (
        ("x", 60, 5, None, None, "1/4 every 12 from 6, 1 up, not the 9th"), "F5",
        "the row has no place 9: its places are 1 to 5",
    ),
    "a note": (("x", 60, 5, None, None, None, "soft here"), "G5", "'soft here' is not understood"),
    "a diameter": (
        ("x", 60, 5, None, None, "0 at 5, 1 up"), "F5",
        "holes: '0 at 5, 1 up': diameter: '0' is not over 0",
    ),
    "heartwood": (("x", 60, 5, "mostly"), "D5", "heartwood: 'mostly' is neither true nor false"),
    "a curve": (("x", None, None, None, None, None, None, "0: 3"), "H5", "'0: 3' is no station"),
    "two forms": (("x", 9, 5, None, None, None, None, "0: 0 to 3; 9: 0 to 3"), "A5", "not both"),
}  # fmt: skip


@pytest.mark.parametrize("case", WRONG)
@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_error_names_the_cell(tmp_path, case, kind):
    row, cell, message = WRONG[case]
    rows = [*SETTINGS, HEADS, row]
    if kind == "csv":
        as_csv(tmp_path, rows)
        cell = f"{cell[0]}6"  # under a remark
    else:
        as_workbook(tmp_path, rows)
    (error,) = errors_of(tmp_path, f"boards.{kind}")
    sheet = "sheet Deck, " if kind == "xlsx" else ""
    place = f"{cell[1:]}:{ord(cell[0]) - 64}"
    assert error.startswith(f"boards.{kind}:{place}: {sheet}cell {cell}: ")
    assert message in error


@pytest.mark.parametrize(
    ("rows", "cell", "message"),
    [
        ([("unit", "in"), ("board", "lenght")], "B2", "'lenght' is no column, did you mean length?"),  # noqa: E501
        ([("unit", "in"), ("speces", "teak"), ("board",)], "A2", "did you mean species?"),
        ([("species", "teak"), ("board", "length"), ("x", 60)], "A1", "no unit"),
        ([("unit", "in"), ("x", 60)], "A1", "no row of heads"),
        ([("unit", "in"), ("board", "hole", "holes")], "C2", "is there twice"),
        ([("unit", "in"), ("board", "length"), ("x", 60, 5)], "C3", "a column without a head"),
        (
            [("unit", "in"), ("board", "length"), ("x", datetime.date(2026, 3, 16))],
            "B3", "took what was typed for a date",
        ),
        ([("unit", "in"), ("board", "length"), ("x", "=2*30")], "B3", "was never reckoned"),
    ],
)  # fmt: skip
def test_form_of_a_sheet_is_refused_with_its_cell(tmp_path, rows, cell, message):
    as_workbook(tmp_path, rows)
    assert any(
        f"sheet Deck, cell {cell}: " in error and message in error
        for error in errors_of(tmp_path, "boards.xlsx")
    )


def test_file_that_is_no_spreadsheet_is_refused(tmp_path):
    (tmp_path / "boards.xlsx").write_bytes(b"PK\x03\x04 torn")
    (error,) = errors_of(tmp_path, "boards.xlsx")
    assert "is no spreadsheet that can be read" in error


def test_moisture_in_a_cell_of_percent_is_percent(tmp_path):
    as_workbook(tmp_path, [*SETTINGS, ("board", "length", "width", "moisture"), ("x", 60, 5, 0.14)])
    book = openpyxl.load_workbook(tmp_path / "boards.xlsx")
    book.active["D5"].number_format = "0%"
    book.save(tmp_path / "boards.xlsx")
    assert stock_of(tmp_path, "boards.xlsx")[0].moisture_percent == pytest.approx(14)


def many(count: int) -> list[tuple]:
    heads = ("board", "length", "width", "holes", "rot")
    return [*SETTINGS, heads] + [
        (f"D-{n}", 84 + n % 9, 5, "3/16 every 12 from 6, 1 from each edge", "40 to 55 lower edge 2 deep")  # noqa: E501
        for n in range(count)
    ]  # fmt: skip


@pytest.mark.parametrize(("kind", "count"), [("csv", 200), ("xlsx", 500)])
def test_many_boards_are_read(tmp_path, kind, count):
    (as_csv if kind == "csv" else as_workbook)(tmp_path, many(count))
    stock = stock_of(tmp_path, f"boards.{kind}")
    assert len(stock) == count
    assert all(len(board.keep_outs) >= 13 for board in stock)


def test_cell_that_says_nothing_hides_nothing_that_is_wrong_with_other_boards(tmp_path):
    good = ["D-1", "6 ft", "5"]
    heads = ["board", "length", "width", "string"]
    rows = [*SETTINGS, heads, ["D-2", "", "", "0: 1 to/3"], ["D-3", "6 fx", "5"], good]
    as_csv(tmp_path, rows)
    first, second = errors_of(tmp_path, "boards.csv")
    assert "'0: 1 to/3' is no station" in first and "D-3: length: '6 fx' is no length" in second


def test_cells_merged_over_several_rows_are_refused_and_a_merged_heading_is_not(tmp_path):
    import openpyxl

    heads = ["board", "length", "width", "metal"]
    rows = [["# yard", "", "", ""], *SETTINGS, heads, ["D-1", "6 ft", "5", "3/16 at 12, 2 up"]]
    as_workbook(tmp_path, [*rows, ["D-2", "6 ft", "5", ""]])
    path = tmp_path / "boards.xlsx"
    book = openpyxl.load_workbook(path)
    book.active.merge_cells("A1:D1")
    book.save(path)
    assert len(stock_of(tmp_path, "boards.xlsx")) == 2
    last = len(rows) + 1
    book.active.merge_cells(f"D{last - 1}:D{last}")
    book.save(path)
    (found,) = errors_of(tmp_path, "boards.xlsx")
    assert f"the cells D{last - 1}:D{last} are merged" in found


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_board_that_its_number_sign_makes_a_remark_is_told(tmp_path, form):
    rows = [*SETTINGS, ("board", "length", "width"), ("D-1", 60, 5), ("#12", 72, 6)]
    (as_csv if form == "csv" else as_workbook)(tmp_path, rows)
    with pytest.raises(ProjectFileError) as caught:
        stock_of(tmp_path, f"boards.{form}")
    (found,) = caught.value.findings
    assert "'#12' makes this row a remark" in found.message
    assert "call the board 12, or begin a remark with # and a space" in found.message


@pytest.mark.parametrize("name", ["Total", "TOTAL:", "sum", "Sub-total", "average"])
def test_row_that_adds_others_up_is_no_board(tmp_path, name):
    heads = ("board", "species", "thickness", "length", "width")
    rows = [("unit", "in"), heads, ("D-1", "teak", "1", "72", "5"), (name, "teak", "1", "72", "5")]
    as_csv(tmp_path, rows)
    (told,) = errors_of(tmp_path, "boards.csv")
    assert "cell A5: " in told
    assert f"'{name}' is no board: a row that adds others up; take it out" in told


@pytest.mark.parametrize(
    "remark", [("# 12 went to the pile", 72, 6), ("#12 is rotten", None, None)]
)
def test_row_that_can_only_be_a_remark_is_passed_over(tmp_path, remark):
    as_csv(tmp_path, [*SETTINGS, ("board", "length", "width"), remark, ("D-1", 60, 5)])
    assert [board.name for board in stock_of(tmp_path, "boards.csv")] == ["D-1"]


@pytest.mark.parametrize(("given", "found"), [("14", 14.0), ("14 %", 14.0), ("0", 0.0), ("1", 1.0)])
def test_moisture_is_in_percent(tmp_path, given, found):
    as_csv(tmp_path, [*SETTINGS, ("board", "length", "width", "moisture"), ("D-1", 60, 5, given)])
    (board,) = stock_of(tmp_path, "boards.csv")
    assert board.moisture_percent == found


def test_moisture_as_a_fraction_is_told_and_fits_no_part_in_silence(tmp_path):
    as_csv(tmp_path, [*SETTINGS, ("board", "length", "width", "moisture"), ("D-1", 60, 5, "0.14")])
    with pytest.raises(ProjectFileError, match="is below 1 %; write it in percent"):
        stock_of(tmp_path, "boards.csv")


def hidden_sheet(book):
    book.create_sheet("Old").append(["unit", "in"])
    book["Old"].sheet_state = "hidden"


def hidden_row(book):
    book.active.row_dimensions[6].hidden = True


def hidden_column(book):
    book.active.column_dimensions.group("C", "D", hidden=True)


HIDDEN = {
    hidden_sheet: "sheet Old, cell A1: this sheet is hidden: show it, delete it, or say",
    hidden_row: "sheet Deck, cell A6: this row is hidden: show it, or delete it",
    hidden_column: "sheet Deck, cell C4: this column is hidden: show it, or delete it",
}


@pytest.mark.parametrize("hide", HIDDEN)
def test_what_a_spreadsheet_hides_is_refused_where_it_holds_anything(tmp_path, hide):
    heads = ["board", "length", "width", "metal"]
    boards = [["D-1", "6 ft", "5", ""], ["D-2", "6 ft", "5", ""]]
    as_workbook(tmp_path, [*SETTINGS, heads, *boards])
    path = tmp_path / "boards.xlsx"
    book = openpyxl.load_workbook(path)
    book.create_sheet("empty").sheet_state = "hidden"
    book.active.row_dimensions[40].hidden = True
    book.active.column_dimensions.group("X", "Z", hidden=True)
    book.save(path)
    assert len(stock_of(tmp_path, "boards.xlsx")) == 2
    hide(book)
    book.save(path)
    assert HIDDEN[hide] in errors_of(tmp_path, "boards.xlsx")[0]
    if hide is hidden_sheet:
        assert len(stock_of(tmp_path, "boards.xlsx", ", sheet: Deck")) == 2


@pytest.mark.parametrize("mark", ['"', "''", "\u201d", "do.", "Ditto", "as above"])
@pytest.mark.parametrize("head", ["member", "came from", "species", "width", "holes"])
def test_a_ditto_mark_is_refused_with_its_cell(tmp_path, mark, head):
    heads = ["board", "length", "width", "species", "member", "came from", "holes"]
    first = ["D-1", "6 ft", "5", "teak", "decking", "port", "none"]
    second = [mark if name == head else text for name, text in zip(heads, first, strict=True)]
    as_workbook(tmp_path, [*SETTINGS[:1], SETTINGS[2], heads, first, ["D-2", *second[1:]]])
    (error,) = errors_of(tmp_path, "boards.xlsx")
    cell = f"cell {'ABCDEFG'[heads.index(head)]}5: "
    assert cell in error and "stands for what is above it: write it out" in error


def changed(folder: Path, change) -> None:
    """Write two boards as a workbook, changed by hand."""
    heads = ["board", "length", "width", "metal"]
    boards = [["D-1", "6 ft", 5, ""], ["D-2", "6 ft", 5, ""]]
    as_workbook(folder, [*SETTINGS, heads, *boards])
    book = openpyxl.load_workbook(folder / "boards.xlsx")
    change(book.active)
    book.save(folder / "boards.xlsx")


def test_what_is_struck_through_is_refused_once_a_row(tmp_path):
    def strike(sheet):
        for cell in sheet[6]:
            cell.font = openpyxl.styles.Font(strike=True)

    changed(tmp_path, strike)
    (error,) = errors_of(tmp_path, "boards.xlsx")
    assert "sheet Deck, cell A6: this is struck through: delete it, or take the line off" in error


def test_a_share_is_no_length(tmp_path):
    def percent(sheet):
        sheet["C6"].value, sheet["C6"].number_format = 0.5, "0%"

    changed(tmp_path, percent)
    (error,) = errors_of(tmp_path, "boards.xlsx")
    assert "cell C6: " in error and "width: '50%' is no length" in error


@pytest.mark.parametrize("head", ["widht", "length"])
def test_a_head_that_is_wrong_is_told_once_whatever_stands_below_it(tmp_path, head):
    heads = ["board", "length", head, "metal"]
    as_workbook(tmp_path, [*SETTINGS, heads, ["D-1", "6 ft", 5, ""], ["D-2", "6 ft", 5, ""]])
    (error,) = errors_of(tmp_path, "boards.xlsx")
    assert "cell C4: " in error
