"""What the terminal shows: the account as tables, the search as a live line.

With :mod:`nesting.buy_tables` the only module that knows rich. Nothing here prints by itself: the
command line hands in the consoles.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING

from rich.console import Console, ConsoleOptions, Group, RenderableType
from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn, TimeElapsedColumn
from rich.segment import Segment
from rich.table import Table
from rich.text import Text

from nesting.account import Account, Shares
from nesting.buy_tables import bare_table as _table
from nesting.buy_tables import buy_tables
from nesting.cautions import CAUTIONS, HEADING
from nesting.ideal import Ideal
from nesting.left_over import told
from nesting.movement import SOURCES as MOVEMENT_SOURCES
from nesting.movement import Movements
from nesting.nest import CuttingPlan
from nesting.strength import CAUTION as STRENGTH_CAUTION
from nesting.strength import MUCH_WEAKENED, NEARLY_WHOLE, PieceStrength
from nesting.strength import SOURCES as STRENGTH_SOURCES
from nesting.units import (
    MM_PER_INCH,
    Unit,
    exact_length,
    format_area,
    format_length,
)
from nesting.unseen import shown
from nesting.weigh import WORDS, out_of_the_ordinary
from nesting.words import counted
from nesting.work import Tell, plain_lines, untold
from parts.wood.net_section import deeper_by_mm
from parts.wood.timber import SHRINKAGE_STATUSES

if TYPE_CHECKING:
    from nesting.engine.pack import Progress as SearchProgress
    from nesting.text_table import TextTable

MOST_NAMED = 8
"""A plan names no more weak pieces than this."""

LEAST_MOVEMENT_MM = 0.5
"""Less than this is planed by eye."""

SHARES = ("parts", "offcuts", "defects", "kerf_and_trim", "oddments")


class _Terminal(Console):
    """A console that writes out whatever nobody sees, wherever the text came from."""

    def render(
        self, renderable: RenderableType, options: ConsoleOptions | None = None
    ) -> Iterator[Segment]:
        for segment in super().render(renderable, options):
            is_plain = segment.control or segment.text.isprintable()
            yield segment if is_plain else segment._replace(text=shown(segment.text))


def terminal(*, is_for_errors: bool = False) -> Console:
    """Return a console that shows every name as it is: no markup in it, no picture words."""
    return _Terminal(stderr=is_for_errors, markup=False, emoji=False)


def report(plan: CuttingPlan, account: Account, unit: Unit) -> RenderableType:
    """Return the whole summary: boards, totals, bungs, what is left over, what to buy."""
    pieces: list[RenderableType] = [
        _boards_table(plan, account, unit),
        _totals(plan, account, unit),
    ]
    if plan.ideal is not None:
        pieces.append(Text(_how_far(plan.ideal, unit)))
    pieces.append(Text(_straight_cuts(plan, account, unit)))
    if account.bung_counts:
        bungs = ", ".join(
            f"{count} of {exact_length(size, unit)}" for size, count in account.bung_counts.items()
        )
        pieces.append(Text(f"Bungs to set: {bungs}"))
    if plan.unplaced:
        pieces += [_unplaced_table(plan, unit), *buy_tables(account.to_buy, unit)]
    pieces += [*_grain_note(plan, account), *_holes_note(account)]
    pieces.append(cautions())
    return Group(*pieces)


def _straight_cuts(plan: CuttingPlan, account: Account, unit: Unit) -> str:
    """Return what break-down cuts free, and what it took where that was preferred."""
    placed = sum(len(nest.placements) for nest in plan.nests)
    cuts = sum(len(board.break_down.cuts) for board in account.boards)
    freed = f"{account.parts_freed} of {counted(placed, 'piece')} free"
    words = f"{counted(cuts, 'break-down cut')}: {freed}"
    if account.parts_freed < placed:
        words += "; the rest is for bandsaw or saber saw"
    eased = plan.eased
    if eased is None:
        return words
    price = format_area(abs(eased.price_mm2), unit)
    more = "less" if eased.price_mm2 >= 0 else "more"
    return (
        f"{words}\nBreaking down preferred: {eased.freed} free, {eased.freed_without} without; as "
        f"much wood opened, {price} {more} kept as offcuts"
    )


def cautions() -> RenderableType:
    """Return what can hurt somebody, in full, as every command for the bench prints it."""
    told = [Text.assemble((f"{c.about}: ", "bold"), c.full) for c in CAUTIONS]
    return Group(Text(f"\n{HEADING}", style="bold"), *told)


def text_table(told: TextTable) -> RenderableType:
    """Return a table of words."""
    table = _table(f"\n{told.title}", *told.columns)
    for row in told.rows:
        table.add_row(*row)
    return table


def _boards_table(plan: CuttingPlan, account: Account, unit: Unit) -> Table:
    table = _table(
        "Opened boards, in per cent of each",
        "board", "wood", "#thick", "#pieces",
        "#parts", "#offcuts", "#defects", "#kerf", "#oddments", "#scrap",
    )  # fmt: skip
    table.collapse_padding = True
    for nest, board in zip(plan.nests, account.boards, strict=True):
        table.add_row(
            nest.board.name,
            nest.board.species,
            exact_length(nest.board.thickness_mm, unit),
            str(len(nest.placements)),
            *(f"{board.area.percent(share):.1f}" for share in SHARES),
            f"{board.scrap_percent:.1f}",
        )
    table.add_section()
    table.add_row(
        "all", "", "", str(sum(len(nest.placements) for nest in plan.nests)),
        *(f"{account.area.percent(share):.1f}" for share in SHARES),
        f"{account.area.scrap_percent:.1f}", style="bold",
    )  # fmt: skip
    return table


def _grain_note(plan: CuttingPlan, account: Account) -> list[RenderableType]:
    """Return which pieces are out of the ordinary for their cross grain, if any are."""
    steep = out_of_the_ordinary(plan, account.pieces)
    if not steep:
        return []
    named = "; ".join(
        f"{piece.piece}: 1 in {piece.run:.1f}, {_percent(piece.left_by_grain)} % left"
        for piece in steep[:MOST_NAMED]
    )
    more = f" and {len(steep) - MOST_NAMED} more" if len(steep) > MOST_NAMED else ""
    return [
        Text("\nWeigh before sawing", style="bold"),
        Text(
            f"{WORDS}: {named}{more}. Grown or laminated pieces are the alternative. Every sheet "
            "has each piece's run-out and strength left."
        ),
    ]


def strength_report(
    pieces: Sequence[PieceStrength], moved: Movements, to_percent: float, unit: Unit
) -> RenderableType:
    """Return what holes, cross grain and drying do to placed pieces, with the sources."""
    sloped = [piece for piece in pieces if piece.left_by_grain < NEARLY_WHOLE]
    holed = [piece for piece in pieces if piece.left_by_holes < NEARLY_WHOLE]
    shown: list[RenderableType] = []
    if sloped:
        shown.append(_grain_table(sloped, unit))
    if holed:
        shown.append(_holes_table(holed, unit))
    whole = sum(piece.left >= NEARLY_WHOLE for piece in pieces)
    shown.append(
        Text(
            f"\n{whole} of {counted(len(pieces), 'piece')} keep {_percent(NEARLY_WHOLE)} % or more."
        )
    )
    shown += _movement_tables(moved, to_percent, unit)
    shown += [Text(f"\n{line}") for line in (*STRENGTH_SOURCES, *MOVEMENT_SOURCES)]
    shown.append(Text(f"\n{STRENGTH_CAUTION}", style="bold"))
    return Group(*shown)


def _grain_table(pieces: Sequence[PieceStrength], unit: Unit) -> Table:
    table = _table(
        "Cross grain: per cent of straight-grained bending strength left at the steepest place, "
        "and the length of edge past the part's limit",
        "piece", "board", "#1 in", "#at x", "#past limit", "#left",
    )  # fmt: skip
    for piece in sorted(pieces, key=lambda piece: piece.left_by_grain):
        past = piece.past_limit_mm
        table.add_row(
            piece.piece, piece.board, f"{piece.run:.1f}", format_length(piece.run_x_mm, unit),
            format_length(past, unit) if past else "", _percent(piece.left_by_grain),
        )  # fmt: skip
    return table


def _holes_table(pieces: Sequence[PieceStrength], unit: Unit) -> Table:
    table = _table(
        "\nOld holes, bunged or not: per cent of whole wood's bending strength on edge, on the "
        "flat, and as an evenly loaded beam; and how much deeper on edge makes up for it",
        "piece", "board", "#holes", "#worst at x", "#edge", "#flat", "#beam", "#deeper",
    )  # fmt: skip
    for piece in sorted(pieces, key=lambda piece: piece.left_by_holes):
        assert piece.weakest is not None, "only holes weaken"
        section = piece.weakest.section
        table.add_row(
            piece.piece, piece.board, str(piece.holes), format_length(piece.weakest.x_mm, unit),
            _percent(section.left_on_edge), _percent(section.left_on_flat),
            "" if piece.as_beam is None else _percent(piece.as_beam),
            format_length(deeper_by_mm(section), unit),
        )  # fmt: skip
    return table


def _movement_tables(moved: Movements, percent: float, unit: Unit) -> list[RenderableType]:
    """Return what to cut larger or smaller, and how many pieces nothing can be said of."""
    told = [piece for piece in moved.pieces if abs(piece.across.most_mm) >= LEAST_MOVEMENT_MM]
    table = _table(
        f"\nTo cut larger (+) or smaller (-) across the grain, {_small_unit(unit)}, "
        f"for wood that comes to {percent:g} %",
        "piece", "board", "wood", "#now %", "#size", "#across", "#in thickness",
    )  # fmt: skip
    for piece in told:
        table.add_row(
            piece.piece, piece.board, piece.species, f"{piece.from_percent:g}",
            format_length(piece.size_mm, unit),
            *(_larger(unit, m.radial_mm, m.tangential_mm) for m in (piece.across, piece.thick)),
        )  # fmt: skip
    still = len(moved.pieces) - len(told)
    note = (
        f"Pieces that move less than {exact_length(LEAST_MOVEMENT_MM, unit)}: {still}; on boards "
        f"whose moisture was never taken: {moved.unmeasured}; with no printed shrinkage: "
        f"{moved.no_figures}."
    )
    return [*([table] if told else [Text("")]), Text(note), *_shrinkage_table(moved)]


def _shrinkage_table(moved: Movements) -> list[RenderableType]:
    """Return where the shrinkage of each wood stands, and how sure it is."""
    if not moved.woods:
        return []
    table = _table(
        "\nShrinkage of these woods, green to oven dry, per cent",
        "wood", "#radial", "#tangential", "standing", "source",
    )  # fmt: skip
    for wood in moved.woods:
        table.add_row(
            wood.name, f"{wood.shrinkage_radial_percent:g}",
            f"{wood.shrinkage_tangential_percent:g}", wood.shrinkage_status,
            wood.shrinkage_source,
        )  # fmt: skip
    met = dict.fromkeys(wood.shrinkage_status for wood in moved.woods)
    meanings = "; ".join(f"{status}: {SHRINKAGE_STATUSES[status]}" for status in met)
    return [table, Text(f"{meanings[0].upper()}{meanings[1:]}.")]


def _percent(share: float) -> str:
    return f"{100 * share:.0f}"


def _small_unit(unit: Unit) -> str:
    """Return what changes too small for a tape are written in."""
    return "in" if unit.is_imperial else "mm"


def _larger(unit: Unit, *changes_mm: float) -> str:
    """Return a change from its least to its most, in thousandths of an inch or tenths of a mm."""
    size, digits = (MM_PER_INCH, 3) if unit.is_imperial else (1.0, 1)
    least, most = sorted((round(-change / size, digits) + 0.0 for change in changes_mm), key=abs)
    return f"{least:+.{digits}f} to {most:+.{digits}f}"


def _holes_note(account: Account) -> list[RenderableType]:
    """Return which beams old holes weaken much, if they do any."""
    beams = [
        (piece.as_beam, piece.piece)
        for piece in account.pieces
        if piece.as_beam is not None and piece.as_beam < MUCH_WEAKENED
    ]
    if not beams:
        return []
    named = ", ".join(f"{name} {_percent(left)} %" for left, name in sorted(beams)[:MOST_NAMED])
    more = f" and {len(beams) - MOST_NAMED} more" if len(beams) > MOST_NAMED else ""
    return [
        Text(
            f"\nOld holes leave these less than {_percent(MUCH_WEAKENED)} % of the bending "
            f"strength of whole wood, evenly loaded: {named}{more}. The strength command says "
            "where, and how that is reckoned."
        )
    ]


def _totals(plan: CuttingPlan, account: Account, unit: Unit) -> Text:
    placed = sum(len(nest.placements) for nest in plan.nests)
    wanted = placed + sum(left.count for left in plan.unplaced)
    area: Shares = account.area
    volume: Shares = account.volume
    return Text(
        f"\n{placed} of {counted(wanted, 'part')} placed on {counted(len(plan.nests), 'board')}; "
        f"{format_area(area.opened, unit)} of wood opened.\n"
        f"Scrap {area.scrap_percent:.1f} % of the opened area, "
        f"{area.uncredited_scrap_percent:.1f} % if no offcut were kept"
        f" (defects {area.percent('defects'):.1f}, kerf and trim "
        f"{area.percent('kerf_and_trim'):.1f}, oddments {area.percent('oddments'):.1f}, "
        f"offcuts kept {area.percent('offcuts'):.1f}); parts {area.percent('parts'):.1f} %.\n"
        f"Of the opened volume {volume.percent('parts'):.1f} % is finished parts, "
        f"{volume.percent('planed'):.1f} % is planed off their faces.",
        style="bold",
    )


def _how_far(ideal: Ideal, unit: Unit) -> str:
    """Return how far from ideal a plan may be, in words."""
    if ideal.is_proven_best:
        return "Proven: no plan places more value, and none that places as much opens less wood."
    value = (
        "No plan places more value"
        if ideal.is_value_met
        else f"At least {_floor(ideal.value_percent)} % of the most value possible is placed"
    )
    return (
        f"{value} ({ideal.limit}). Proven: to place as much takes at least "
        f"{format_area(ideal.least_opened_mm2, unit)} of opened wood; this plan opens "
        f"{format_area(ideal.opened_mm2, unit)}. Whether any plan lies between is not known."
    )


def _floor(percent: float) -> str:
    """Return per cent with one digit, never rounded up."""
    return f"{math.floor(percent * 10) / 10:.1f}"


def _unplaced_table(plan: CuttingPlan, unit: Unit) -> Table:
    table = _table("\nLeft over", "part", "#how many", "why, and what would help")
    for left in plan.unplaced:
        table.add_row(left.need.part, str(left.count), str(left.reason))
        for sentence in told(left.prospect, unit):
            table.add_row("", "", sentence)
    return table


@contextmanager
def live_work(console: Console, *, is_shown: bool) -> Iterator[Tell]:
    """Yield what shows the steps of a long piece of work while it goes on.

    One line of the terminal is kept up to date; where there is no terminal, a plain line is
    written every few seconds.
    """
    if not is_shown:
        yield untold
    elif console.is_terminal:
        told = TextColumn("{task.description}", markup=False)
        columns = (SpinnerColumn(), told, TimeElapsedColumn())
        with Progress(*columns, console=console, transient=True) as line:
            task = line.add_task("beginning", total=None)
            yield lambda step: line.update(task, description=str(step))
    else:
        with plain_lines(lambda text: console.out(text, highlight=False)) as tell:
            yield tell


@contextmanager
def live_search(
    console: Console, unit: Unit = Unit.MM, *, is_shown: bool
) -> Iterator[ProgressLine]:
    """Yield a callback for the search that keeps one line of the terminal up to date."""
    bar = Progress(
        TextColumn("{task.description}", markup=False), BarColumn(bar_width=24), console=console,
        transient=True, disable=not is_shown,
    )  # fmt: skip
    with bar:
        yield ProgressLine(bar, unit)


class ProgressLine:
    """One live line: parts placed, value and its bound, yield, rounds, time left."""

    def __init__(self, bar: Progress, unit: Unit) -> None:
        self._bar = bar
        self._unit = unit
        self._task = bar.add_task("starting", total=1.0)

    def say(self, what: str) -> None:
        """Show what goes on before there is a plan."""
        self._bar.update(self._task, description=what, refresh=True)

    def __call__(self, progress: SearchProgress) -> None:
        """Show where the search stands."""
        left = "" if progress.seconds_left is None else f", {progress.seconds_left:.0f} s left"
        self._bar.update(
            self._task,
            completed=progress.share_used,
            description=f"{progress.placed} of {counted(progress.wanted, 'part')} placed, "
            f"{_standing(progress.ideal, self._unit)}, yield {progress.yield_percent:.1f} %, "
            f"round {progress.rounds}{left}",
        )


def _standing(ideal: Ideal, unit: Unit) -> str:
    """Return the value placed and the bound that limits the plan just now."""
    if not ideal.is_value_met:
        return f"value {ideal.value:.4g} of at most {ideal.most_value:.4g} ({ideal.limit})"
    opened, least = (format_area(area, unit) for area in (ideal.opened_mm2, ideal.least_opened_mm2))
    return f"value {ideal.value:.4g}, the most; wood {opened}, at least {least}"
