"""A small plan with everything on it, written in any unit and form: for those who change it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import pytest
from sheet_nests import PROJECT, RULES, rectangle, tiny, two_parts, waney

from nesting.accounts.account import account_for
from nesting.ideal import Ideal, Limit
from nesting.left_over import Cure, Outlook, Prospect, Remedy
from nesting.need import Misfit, Need
from nesting.nest import CuttingPlan, Nest, Unplaced
from nesting.outline import Bevel, Outline
from nesting.outputs import write_outputs
from nesting.project import Project
from nesting.read_back import remeasure
from nesting.sheets.dxf_terms import Version
from nesting.sheets_kept import key_of
from nesting.units import Unit

FORMS: tuple[tuple[Unit, Version], ...] = (
    (Unit.MM, "R2010"),
    (Unit.INCH, "R12"),
    (Unit.FOOT, "R2010"),
    (Unit.MM, "R12"),
)


@dataclass(frozen=True)
class Form:
    """A project, and a plan of it."""

    project: Project
    plan: CuttingPlan


@cache
def nests() -> tuple[Nest, ...]:
    """A waney plank with every kind of keep-out, a deck board with an inner cut, a chip."""
    plank = waney()
    floor, first, second = plank.placements
    outline = replace(floor.need.outline, bevels=(Bevel("lower edge", 4.0, 2.4),))
    need = replace(floor.need, outline=outline, notes=("seal the ends",))
    floor = replace(floor, need=need)
    return (
        Nest(plank.board, (floor, replace(first, x_mm=1752.0), second)),
        two_parts(),
        tiny(),
    )


def left_over() -> Need:
    return Need("keelson", "floor", Outline(rectangle(3000, 180), 60), ("larch", "oak"), 2)


@cache
def form(unit: Unit, version: Version, *, is_whole: bool = True) -> Form:
    """Return a project of the given unit and DXF version with its plan; else without the plank."""
    boards = nests() if is_whole else nests()[1:]
    placed = {p.need.part: p.need for nest in boards for p in nest.placements}
    needs = (*placed.values(), left_over())
    project = Project(
        Path("project.yaml"), PROJECT, unit, RULES,
        tuple(nest.board for nest in boards), needs, {}, dxf_version=version,
    )  # fmt: skip
    remedies = (Remedy(Cure.THINNER, "S-3", 25.5), Remedy(Cure.WOOD, "deck-07", what="teak"))
    prospect = Prospect(Outlook.TAKEN, ("S-3", "chip"), remedies, lacks_mm=22.0)
    left = Unplaced(left_over(), 2, Misfit.TOO_THIN, prospect)
    plan = CuttingPlan(boards, (left,))
    ideal = Ideal(plan.placed_value, plan.placed_value + 7.5, Limit.AREA, plan.opened_mm2, 8e5)
    return Form(project, replace(plan, ideal=ideal))


def write(made: Form, folder: Path) -> Path:
    """Write a plan into a folder and return it."""
    account = account_for(made.plan, made.project.rules)
    write_outputs(made.project, made.plan, account, folder, seed=3)
    return folder


def remembered(function, key):
    """Return a function that answers from memory where what it goes by is the same."""
    answers = {}

    def asked(*given, **more):
        found = key(*given, **more)
        if found not in answers:
            answers[found] = function(*given, **more)
        return answers[found]

    return asked


def lying(nest):
    return nest.board.name, tuple(
        (repr(p.need.part), p.x_mm, p.y_mm, p.angle_deg, p.is_turned_over, p.copy)
        for p in nest.placements
    )


def kept(account):
    return tuple((o.x_mm, o.y_mm, o.length_mm, o.width_mm) for o in account.offcuts)


def sawn(cuts):
    return tuple(map(repr, cuts))


def drawn_once() -> Iterator[None]:
    """Let ``remeasure`` draw the same sheet only once, and read the same file only once."""

    def sheet_key(project, nest, path, stated, scrap, account):
        rectangles, cuts = stated
        content = path.read_bytes() if path.is_file() else None
        how = project.unit, lying(nest), tuple(rectangles), sawn(cuts), scrap
        return content, how, account and (kept(account), sawn(account.break_down.cuts))

    def drawing_key(nest, account, *_, unit, **__):
        return unit, lying(nest), kept(account), sawn(account.break_down.cuts)

    def overview_key(plan, accounts, *, seed, unit, **_):
        nests = tuple(map(lying, plan.nests)), tuple(map(kept, accounts))
        return unit, nests, repr(seed), key_of(plan.unplaced), repr(plan.ideal)

    with pytest.MonkeyPatch.context() as patch:
        for name, key in {
            "_sheet": sheet_key,
            "_account": lambda nest, rectangles, cuts, rules: (
                lying(nest),
                tuple(rectangles),
                sawn(cuts),
            ),
            "cut_sheet": drawing_key,
            "overview": overview_key,
            "read_written": lambda path: path.read_bytes(),
        }.items():
            patch.setattr(remeasure, name, remembered(getattr(remeasure, name), key))
        yield
