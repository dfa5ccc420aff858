"""Tables of boards that a program or a hand spoilt: every row read, or refused with its cell."""

import zipfile

import openpyxl
import pytest
from openpyxl.styles import Font
from openpyxl.worksheet.formula import ArrayFormula, DataTableFormula

from nesting.errors import ProjectFileError
from nesting.project.board_table import read_board_tables
from parts.lines.read_table import read_texts

HEAD = "unit, mm\nboard, species, thickness, length, width, note\n"
ROWS = (
    ["unit", "mm"],
    ["board", "species", "thickness", "length", "width"],
    ["A", "teak", 24, 900, 100],
    ["B", "teak", 24, 950, 100],
)


def boards(path):
    """Return names and lengths of all boards in a table, or what is wrong, as one text."""
    try:
        (table,) = read_board_tables(path)
    except ProjectFileError as error:
        return str(error)
    if table.grid.findings:
        return "\n".join(map(str, table.grid.findings))
    return [(row["board"], row.get("length")) for row in table.data["boards"]]


def csv_table(tmp_path, text):
    path = tmp_path / "boards.csv"
    path.write_bytes(text.encode())
    return path


@pytest.mark.parametrize(
    "rows",
    [
        'A, teak, 24, 900, 100, "n\nB, teak, 24, 950, 100, n\n',
        'A, teak, 24, 900, 100, "n\nB, teak, 24, 950, 100, "m"\n',
        'A, teak, 24, 900, 100, "n" wide\nB, teak, 24, 950, 100, n\n',
    ],
)
def test_quote_that_is_not_closed_swallows_no_board(tmp_path, rows):
    said = boards(csv_table(tmp_path, HEAD + rows))
    assert "boards.csv:3:1: cell A3: a quote is not closed in this row" in said


def test_quotes_that_are_closed_are_read(tmp_path):
    rows = 'A, teak, 24, 900, 100, "5"" wide, ""sound"""\nB, teak, 24, 950, 100, 5" nails\n'
    assert boards(csv_table(tmp_path, HEAD + rows)) == [("A", 900), ("B", 950)]


@pytest.mark.parametrize("letter", "\v\f\x1c\x1d\x1e\x85\u2028\u2029")
def test_letter_that_some_take_for_a_line_break_tears_no_row(tmp_path, letter):
    rows = f"A, teak, 24, 900, 100, nice{letter}# and more\nB, teak, 24, 950, 100, n\n"
    said = boards(csv_table(tmp_path, HEAD + rows))
    assert "boards.csv:3:6: cell F3: " in said and "which nobody sees" in said


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
def test_lines_end_as_any_system_ends_them(tmp_path, ends):
    text = HEAD + "A, teak, 24, 900, 100, n\nB, teak, 24, 950, 100, n\n"
    assert boards(csv_table(tmp_path, text.replace("\n", ends))) == [("A", 900), ("B", 950)]


@pytest.mark.parametrize("letter", "\f\u2028")
def test_letter_that_nobody_sees_is_told_in_a_table_of_offsets(tmp_path, letter):
    path = tmp_path / "lines.csv"
    path.write_text(f"name, Example{letter}\nunit, ft\n", encoding="utf-8")
    assert any("stands in this line" in one.message for one in read_texts(path).findings)


def test_quote_that_is_not_closed_is_told_in_a_table_of_offsets(tmp_path):
    path = tmp_path / "lines.csv"
    path.write_text('name, "Example\nunit, ft\nstation, 1, 2\n', encoding="utf-8")
    assert any("a quote is not closed" in one.message for one in read_texts(path).findings)


def workbook(tmp_path, change=lambda sheet: None, spoilt=lambda text: text):
    """Return the path of a spreadsheet, changed by way of the library, then in its XML."""
    book, path = openpyxl.Workbook(), tmp_path / "boards.xlsx"
    for row in ROWS:
        book.active.append(row)
    change(book.active)
    book.save(path)
    part = "xl/worksheets/sheet1.xml"
    with zipfile.ZipFile(path) as packed:
        parts = {name: packed.read(name) for name in packed.namelist()}
    parts[part] = spoilt(parts[part].decode()).encode()
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in parts.items():
            packed.writestr(name, content)
    return path


def test_sound_spreadsheet_is_read(tmp_path):
    assert boards(workbook(tmp_path)) == [("A", 900), ("B", 950)]


@pytest.mark.parametrize(
    "formula",
    [ArrayFormula("D3:D3", "=900"), DataTableFormula(ref="D3:D4", dt2D=False, r1="A1")],
    ids=["array", "table"],
)
def test_formula_for_several_cells_is_what_it_came_to(tmp_path, formula):
    def change(sheet):
        sheet["D3"] = formula

    assert "cell D3: this formula was never reckoned" in boards(workbook(tmp_path, change))
    reckoned = workbook(tmp_path, change, lambda text: text.replace("<v />", "<v>875</v>", 1))
    assert boards(reckoned) == [("A", 875), ("B", 950)]


@pytest.mark.parametrize("reference", ["A1:XFD1048576", "G1:G1048576", "XFD1048576:A1"])
@pytest.mark.parametrize("kind", ["mergeCell", "hyperlink"])
def test_range_without_end_is_refused_at_once(tmp_path, kind, reference):
    def spoilt(text):
        added = f'<{kind}s><{kind} ref="{reference}"/></{kind}s>'
        return text.replace("</sheetData>", f"</sheetData>{added}")

    said = boards(workbook(tmp_path, spoilt=spoilt))
    assert "sheet1.xml: merged cells and links" in said and "120,000 cells" in said


def test_cell_that_is_written_twice_is_told(tmp_path):
    row = '<row r="3"><c r="A3" t="inlineStr"><is><t>Z</t></is></c></row></sheetData>'
    said = boards(workbook(tmp_path, spoilt=lambda text: text.replace("</sheetData>", row)))
    assert "sheet1.xml: the cell 'A3' is written twice" in said


def test_entities_of_a_spreadsheet_are_refused(tmp_path):
    declared = '<!DOCTYPE x [<!ENTITY a "aaaa">]><worksheet'
    said = boards(workbook(tmp_path, spoilt=lambda text: text.replace("<worksheet", declared, 1)))
    assert "declares entities" in said


@pytest.mark.parametrize("place", ["CZ3", "XFD3", "A20000", "A1048576"])
def test_colours_far_off_hold_nothing(tmp_path, place):
    def change(sheet):
        sheet[place].font = Font(bold=True)

    assert boards(workbook(tmp_path, change)) == [("A", 900), ("B", 950)]


@pytest.mark.parametrize("place", ["CZ3", "A20000"])
def test_words_far_off_are_told(tmp_path, place):
    def change(sheet):
        sheet[place] = "x"

    assert "more than 12,000 rows or 100 columns" in boards(workbook(tmp_path, change))
