"""Every part at full size: on pages that are joined, and on one long roll.

Patterns need no plan: they are made of the parts list, and say of a plan only which board gives
what, if there is one.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from nesting.job import Job
from nesting.need import Need
from nesting.nest import CuttingPlan
from nesting.sheets.drawing import Drawing, Entity, moved
from nesting.sheets.dxf import dxf_content
from nesting.sheets.pdf import pdf_content
from nesting.sheets.svg import svg_text
from nesting.shop.folio import Folio
from nesting.shop.kinds import USUAL_ROLL_MM, Paper
from nesting.shop.pattern_foot import Heading, foot
from nesting.shop.pattern_index import framed, index_pages, page_edge
from nesting.shop.pattern_layout import Sheet, laid_out
from nesting.shop.pattern_lines import page_of
from nesting.shop.pattern_paper import Leaf, leaves
from nesting.shop.pattern_roll import Roll, roll_drawing, roll_of, roll_pages
from nesting.shop.pattern_subject import Pattern, patterns_of
from nesting.words import counted

PAGES, ROLL = "patterns", "pattern-roll"
"""Names of the files, without their endings."""

MANY_PAGES = 12
"""A sheet of more pages is said to be better off on larger paper, or on a roll."""


@dataclass(frozen=True)
class Subject:
    """What patterns are made of, and for which paper."""

    job: Job
    needs: Sequence[Need]
    paper: Paper = Paper.A4
    roll_mm: float = USUAL_ROLL_MM
    plan: CuttingPlan | None = None
    plan_word: str = ""
    date: datetime.date = field(default_factory=datetime.date.today)

    @property
    def heading(self) -> Heading:
        """What every page says."""
        return Heading(self.job.name, self.date, self.plan_word, self.job.unit)


@dataclass(frozen=True)
class PatternSet:
    """Patterns laid out: their sheets of pages, the roll, and what is to be told of them."""

    subject: Subject
    patterns: tuple[Pattern, ...]
    sheets: tuple[Sheet, ...]
    roll: Roll
    remarks: tuple[str, ...]


def made(folio: Folio) -> Iterator[tuple[str, bytes]]:
    """Yield the files of a plan's patterns."""
    roll = float(getattr(folio.job, "roll_mm", USUAL_ROLL_MM))
    subject = Subject(
        folio.job, folio.job.needs, folio.paper, roll, folio.plan, folio.identity, folio.date
    )
    made_of = pattern_set(subject)
    for remark in made_of.remarks:
        folio.on_remark(remark)
    yield from pattern_files(made_of)


def pattern_set(subject: Subject) -> PatternSet:
    """Lay the patterns of some parts out, on pages and on a roll."""
    patterns = patterns_of(subject.job, subject.needs, subject.plan)
    sheets = laid_out(patterns, leaves(subject.paper.size_mm))
    roll = roll_of(patterns, subject.roll_mm, subject.heading)
    remarks = (*_many_pages(sheets, subject.paper, roll), *roll.remarks)
    return PatternSet(subject, patterns, sheets, roll, remarks)


def pattern_files(made_of: PatternSet, stem: str = "") -> Iterator[tuple[str, bytes]]:
    """Yield the files of patterns; ``stem`` names those of one part alone."""
    heading, job = made_of.subject.heading, made_of.subject.job
    yield f"{stem or PAGES}.pdf", pdf_content(page_drawings(made_of))
    if not made_of.roll.laid:
        return
    name = f"{stem}-roll" if stem else ROLL
    whole = roll_drawing(made_of.roll, heading)
    yield f"{name}.pdf", pdf_content(roll_pages(made_of.roll, heading))
    yield f"{name}.svg", svg_text(whole).encode()
    yield f"{name}.dxf", dxf_content(whole, job.dxf_version)


def page_drawings(made_of: PatternSet) -> list[Drawing]:
    """Return all pages: the list first, then sheet by sheet."""
    heading, paper = made_of.subject.heading, made_of.subject.paper
    upright = leaves(paper.size_mm)[0]
    title = f"Patterns at full size: {heading.project}"
    index = index_pages(made_of.patterns, made_of.sheets, heading, upright, made_of.remarks)
    count = len(index) + sum(len(sheet.grid.tiles) for sheet in made_of.sheets)
    pages = [_page(title, (page_edge(upright), *entities), upright, paper) for entities in index]
    for sheet in made_of.sheets:
        leaf = sheet.grid.leaf
        for tile in sheet.grid.in_order:
            low_x, low_y, _, _ = sheet.grid.window(tile)
            shift = (-low_x, leaf.foot_mm - low_y)
            shown = [moved(entity, 1.0, shift) for entity in page_of(sheet, tile, heading.unit)]
            below = foot(sheet, tile, (len(pages) + 1, count), heading, leaf.wide_mm)
            pages.append(_page(title, (page_edge(leaf), *shown, *below), leaf, paper))
    return pages


def _page(title: str, entities: Sequence[Entity], leaf: Leaf, paper: Paper) -> Drawing:
    return Drawing(title, tuple(entities), framed(leaf), 1.0, paper.value)


def _many_pages(sheets: Sequence[Sheet], paper: Paper, roll: Roll) -> Iterator[str]:
    """Yield which patterns take very many pages, and on which paper they take fewer."""
    larger = {Paper.A4: Paper.A3, Paper.LETTER: Paper.TABLOID}.get(paper)
    for sheet in sheets:
        if len(sheet.grid.tiles) <= MANY_PAGES:
            continue
        (alone,) = laid_out([sheet.laid[0].pattern], leaves(paper.size_mm))
        pages = len(alone.grid.tiles)
        if pages > MANY_PAGES:
            pattern, offers = sheet.laid[0].pattern, list[str]()
            if larger:
                fewer = laid_out([pattern], leaves(larger.size_mm))
                offers.append(f"{larger} takes {counted(len(fewer[0].grid.tiles), 'page')}")
            if any(laid.pattern is pattern for laid in roll.laid):
                offers.append("a roll takes it in one piece")
            told = f": {', and '.join(offers)}" if offers else ""
            yield f"{pattern.name} takes {counted(pages, 'page')} of {paper}{told}"


def page_count(made_of: PatternSet) -> int:
    """Return how many pages of paper there are, those of the list not counted."""
    return sum(len(sheet.grid.tiles) for sheet in made_of.sheets)
