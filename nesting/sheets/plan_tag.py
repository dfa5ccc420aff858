"""What an overview carries unseen of its plan: figures that can be measured from no sheet.

The summary states them too, and each keeps the other honest.
"""

from __future__ import annotations

import hashlib
import json

from nesting.left_over import Prospect
from nesting.nest import CuttingPlan, Unplaced
from nesting.sheets.drawing import Tag

SUBJECT = "plan"


def plan_tag(plan: CuttingPlan, seed: int) -> Tag:
    """Return seed, bounds, and a digest of what is said of the parts left over."""
    fields = [("seed", str(seed))]
    if plan.ideal is not None:
        fields += [
            ("most_value", repr(float(plan.ideal.most_value))),
            ("limit", plan.ideal.limit.value),
            ("least_opened_mm2", repr(float(plan.ideal.least_opened_mm2))),
        ]
    fields.append(("left_over", _digest(plan.unplaced)))
    return Tag(SUBJECT, tuple(fields))


def _digest(unplaced: tuple[Unplaced, ...]) -> str:
    said = [
        (left.need.part, left.count, left.reason.value, _said(left.prospect)) for left in unplaced
    ]
    return hashlib.sha256(json.dumps(said).encode()).hexdigest()


def _said(prospect: Prospect) -> list[object]:
    """Return what was found out as plain data; a whole figure is the same as one with a point."""
    remedies = [
        (remedy.cure.value, remedy.board, _figure(remedy.amount), remedy.what)
        for remedy in prospect.remedies
    ]
    lacks = _figure(prospect.lacks_mm)
    wishes = [list(prospect.wishes)] if prospect.wishes else []
    return [prospect.outlook, list(prospect.room_on), remedies, lacks, *wishes]


def _figure(value: float | None) -> float | None:
    return None if value is None else float(value)
