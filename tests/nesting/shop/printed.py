"""Folios to be printed in tests: hard nests, names that go wrong, and a written plan read back."""

from __future__ import annotations

import datetime
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import shapely
from sheet_nests import NESTS, RULES, nest_of

from nesting.accounts.account import Account, account_for
from nesting.front_door.writing import ScriptJob
from nesting.need import Misfit, Need
from nesting.nest import CuttingPlan, Nest, Placement, Unplaced
from nesting.outline import Outline
from nesting.outputs import sheet_files
from nesting.rates import Rates
from nesting.sheets.drawing import Drawing, Text
from nesting.shop.folio import Folio
from nesting.shop.kinds import Paper
from nesting.shop.print_sheets import sheet_pages
from nesting.stock.board import Board
from nesting.stock.keep_out import circle
from nesting.units import Unit

DAY = datetime.date(2026, 11, 27)

HOSTILE = ("=1+1", '@x, "y"; z', "<b>&amp;", "Ärmel's 木 κ", "-2", "w" * 200)


def hostile_nests() -> list[Nest]:
    """A board and a part of every name that goes wrong somewhere."""
    nests = []
    for number, name in enumerate(HOSTILE):
        part = Need.of(f"part {name}", Outline(shapely.box(0, 0, 300, 60), 20), ["teak"])
        spot = circle("metal", 700, 60, 8)
        board = Board.rectangle(
            name, 900 + number, 120, 30, "teak", keep_outs=(spot,), came_from=name, member=name
        )
        nests.append(Nest(board, (Placement(part, 20, 20),)))
    return nests


@cache
def folio_of(
    which: str = "all", paper: Paper = Paper.A4, unit: Unit = Unit.MM, rates: Rates | None = None
) -> Folio:
    """Return a folio of the hard nests, or of hostile names."""
    return folio_for(_plan_of(which), paper, unit, rates, _account_of(which))


@cache
def _plan_of(which: str) -> CuttingPlan:
    nests = hostile_nests() if which == "hostile" else _renamed()
    left = Need.of("stem", Outline(shapely.box(0, 0, 800, 90), 40), ["white oak"], quantity=2)
    return CuttingPlan(tuple(nests), (Unplaced(left, 2, Misfit.TOO_THIN),))


@cache
def _account_of(which: str) -> Account:
    """Return what paper, unit and rates have no part in: it takes longest."""
    return account_for(_plan_of(which), RULES, workers=1)


@cache
def pages_of(which: str = "all", paper: Paper = Paper.A4, unit: Unit = Unit.MM) -> list[Drawing]:
    """Return the sheets of such a folio."""
    return sheet_pages(folio_of(which, paper, unit))


def folio_for(
    plan: CuttingPlan,
    paper: Paper = Paper.A4,
    unit: Unit = Unit.MM,
    rates: Rates | None = None,
    account: Account | None = None,
) -> Folio:
    """Return a plan's folio."""
    boards = [nest.board for nest in plan.nests]
    needs = [p.need for nest in plan.nests for p in nest.placements]
    name = "Yawl = 1+1 <b>" if len(boards) < 20 else "A fleet"
    job = ScriptJob(name, unit, RULES, boards, needs, "R2010", rates)
    account = account or account_for(plan, RULES, workers=1)
    return Folio(job, plan, account, sheet_files(job, plan), paper, date=DAY)


def _renamed() -> list[Nest]:
    """Return the hard nests, each board under a name of its own."""
    nests = [nest_of(name) for name in NESTS]
    return [
        replace(nest, board=replace(nest.board, name=f"{name} {nest.board.name}"))
        for name, nest in zip(NESTS, nests, strict=True)
    ]


def clashes(drawing: Drawing) -> list[tuple[str, str]]:
    """Return the texts of a page that overlap."""
    texts = [entity for entity in drawing.entities if isinstance(entity, Text)]
    boxes = np.array([shapely.box(*text.box) for text in texts])
    firsts, seconds = shapely.STRtree(boxes).query(boxes, predicate="intersects")
    return [
        (texts[i].text, texts[j].text)
        for i, j in zip(firsts, seconds, strict=True)
        if i < j and boxes[i].intersection(boxes[j]).area > 1e-6
    ]


def faults(pages: list[Drawing], least_mm: float = 2.0) -> list[str]:
    """Return what is wrong with the lettering of pages: overlapping, off the page, too small."""
    found = []
    for number, page in enumerate(pages, start=1):
        found += [f"{number}: {one!r} over {other!r}" for one, other in clashes(page)]
        frame = shapely.box(*page.frame).buffer(1e-6)
        for entity in page.entities:
            if isinstance(entity, Text):
                if entity.height_mm < least_mm:
                    found.append(f"{number}: {entity.text!r} is {entity.height_mm} mm high")
                if not frame.contains(shapely.box(*entity.box)):
                    found.append(f"{number}: {entity.text!r} is off the page")
    return found


def written_folio(project: Path, folder: Path, paper: Paper) -> Folio:
    """Return the folio of a plan that was written."""
    from nesting.project import read_project
    from nesting.summary.file import read_summary
    from nesting.summary.read_plan import plan_from

    job = read_project(project, consent=lambda *_, **__: True)
    plan, _ = plan_from(read_summary(folder), job.needs, job.stock)
    account = account_for(plan, job.rules, workers=1)
    return Folio(job, plan, account, sheet_files(job, plan), paper, date=DAY)
