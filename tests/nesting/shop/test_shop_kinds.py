"""Outputs beside the cut sheets: how they are asked for, called and kept."""

import json
import sys
import types

import pytest

from nesting import cli
from nesting.errors import ShapeError
from nesting.nest import Nest
from nesting.shop import makers
from nesting.shop.identity import plan_identity, sheet_identity
from nesting.shop.kinds import Output, Paper, outputs_named
from nesting.stock.board import Board

PROJECT = """\
version: 1
name: Shop
unit: mm
stock:
  - {board: A, species: teak, thickness: 30, length: 1200, width: 120}
parts:
  - {part: rail, family: plank, species: teak, shape: {length: 900, width: 70, thickness: 22}}
"""


def test_words_are_each_output_once():
    assert outputs_named("page, print,page") == (Output.PRINT, Output.PAGE)
    assert outputs_named("nothing") == ()
    with pytest.raises(ShapeError, match="'pages' is none of print, page, lists"):
        outputs_named("pages")


def test_sizes_of_paper_are_those_of_the_standards():
    # ISO 216: A4 210 x 297 mm, A3 297 x 420 mm; letter and tabloid in inches, from memory.
    assert Paper.A4.size_mm == (210.0, 297.0)
    assert Paper.A3.size_mm == (297.0, 420.0)
    assert Paper.LETTER.size_mm == pytest.approx((8.5 * 25.4, 11 * 25.4))
    assert Paper.TABLOID.size_mm == pytest.approx((11 * 25.4, 17 * 25.4))


def test_identity_goes_by_what_lies_on_a_board():
    one, other = (Nest(Board.rectangle("A", wide, 100, 30, "teak"), ()) for wide in (900, 901))
    assert sheet_identity(one) != sheet_identity(other)
    assert sheet_identity(one) == sheet_identity(
        Nest(Board.rectangle("A", 900, 100, 30, "teak"), ())
    )
    assert plan_identity([one, other]) != plan_identity([other, one])


@pytest.fixture
def page(monkeypatch):
    """An output that says which plan it is of."""
    module = types.ModuleType("page_of_a_test")
    module.made = lambda folio: [("page.html", f"{folio.job.name} {folio.paper}".encode())]
    monkeypatch.setitem(sys.modules, module.__name__, module)
    monkeypatch.setattr(makers, "MAKERS", {Output.PAGE: module.__name__})


def nest(folder, *more):
    project = folder.parent / "shop.yaml"
    project.write_text(PROJECT)
    return cli.main(["nest", str(project), "-o", str(folder), "--rounds", "0", "-q", *more])


def remeasure(folder):
    return cli.main(["remeasure", str(folder.parent / "shop.yaml"), "-o", str(folder)])


def test_output_is_written_and_stands_in_the_summary(page, tmp_path):
    folder = tmp_path / "out"
    assert nest(folder, "--write", "page", "--paper", "letter") == 0
    assert (folder / "page.html").read_text() == "Shop letter"
    assert list(json.loads((folder / "summary.json").read_text())["made"]) == ["page.html"]
    assert remeasure(folder) == 0


@pytest.mark.parametrize("change", ["another", "gone", "one more"])
def test_changed_output_is_found(page, tmp_path, capsys, change):
    folder = tmp_path / "out"
    nest(folder, "--write", "page")
    if change == "another":
        (folder / "page.html").write_text("Shop A5")
    elif change == "gone":
        (folder / "page.html").unlink()
    else:
        (folder / "sheets.pdf").write_text("old")
    assert remeasure(folder) != 0
    told = capsys.readouterr()
    assert ("sheets.pdf" if change == "one more" else "page.html") in told.out + told.err


def test_next_plan_takes_an_output_away_that_it_does_not_write(page, tmp_path):
    folder = tmp_path / "out"
    nest(folder, "--write", "page")
    assert nest(folder, "--write", "nothing", "--overwrite") == 0
    assert not (folder / "page.html").exists()


def test_page_of_somebody_else_is_refused_before_the_search(page, tmp_path, monkeypatch, capsys):
    folder = tmp_path / "out"
    folder.mkdir()
    (folder / "page.html").write_text("mine")
    monkeypatch.setattr("nesting.engine.pack.pack", lambda *_, **__: pytest.fail("searched"))
    assert nest(folder, "--write", "page", "--overwrite") == cli.NO_FILE
    assert "no plan in that folder says that it wrote it" in capsys.readouterr().err
    assert (folder / "page.html").read_text() == "mine"


@pytest.mark.as_shipped
def test_shop_gets_sheets_page_and_lists_if_nothing_is_said(tmp_path):
    assert nest(tmp_path / "out") == 0
    made = json.loads((tmp_path / "out" / "summary.json").read_text())["made"]
    assert {"sheets.pdf", "page.html", "lists.pdf", "list-parts.csv"} <= set(made)
    assert remeasure(tmp_path / "out") == 0
