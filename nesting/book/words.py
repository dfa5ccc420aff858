"""Where a project stands, as tables of words and as a small chart of its days."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from html import escape
from itertools import pairwise
from typing import TYPE_CHECKING

from nesting.book.standing import Day, Standing
from nesting.text_table import TextTable
from nesting.told import told_in
from nesting.units import Unit
from nesting.words import counted
from nesting.written_measures import exact_length, format_area, format_volume, taped_length

if TYPE_CHECKING:
    from pathlib import Path

    from nesting.accounts.account import Account
    from nesting.job import Job
    from nesting.nest import CuttingPlan
    from nesting.shop.folio import Stand

BAR, MOST_DAYS = 40, 14
"""Letters of the longest bar of the chart, and how many days it shows."""

LEAST_BAR = 5
"""Letters of the longest bar where a terminal has no room for it."""

SIGNS = "=#."
"""Wood in stock, in parts, lost."""


def headline(now: Standing, unit: Unit) -> str:
    """Return where it stands in a sentence or two."""
    return f"{_counted(now, unit)}\n{_scrap(now)}"


def _counted(now: Standing, unit: Unit) -> str:
    done, wanted = (sum(getattr(s, name) for s in now.systems) for name in ("done", "wanted"))
    nested = sum(s.nested for s in now.systems)
    left = sum(s.left_over for s in now.systems)
    area = format_area(sum(wood.area_mm2 for wood in now.wood), unit)
    boards = counted(sum(wood.boards for wood in now.wood), "board")
    said = f"{done} of {counted(wanted, 'piece')} done, {nested} nested, {left} to buy; "
    odd = f"; {counted(len(now.odd), 'piece')} sawn and not counted" if now.odd else ""
    return said + f"{boards} in stock ({area}){odd}"


def _so_far(now: Standing) -> str:
    if now.scrap_percent is None:
        return "nothing was sawn yet"
    return f"{now.scrap_percent:.0f} % of what was sawn is scrap"


def _scrap(now: Standing) -> str:
    so_far = _so_far(now)
    plans = [f"{name} {percent:.0f} %" for name, percent in now.planned_percent.items()]
    return f"scrap so far: {so_far}; by the plan that is reserved: {', '.join(plans) or 'none is'}"


def stand(path: Path, job: Job, plan: CuttingPlan, account: Account) -> Stand | None:
    """Return how far a job has come by its book once a plan is gone by; None if it has nothing.

    Raises
    ------
    BookError
        If the book cannot be used.
    """
    from nesting.book.integrity import damage_told
    from nesting.book.opening import opened
    from nesting.book.pieces import boards_of_sawn
    from nesting.book.standing import standing
    from nesting.shop.folio import Stand

    if not path.exists():
        return None
    by_plan = {
        "pieces": [placement.label for nest in plan.nests for placement in nest.placements],
        "left_over": [[u.need.part, u.count, str(u.reason)] for u in plan.unplaced],
        "bungs": [[bung.part, bung.diameter_mm] for one in account.boards for bung in one.bungs],
        "scrap_percent": account.area.scrap_percent,
    }
    with opened(path) as book, damage_told(book):
        now, step = standing(book, job.name, by_plan), book.last_step
        sawn = boards_of_sawn(book, job.name)
    if not now.systems:
        return None
    parts = next(tables_of(now, job.unit))
    rows = tuple(row[1:] for row in parts.rows)
    lines = (
        f"By the stock book, after its step {step}, and this plan: {_counted(now, job.unit)}.",
        f"Scrap so far: {_so_far(now)}.",
    )
    return Stand(lines, TextTable("Pieces, by system of the boat", parts.columns[1:], rows), sawn)


def tables_of(now: Standing, unit: Unit) -> Iterator[TextTable]:
    """Yield every table; those without rows say nothing."""
    yield TextTable(
        "Parts",
        ("project", "system", "#wanted", "#done", "#nested", "#to buy", "#not planned", "#spoiled"),
        tuple(
            (
                s.project, s.system, *map(str, (s.wanted, s.done, s.nested, s.left_over)),
                str(s.not_planned), str(s.spoiled),
            )
            for s in now.systems
        ),
    )  # fmt: skip
    yield TextTable(
        "Sawn, and not what the parts list asks for",
        ("project", "piece", "from", "why"),
        tuple((name, piece, board, told_in(why, unit)) for name, piece, board, why in now.odd),
    )
    yield TextTable(
        "Wood in stock",
        ("wood", "#thick", "#boards", "#of them offcuts", "#area", "#volume", "held", "#unchecked"),
        tuple(
            (
                w.species, taped_length(w.thickness_mm, unit), str(w.boards), str(w.offcuts),
                format_area(w.area_mm2, unit), format_volume(w.volume_mm3, unit),
                _reserved(w.reserved), str(w.unchecked),
            )
            for w in now.wood
        ),
    )  # fmt: skip
    yield TextTable(
        "To buy, by the reserved plans",
        ("project", "part", "#pieces", "why"),
        tuple((project, part, str(count), why) for project, part, count, why in now.to_buy),
    )
    yield TextTable(
        "Metal and bungs still needed",
        ("what", "#across", "#how many"),
        tuple(
            (what, exact_length(size, unit), str(count))
            for what, sizes in (("bolt", now.bolts), ("bung", now.bungs))
            for size, count in sizes.items()
        ),
    )


def _reserved(held: Mapping[str, int]) -> str:
    return ", ".join(f"{count} by {name}" for name, count in held.items())


def text_chart(now: Standing, unit: Unit, width: int | None = None) -> str:
    """Return the last days in letters, in rows of a width: wood in stock, in parts, lost."""
    days = now.days[-MOST_DAYS:]
    most = max((day.stock_mm2 for day in days), default=0.0)
    most = max([most, *(day.parts_mm2 + day.lost_mm2 for day in days)])
    if not days or most <= 0:
        return ""
    which = f", the last {len(days)} of {len(now.days)}" if len(days) < len(now.days) else ""
    lines = ["", f"day by day{which}: = in stock, # in parts, . lost"]
    told = [f"  {format_area(day.parts_mm2, unit)} in parts" for day in days]
    bars = [(day.stock_mm2, day.parts_mm2, day.lost_mm2) for day in days]
    longest = max(sum(max(area, 0.0) for area in bar) for bar in bars)
    room = (width or math.inf) - max(map(len, told)) - len(f"{days[0].date}  ") - len(SIGNS)
    letters = max(LEAST_BAR, min(BAR, room * most / longest))
    for day, bar, said in zip(days, bars, told, strict=True):
        signs = (
            sign * round(letters * max(area, 0.0) / most)
            for sign, area in zip(SIGNS, bar, strict=True)
        )
        lines.append(f"{day.date}  {''.join(signs)}{said}")
    return "\n".join(lines)


WIDE, HIGH, MARGIN = 640.0, 240.0, 46.0
"""The drawn chart, in the pixels of a page."""

LINES = (
    ("in stock", "stock_mm2", "#8a5a2b", "none"),
    ("in parts", "parts_mm2", "#1f5f8b", "6 3"),
    ("lost", "lost_mm2", "#555555", "2 3"),
)
"""What is drawn: told by stroke as well as by colour."""


def chart_svg(now: Standing, unit: Unit) -> str:
    """Return the days as a drawing: wood in stock, in parts and lost, at the end of each."""
    days = now.days
    most = max((getattr(day, name) for day in days for _, name, _, _ in LINES), default=1.0) or 1.0
    body = [_axes(days, most, unit)]
    for number, (told, name, colour, dash) in enumerate(LINES):
        points = [_point(days, k, getattr(day, name), most) for k, day in enumerate(days)]
        steps = _stepped(points)
        body.append(
            f'<polyline fill="none" stroke="{colour}" stroke-width="2" stroke-dasharray="{dash}" '
            f'points="{" ".join(f"{x:.1f},{y:.1f}" for x, y in steps)}"/>'
        )
        x = MARGIN + 10 + 120 * number
        body.append(
            f'<line x1="{x}" y1="14" x2="{x + 24}" y2="14" stroke="{colour}" stroke-width="2" '
            f'stroke-dasharray="{dash}"/><text x="{x + 30}" y="18">{told}</text>'
        )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE:g} {HIGH:g}" '
        f'font-family="sans-serif" font-size="12" role="img"><title>Wood day by day</title>'
        f'<rect width="{WIDE:g}" height="{HIGH:g}" fill="white"/>{"".join(body)}</svg>\n'
    )


def _point(days: tuple[Day, ...], number: int, value: float, most: float) -> tuple[float, float]:
    import datetime

    first, last = (datetime.date.fromisoformat(days[k].date) for k in (0, -1))
    date = datetime.date.fromisoformat(days[number].date)
    span = (last - first).days + 1
    x = MARGIN + (WIDE - 2 * MARGIN) * (date - first).days / span
    return x, HIGH - MARGIN - (HIGH - 2 * MARGIN) * max(value, 0.0) / most


def _stepped(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return points as stairs: what stood at the end of a day stands until something happens."""
    stairs = list(points[:1])
    for (_, before), (x, y) in pairwise(points):
        stairs += [(x, before), (x, y)]
    return [*stairs, (WIDE - MARGIN, points[-1][1])] if points else []


def _axes(days: tuple[Day, ...], most: float, unit: Unit) -> str:
    low, right = HIGH - MARGIN, WIDE - MARGIN
    lines = (
        f'<path d="M{MARGIN},{MARGIN} V{low} H{right}" fill="none" stroke="black"/>'
        f'<text x="{MARGIN}" y="{MARGIN - 8}">{escape(format_area(most, unit))}</text>'
    )
    if not days:
        return lines
    return lines + (
        f'<text x="{MARGIN}" y="{low + 16}">{escape(days[0].date)}</text>'
        f'<text x="{right}" y="{low + 16}" text-anchor="end">{escape(days[-1].date)}</text>'
    )
