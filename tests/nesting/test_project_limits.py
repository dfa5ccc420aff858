"""Sizes, counts and truths that no project has, each refused in a sentence with its place."""

import pytest
from project_texts import BOARD, HEAD, PART, findings_of, only_blocks, project_text, written

from nesting import cli
from nesting.errors import ProjectFileError
from nesting.project import read_project
from nesting.project.entry import MOST_FINDINGS
from nesting.project.limits import MOST
from nesting.yaml_file.composer import compose

STOCK_FILE = "unit: mm\nboards:\n" + BOARD + BOARD.replace("D-01", "D-02")


@pytest.fixture(autouse=True)
def _families(monkeypatch):
    monkeypatch.setattr("nesting.project.own_families.known_families", only_blocks)


def _wrong(folder, **texts) -> list[str]:
    return findings_of(written(folder, project_text(**texts)))


@pytest.mark.parametrize("again", ["stock.yaml", "./stock.yaml", "link.yaml"])
def test_stock_file_listed_twice_names_both_lines_of_the_project(tmp_path, again):
    written(tmp_path, STOCK_FILE, "stock.yaml")
    (tmp_path / "link.yaml").symlink_to("stock.yaml")
    found = _wrong(tmp_path, stock=f"  - {{file: stock.yaml}}\n  - {{file: {again}}}\n")
    assert found == [
        f"6:12: stock: file: {again} is in the stock already, at {tmp_path}/project.yaml:5; its "
        "boards are there once: leave this out"
    ]


@pytest.mark.parametrize("truth", ["true", "false"])
@pytest.mark.parametrize(
    ("key", "texts"),
    [
        ("quantity", {"parts": PART.replace("}\n", ", quantity: TRUTH}\n")}),
        ("value", {"parts": PART.replace("}\n", ", value: TRUTH}\n")}),
        ("moisture", {"parts": PART.replace("}\n", ", moisture: [TRUTH, 12]}\n")}),
        ("plugs_per_metre", {"parts": PART.replace("}\n", ", plugs_per_metre: TRUTH}\n")}),
        ("length", {"parts": PART.replace("300", "TRUTH")}),
        ("count", {"stock": BOARD.replace("}", ", count: TRUTH}")}),
        ("resaw", {"stock": BOARD.replace("}", ", resaw: TRUTH}")}),
        ("moisture", {"stock": BOARD.replace("}", ", moisture: TRUTH}")}),
        ("version", {"head": HEAD.replace("1", "TRUTH")}),
        ("plugs", {"rest": "rules: {plugs: [TRUTH]}\n"}),
    ],
)
def test_true_is_no_number(tmp_path, key, texts, truth):
    found = _wrong(tmp_path, **{name: text.replace("TRUTH", truth) for name, text in texts.items()})
    assert any(f"{key}" in one and f"{truth} is no" in one.casefold() for one in found), found


@pytest.mark.parametrize("given", ["nan", ".nan", "inf", "-inf", "1e999", "'NaN'"])
def test_what_is_no_number_is_no_value(tmp_path, given):
    (found,) = _wrong(tmp_path, parts=PART.replace("}\n", f", value: {given}}}\n"))
    assert "part pad: value: " in found
    assert found.endswith(("is no number", "is not allowed, must be at least 0"))


@pytest.mark.parametrize("digits", [61, 400, 3000])
def test_length_of_many_digits_is_told_short(tmp_path, digits):
    (found,) = _wrong(tmp_path, stock=BOARD.replace("2000", "9" * digits))
    assert "length: '999" in found
    assert f"is no length: {digits} characters, at most 60; write for example 2.4 m" in found
    assert len(found) < 250


@pytest.mark.parametrize("given", ["0.001", "0.099"])
def test_size_that_no_saw_makes_is_refused(tmp_path, given):
    (found,) = _wrong(tmp_path, parts=PART.replace("60", given))
    assert found.endswith(f"width: {given} is {given} mm, below 0.1 mm: is the unit right?")


def test_part_narrower_than_a_saw_cut_is_refused(tmp_path):
    (found,) = _wrong(tmp_path, parts=PART.replace("60", "2.9"))
    assert found.endswith(
        "shape: the piece comes out 300 x 2.9 mm; it must be 3 mm or more each way: is the unit "
        "right?"
    )


def test_plank_narrower_than_any_board_is_refused(tmp_path, capsys):
    path = written(tmp_path, project_text())
    assert cli.main(["plank", str(path), "--width", "0.001", "-o", str(tmp_path)]) == cli.USAGE
    assert "--width 0.001 is 0.001 mm, must be 10 mm or more" in capsys.readouterr().err


def test_plank_wider_than_any_that_is_sold_is_refused_with_the_unit_it_was_read_in(
    tmp_path, capsys
):
    stock = BOARD.replace("40, length: 2000, width: 150", "1, length: 60, width: 6")
    parts = PART.replace("25, length: 300, width: 60", "3/4, length: 12, width: 2")
    text = project_text(head=HEAD.replace("mm", "in"), stock=stock, parts=parts)
    path = written(tmp_path, text)
    assert cli.main(["plank", str(path), "--width", "200", "-o", str(tmp_path)]) == cli.USAGE
    said = capsys.readouterr().err
    assert "--width 200 is 200 in, and no plank or sheet is sold wider than 49 3/16 in" in said
    assert "A bare number is read as in: write another unit behind it" in said


def test_more_boards_than_a_yard_has_end_the_reading(tmp_path):
    stock = "".join(BOARD.replace("D-01", f"D{i}").replace("}", ", count: 500}") for i in range(99))
    (found,) = _wrong(tmp_path, stock=stock)
    line = 5 + MOST["boards"] // 500
    assert found.startswith(
        f"{line}:5: board D20: with this the project has 10,500 boards, at most"
    )


def test_more_pieces_than_a_boat_has_end_the_reading(tmp_path):
    parts = "".join(
        PART.replace("pad", f"pad {i}").replace("}\n", ", quantity: 9000}\n") for i in range(9)
    )
    (found,) = _wrong(tmp_path, parts=parts)
    assert found.startswith("9:5: part pad 2: with this the project has 27,000 pieces, at most 20,")


def test_more_keep_outs_than_can_be_kept_clear_of_end_the_reading(tmp_path):
    row = "{kind: metal, diameter: 3, row: {from: [1, 5], to: [1999, 5], count: 1000}}"
    board = BOARD.replace("}", f", count: 100, keep_outs: [{row}]}}")
    (found,) = _wrong(tmp_path, stock=board)
    assert "board D-01: with this the project has 100,000 keep-outs, at most 50,000" in found


def test_list_without_end_is_refused_soon(monkeypatch):
    monkeypatch.setattr("nesting.yaml_file.composer.MOST_ENTRIES", 4_000)
    with pytest.raises(ProjectFileError, match=r"p:1:\d+: more than 4,000 entries down to here"):
        compose("p", f"a: [{'1,' * 9_000_000}]")


def test_slip_in_every_line_is_told_some_hundred_times(tmp_path, capsys):
    stock = "".join(BOARD.replace("D-01", f"D{i}").replace("teak", "teek") for i in range(2000))
    path = written(tmp_path, project_text(stock=stock))
    assert cli.main(["check", str(path)]) == cli.PROJECT_WRONG
    told = capsys.readouterr().err.splitlines()
    assert told[0] == "salvage-nest: 300 things and more to put right; nothing was written"
    assert len(told) == 1 + MOST_FINDINGS


def test_project_of_the_largest_sizes_is_read(tmp_path):
    stock = "".join(BOARD.replace("D-01", f"D{i}").replace("}", ", count: 500}") for i in range(20))
    parts = PART.replace("}\n", ", quantity: 10000}\n")
    assert (
        len(read_project(written(tmp_path, project_text(stock=stock, parts=parts))).stock) == 10_000
    )
