"""What the summary says of each placed part."""

from __future__ import annotations

import json
from dataclasses import replace

from sheet_nests import RULES, nest_of

from nesting.accounts.account import account_for
from nesting.nest import CuttingPlan, Nest
from nesting.outline import Bevel
from nesting.summary.of_plan import summary
from nesting.summary.read_plan import plan_from


def told(bevels: tuple[Bevel, ...], notes: tuple[str, ...]) -> tuple[CuttingPlan, str]:
    """Return a plan of one part with bevels and notes, and its summary as written."""
    nest = nest_of("tiny")
    (placement,) = nest.placements
    outline = replace(placement.need.outline, bevels=bevels)
    need = replace(placement.need, outline=outline, notes=notes)
    plan = CuttingPlan((Nest(nest.board, (replace(placement, need=need),)),), ())
    account = account_for(plan, RULES)
    return plan, json.dumps(
        summary(
            plan,
            account,
            project_name="Lake skiff",
            seed=0,
            files={"chip": "board-chip.dxf"},
            made={},
        )
    )


def test_a_placed_part_has_its_bevels_and_notes_in_the_summary() -> None:
    bevels = (Bevel("seat", 4.0, 2.4), Bevel("arm", -3.0, 0.0, along_mm=120.0, along_from="seat"))
    _, text = told(bevels, ("seal the ends",))
    (part,) = json.loads(text)["boards"][0]["parts"]
    assert part["notes"] == ["seal the ends"]
    assert [Bevel(**row) for row in part["bevels"]] == list(bevels)


def test_a_part_without_them_has_empty_lists() -> None:
    _, text = told((), ())
    (part,) = json.loads(text)["boards"][0]["parts"]
    assert (part["bevels"], part["notes"]) == ([], [])


def test_a_plan_is_read_back_from_a_summary_with_bevels() -> None:
    plan, text = told((Bevel("seat", 4.0, 2.4),), ("seal the ends",))
    needs = [placement.need for nest in plan.nests for placement in nest.placements]
    again, _ = plan_from(json.loads(text), needs, [nest.board for nest in plan.nests])
    assert again.nests == plan.nests
