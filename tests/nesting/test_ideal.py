"""How far from ideal a plan may be, as a user reads it."""

import io
import json

import pytest
from rich.console import Console
from shapely.geometry import box

from nesting import cli
from nesting.accounts.account import account_for
from nesting.console import live_search, report
from nesting.engine.pack import pack
from nesting.engine.progress import Progress
from nesting.engine.stop import MaxRounds
from nesting.ideal import Ideal, Limit
from nesting.need import Need
from nesting.nest import CuttingPlan
from nesting.outline import Outline
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.units import Unit

NO_SAW = Rules(kerf_mm=0, trim_mm=0, cleaning_loss_mm=0)

PROJECT = """\
version: 1
name: Two strakes
unit: mm
rules: {kerf: 3, trim: 1}
stock:
  - {board: D-01, species: teak, thickness: 30, length: 2400, width: 120}
parts:
  - {part: strake, family: ceiling strake, species: teak, quantity: 2, value: 4,
     shape: {length: 1800, width: 90, thickness: 22, frame_spacing: 250}}
"""


def shown(*needs_and_boards, rounds=0):
    plan = pack(*needs_and_boards, NO_SAW, stop=MaxRounds(rounds))
    console = Console(file=io.StringIO(), width=400)
    console.print(report(plan, account_for(plan, NO_SAW), Unit.MM))
    return console.file.getvalue()


def strip(length, quantity=1):
    return Need("P", "any", Outline(box(0, 0, length, 100), 20), ("oak",), quantity)


def planks(*lengths):
    return [Board(f"A{i}", box(0, 0, x, 100), 30, "oak") for i, x in enumerate(lengths)]


def test_plan_that_meets_its_bounds_is_called_proven():
    assert "Proven: no plan places more value" in shown([strip(500)], planks(1000))


def test_report_says_how_much_wood_could_be_spared_at_most():
    text = shown([strip(500)], planks(1000, 600, 600))
    assert "Proven" in text
    cross = Outline(box(0, 30, 90, 60).union(box(30, 0, 60, 90)), 20, slope_of_grain=1000)
    text = shown([Need("P", "any", cross, ("oak",), 12)], planks(1000, 1000))
    assert "No plan places more value (no more parts are wanted)" in text
    assert "to place as much takes at least 0.10 m2 of opened wood; this plan opens 0.20 m2" in text
    assert "Whether any plan lies between is not known." in text


def test_summary_holds_the_bounds(tmp_path, capsys):
    path = tmp_path / "two.yaml"
    path.write_text(PROJECT)
    arguments = ["nest", str(path), "-o", str(tmp_path / "out"), "--rounds", "0", "--json"]
    assert cli.main(arguments) == cli.ALL_PLACED
    found = json.loads(capsys.readouterr().out)
    assert found["value_placed"] == 4
    assert found["ideal"] == {
        "most_value": pytest.approx(4, rel=1e-5),
        "limit": "the area of the wood that fits",
        "least_opened_mm2": pytest.approx(2400 * 120, rel=1e-4),
        "value_percent": pytest.approx(100, abs=1e-3),
        "spare_percent": pytest.approx(0, abs=1e-3),
        "proven_best": True,
    }


@pytest.mark.parametrize(
    ("ideal", "words"),
    [
        (Ideal(3, 4, Limit.AREA, 2e6, 1e6), "value 3 of at most 4 (the area of the wood that"),
        (Ideal(4, 4, Limit.AREA, 2e6, 1e6), "value 4, the most; wood 2.00 m2, at least 1.00"),
        (Ideal(4, 4, Limit.AREA, 2e6, 0.0), "value 4, the most; wood 2.00 m2, yield"),
    ],
    ids=["value", "wood", "wood not reckoned"],
)
def test_live_line_names_the_bound_that_limits_the_plan(ideal, words):
    console = Console(file=io.StringIO(), width=200, force_terminal=True)
    with live_search(console, is_shown=True) as show:
        show(Progress(20, 3, 4, 5e5, ideal, 0.5, 7.0))
    assert words in console.file.getvalue()
    assert "3 of 4 parts placed" in console.file.getvalue()


def test_percentages_are_never_rounded_up_to_the_ideal():
    plan = CuttingPlan((), ideal=Ideal(99.97, 100, Limit.AREA, 1e6, 1e6))
    console = Console(file=io.StringIO(), width=200)
    console.print(report(plan, account_for(plan, NO_SAW), Unit.MM))
    assert "At least 99.9 % of the most value possible is placed" in console.file.getvalue()


def test_nothing_asked_for_is_ideal():
    assert Ideal(0, 0, Limit.WANTED, 0, 0).is_proven_best


@pytest.mark.parametrize(
    ("ideal", "words", "not_said"),
    [
        (
            Ideal(3, 4, Limit.WANTED, 2e6, 0.0),
            "This plan opens 2.00 m2 of wood; how much it takes at the least was not reckoned in",
            "Proven",
        ),
        (Ideal(0, 4, Limit.WANTED, 0.0, 0.0), "No board is opened.", "Proven"),
        (Ideal(3, 4, Limit.WANTED, 2e6, 1e6), "takes at least 1.00 m2 of opened", "not reckoned"),
    ],
    ids=["not reckoned", "nothing opened", "reckoned"],
)
def test_report_calls_nothing_proven_that_was_not_reckoned(ideal, words, not_said):
    console = Console(file=io.StringIO(), width=400)
    plan = CuttingPlan((), ideal=ideal)
    console.print(report(plan, account_for(plan, NO_SAW), Unit.MM))
    assert words in console.file.getvalue()
    assert not_said not in console.file.getvalue()
