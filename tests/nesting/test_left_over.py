"""What is told of parts left over, wherever it is shown, and read back."""

import io
import json
import re

import pytest
from rich.console import Console
from sheet_nests import nest_of

from nesting.accounts.account import account_for
from nesting.accounts.left_over_words import told
from nesting.commands.nest import _tell_no_time
from nesting.console import report
from nesting.left_over import Cure, Outlook, Prospect, Remedy
from nesting.need import Misfit
from nesting.nest import CuttingPlan, Unplaced
from nesting.rules import Rules
from nesting.sheets import overview
from nesting.sheets.drawing import Role, Text
from nesting.summary.of_plan import summary
from nesting.summary.read_plan import plan_from
from nesting.units import Unit, parse_length

NEED = nest_of("slender").placements[0].need
PROSPECT = Prospect(
    Outlook.TAKEN,
    ("D-07", "D-09"),
    (Remedy(Cure.THINNER, "D-07", 3.175), Remedy(Cure.WOOD, "K-1", what="teak")),
)
PLAN = CuttingPlan((), (Unplaced(NEED, 2, Misfit.NO_ROOM, PROSPECT),))


def written(plan):
    account = account_for(plan, Rules())
    text = json.dumps(summary(plan, account, project_name="Any", seed=0, files={}, made={}))
    return json.loads(text)


@pytest.mark.parametrize("outlook", [None, *Outlook])
def test_prospect_is_read_back_from_the_summary(outlook):
    prospect = Prospect(outlook, PROSPECT.room_on, PROSPECT.remedies, lacks_mm=2.5)
    plan = CuttingPlan((), (Unplaced(NEED, 2, Misfit.NO_ROOM, prospect),))
    assert plan_from(written(plan), [NEED], [])[0].unplaced == plan.unplaced


def test_summary_written_before_prospects_were_is_still_read():
    found = written(PLAN)
    for name in ("outlook", "room_on", "lacks_mm", "would_help"):
        del found["unplaced"][0][name]
    (left,) = plan_from(found, [NEED], [])[0].unplaced
    assert (left.reason, left.prospect) == (Misfit.NO_ROOM, Prospect())


def test_report_and_overview_tell_the_same_in_the_unit_of_the_project():
    sentences = told(PROSPECT, Unit.INCH)
    assert sentences == (
        "there is room on D-07 and D-09 while nothing else lies there: more time may help",
        "board D-07, as it lies, would hold it if it were 1/8 in thinner",
        "board K-1, as it lies, would hold it if it took teak",
    )
    screen = io.StringIO()
    Console(file=screen, width=200).print(report(PLAN, account_for(PLAN, Rules()), Unit.INCH))
    drawn = overview(PLAN, [], project_name="Any", unit=Unit.INCH)
    lettering = " ".join(
        e.text for e in drawn.entities if isinstance(e, Text) and e.role is Role.TABLE
    )
    for sentence in sentences:
        assert sentence in screen.getvalue()
        assert sentence in lettering


@pytest.mark.parametrize("unit", Unit)
@pytest.mark.parametrize("cure", [Cure.THINNER, Cure.SIZES, Cure.SHORTER, Cure.NARROWER])
@pytest.mark.parametrize("mm", [0.004, 0.3, 1.71, 20.44, 24.32, 99.96, 100.4, 333.3])
def test_length_that_would_cure_is_told_as_enough_and_little_more(unit, cure, mm):
    prospect = Prospect(Outlook.NEVER, remedies=(Remedy(cure, "D-07", mm),), lacks_mm=mm)
    figure = rf"[\d ./]+ (?:ft[\d ./]+)?(?:{unit.value}|in)\b"
    lack, cured = re.findall(figure, "; ".join(told(prospect, unit)))
    for given in (lack, cured):
        assert mm - 1e-6 <= parse_length(given) < mm + 25.4 / 16


def test_distance_of_bungs_from_edges_is_told_as_it_was_set():
    prospect = Prospect(Outlook.NEVER, remedies=(Remedy(Cure.EDGES, "D-07", 5.08),))
    assert any("nearer to its edges than 0.200 in" in text for text in told(prospect, Unit.INCH))


@pytest.mark.parametrize(("run", "left"), [(10.0, 81), (8.0, 74), (4.0, 46)])
def test_steeper_grain_is_told_with_the_strength_that_it_leaves_at_the_most(run, left):
    # Table 5-12 of the Wood Handbook at 1 in 10, between its lines, and Hankinson's formula:
    # 0.1 / (sin^1.5 + 0.1 cos^1.5) of 14.04 degrees is 0.4651.
    prospect = Prospect(Outlook.NEVER, remedies=(Remedy(Cure.SLOPE, "D-07", run),))
    cured = f"1 in {run:g}, which leaves it {left} % of straight-grained bending strength"
    assert any(cured in text for text in told(prospect, Unit.INCH))


def test_flaw_in_the_way_is_told_by_its_word():
    prospect = Prospect(Outlook.NEVER, remedies=(Remedy(Cure.FLAW, "D-07", what="worn edges"),))
    assert told(prospect, Unit.MM)[-1].endswith("would hold it were it not for worn edges")


def test_what_nobody_looked_at_is_not_spoken_of():
    assert told(Prospect(), Unit.MM) == ()


def test_more_seconds_are_promised_to_no_piece_that_fits_nowhere(capsys):
    left = (
        Unplaced(NEED, 3, Misfit.NO_ROOM),
        Unplaced(NEED, 40, Misfit.TOO_LONG),
        Unplaced(NEED, 500, Misfit.NO_CLEAR_WOOD),
    )
    _tell_no_time(CuttingPlan((), left))
    said = capsys.readouterr().err
    assert "the time was over before all was tried for 3 pieces left over" in said
    _tell_no_time(CuttingPlan((), left[1:]))
    assert capsys.readouterr().err == ""
