"""What a project does not say is taken from usual values: each tells a reader where it is from."""

import re

import pytest

from nesting.accounts.account import account_board
from nesting.nest import Nest
from nesting.outline import Outline
from nesting.project import project_schema, read_project
from nesting.project.rules_entry import RulesEntry
from nesting.rules import USUAL_SOURCES, Rules, usual_rules
from nesting.sheets.title import shares_and_rules
from nesting.units import Unit
from nesting.written_measures import exact_denominator
from parts.describe import family_page
from parts.registry import families, fitted_families
from parts.wood.cross_grain import strength_left

SOURCED = re.compile(r"common practice, no source|from memory|Wood Handbook|underwriters, 1866")

NO_TRADE_FACT = {
    "angle_deg",  # square
    "piece",  # the first
}
"""Defaults that are no figure of the trade."""

KINDS = [*families().items(), *fitted_families().items()]


def _usual(kind):
    """Yield the fields of a family that fall back on a figure."""
    for name, field in kind.model_fields.items():
        default = field.get_default(call_default_factory=True)
        is_figure = isinstance(default, int | float) and not isinstance(default, bool)
        if (is_figure and default and name not in NO_TRADE_FACT) or (
            name in ("limber_height_mm", "hollow_radius_mm")
        ):
            yield name.removesuffix("_mm").removesuffix("_deg").removesuffix("_percent")


@pytest.mark.parametrize(("name", "kind"), KINDS, ids=[kind.__name__ for _, kind in KINDS])
def test_help_says_where_each_figure_that_is_not_given_comes_from(name, kind):
    page = family_page(name)
    for field in _usual(kind):
        rows = re.findall(rf"^  {field}  .*$", page, flags=re.MULTILINE)
        assert rows
        for row in rows:
            if "must be given" not in row:
                assert SOURCED.search(row), row


@pytest.mark.parametrize(("name", "kind"), KINDS, ids=[kind.__name__ for _, kind in KINDS])
def test_schema_says_so_too(name, kind):
    properties = project_schema()["$defs"][kind.__name__]["properties"]
    for field in _usual(kind):
        assert SOURCED.search(properties[field]["description"]), field


def test_every_rule_that_is_not_given_has_its_source_in_the_schema():
    properties = project_schema()["$defs"]["RulesEntry"]["properties"]
    assert set(properties) == {field.alias for field in RulesEntry.model_fields.values()}
    for name, rule in properties.items():
        assert "if not given" in rule["description"], name
        assert SOURCED.search(rule["description"]), name


def test_every_rule_has_its_source_beside_it():
    assert set(USUAL_SOURCES) == set(Rules.__dataclass_fields__)


def test_kerf_is_told_as_the_trade_measures_it():
    said = project_schema()["$defs"]["RulesEntry"]["properties"]["kerf"]["description"]
    assert "bandsaw 0.6 to 1.1" in said
    assert "circular saw 2.4 to 3.2" in said
    assert 2.4 <= Rules().kerf_mm <= 3.2, "the usual kerf is a circular saw's"


def test_slope_of_1_in_12_is_the_usual_one_everywhere_and_leaves_what_is_said_of_it():
    slopes = {
        kind.model_fields["slope_of_grain"].default
        for _, kind in KINDS
        if "slope_of_grain" in kind.model_fields
    }
    assert slopes == {12.0, Outline.__dataclass_fields__["slope_of_grain"].default}
    # Between 1 in 15, 89 %, and 1 in 10, 81 % (Wood Handbook FPL-GTR-282, Table 5-12).
    assert strength_left(12).bending == pytest.approx(0.85, abs=0.001)
    for name in {*families(), *fitted_families()}:
        assert not re.search(r"slope_of_grain.*; 12 if left out", family_page(name))


def test_limber_is_half_as_high_as_wide_like_those_of_the_rules_of_1866():
    # Limber holes 1 3/4 x 3 1/2 in in vessels of 300 tons, in proportion for others: Rules for
    # the construction of vessels, Great Lakes underwriters, 1866, solid floors.
    page = family_page("floor timber")
    assert "half their width" in page
    assert "underwriters, 1866" in page


@pytest.mark.parametrize("folder", ["nesting", "parts", "demo_projects"])
def test_practice_is_always_told_to_have_no_source(folder, pytestconfig):
    """Nobody is left to think that a rule of thumb stands in a book."""
    for path in (pytestconfig.rootpath / folder).rglob("*"):
        if path.suffix in (".py", ".md", ".yaml"):
            text = " ".join(path.read_text(encoding="utf-8").split())
            assert not re.search(r"\(practice\)|common practice(?!, no source)", text), path


INCHES = """
version: 1
name: stool
unit: {unit}
rules: {rules}
stock: [{{board: A, species: teak, thickness: 1 3/8 in, length: 60 in, width: 5 in}}]
parts:
  - part: seat
    family: plank
    species: teak
    shape: {{length: 20 in, width: 3 in, thickness: 1/2 in}}
"""


@pytest.mark.parametrize("unit", ["in", "ft"])
def test_usual_rules_of_a_project_in_inches_stand_on_its_sheets_in_fractions(unit, tmp_path):
    project = _read(tmp_path, INCHES.format(unit=unit, rules="{}"))
    nest = Nest(project.stock[0], ())
    account = account_board(nest, project.rules)
    (said,) = [
        line
        for line in shares_and_rules(nest, account, project.rules, project.unit)
        if line.startswith("Kerf")
    ]
    assert said == "Kerf 1/8 in, trim 1/16 in, clear of metal 1/4 in"


def test_usual_rules_in_inches_are_on_the_safe_side_and_give_way_to_what_is_given(tmp_path):
    usual, inches = usual_rules(Unit.MM), usual_rules(Unit.INCH)
    for name in ("kerf_mm", "trim_mm", "blade_clearance_mm", "cleaning_loss_mm"):
        assert 0 <= getattr(inches, name) - getattr(usual, name) < 0.5
        assert exact_denominator(getattr(inches, name)) <= 16
    given = _read(tmp_path, INCHES.format(unit="in", rules="{kerf: 2 mm, trim: 0}"))
    assert (given.rules.kerf_mm, given.rules.trim_mm) == (2.0, 0.0)
    assert given.rules.blade_clearance_mm == inches.blade_clearance_mm
    metric = _read(tmp_path, INCHES.format(unit="mm", rules="{}"))
    assert metric.rules == usual
    said = project_schema()["$defs"]["RulesEntry"]["properties"]["kerf"]["description"]
    assert "3 mm, where the unit is in or ft 1/8 in, if not given" in said


def _read(folder, text):
    (folder / "stool.yaml").write_text(text)
    return read_project(folder / "stool.yaml")
