"""What the terminal shows: the account as tables, the search as a live line.

The only module that knows rich. Nothing here prints by itself: the command line hands in the
consoles.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from rich.console import Console, Group, RenderableType
from rich.progress import BarColumn, Progress, TextColumn
from rich.table import Table
from rich.text import Text

from nesting.account import Account, Shares
from nesting.engine.pack import Progress as SearchProgress
from nesting.ideal import Ideal
from nesting.movement import SOURCES as MOVEMENT_SOURCES
from nesting.movement import Movements
from nesting.nest import CuttingPlan
from nesting.strength import CAUTION as STRENGTH_CAUTION
from nesting.strength import NEARLY_WHOLE, PieceStrength
from nesting.strength import SOURCES as STRENGTH_SOURCES
from nesting.summary import cross_grained
from nesting.units import Unit, format_length
from parts.net_section import deeper_by_mm

CAUTION = (
    "Run a metal detector over every board again before each cut. Old paint may hold lead, and "
    "old bottom paint copper or tin: no dry sanding, no burning. Structural timber is for a "
    "designer's or surveyor's word; local rules come first."
)

MUCH_WEAKENED, MOST_NAMED = 0.8, 8
"""A plan names pieces that keep less than this share, and no more than so many of them."""

LEAST_MOVEMENT_MM = 0.5
"""Less than this is planed by eye."""

SHARES = ("parts", "offcuts", "defects", "kerf_and_trim", "scrap")


def report(plan: CuttingPlan, account: Account, unit: Unit) -> RenderableType:
    """Return the whole summary: boards, totals, bungs, what is left over, what to buy."""
    pieces: list[RenderableType] = [_boards_table(plan, account, unit), _totals(plan, account)]
    if plan.ideal is not None:
        pieces.append(Text(_how_far(plan.ideal)))
    if account.bung_counts:
        bungs = ", ".join(
            f"{count} of {format_length(size, unit, denominator=32)}"
            for size, count in account.bung_counts.items()
        )
        pieces.append(Text(f"Bungs to set: {bungs}"))
    if plan.unplaced:
        pieces += [_unplaced_table(plan), _buy_table(account, unit)]
    pieces += [*_grain_note(plan), *_holes_note(account)]
    pieces.append(Text(f"\n{CAUTION}", style="italic"))
    return Group(*pieces)


def _table(title: str, *columns: str) -> Table:
    """Return a bare table; a column whose name begins with a # holds figures."""
    table = Table(title=title, title_justify="left", title_style="bold", box=None, pad_edge=False)
    for column in columns:
        is_figure = column.startswith("#")
        table.add_column(
            column.lstrip("#"), justify="right" if is_figure else "left",
            no_wrap=is_figure, vertical="bottom",
        )  # fmt: skip
    return table


def _boards_table(plan: CuttingPlan, account: Account, unit: Unit) -> Table:
    table = _table(
        "Opened boards, in per cent of each",
        "board", "wood", "#thick", "#pieces",
        "#parts", "#offcuts", "#defects", "#kerf", "#rest", "#scrap",
    )  # fmt: skip
    for nest, board in zip(plan.nests, account.boards, strict=True):
        table.add_row(
            nest.board.name,
            nest.board.species,
            format_length(nest.board.thickness_mm, unit),
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


def _grain_note(plan: CuttingPlan) -> list[RenderableType]:
    """Return which sawn parts run out of the grain by their own curve, if any do."""
    runs = ", ".join(f"{part} 1 in {run:.1f}" for part, run in cross_grained(plan))
    if not runs:
        return []
    return [
        Text("\nWeigh before sawing", style="bold"),
        Text(
            f"The curve of these runs out of the grain past their limit: {runs}. Grown or "
            "laminated pieces are the alternative."
        ),
    ]


def strength_report(
    pieces: Sequence[PieceStrength], moved: Movements, service_percent: float, unit: Unit
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
        Text(f"\n{whole} of {len(pieces)} pieces keep {_percent(NEARLY_WHOLE)} % or more.")
    )
    shown += _movement_tables(moved, service_percent, unit)
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
        f"\nTo cut larger (+) or smaller (-) across the grain, mm, for {percent:g} % in service",
        "piece", "board", "wood", "#now %", "#size", "#across", "#in thickness",
    )  # fmt: skip
    for piece in told:
        table.add_row(
            piece.piece, piece.board, piece.species, f"{piece.from_percent:g}",
            format_length(piece.size_mm, unit),
            *(_larger(m.radial_mm, m.tangential_mm) for m in (piece.across, piece.thick)),
        )  # fmt: skip
    still = len(moved.pieces) - len(told)
    note = (
        f"{still} pieces move less than {LEAST_MOVEMENT_MM:g} mm; {moved.unmeasured} lie on boards "
        f"whose moisture was never taken; for {moved.no_figures} no shrinkage is printed."
    )
    return [*([table] if told else [Text("")]), Text(note)]


def _percent(share: float) -> str:
    return f"{100 * share:.0f}"


def _larger(*changes_mm: float) -> str:
    least, most = sorted((-change for change in changes_mm), key=abs)
    return f"{least:+.1f} to {most:+.1f}"


def _holes_note(account: Account) -> list[RenderableType]:
    """Return which beams old holes weaken much, if they do any."""
    beams = [
        (piece.as_beam, piece.piece)
        for board in account.boards
        for piece in board.weakened
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


def _totals(plan: CuttingPlan, account: Account) -> Text:
    placed = sum(len(nest.placements) for nest in plan.nests)
    wanted = placed + sum(left.count for left in plan.unplaced)
    area: Shares = account.area
    volume: Shares = account.volume
    return Text(
        f"\n{placed} of {wanted} parts placed on {len(plan.nests)} boards; "
        f"{area.opened * 1e-6:.2f} m2 of wood opened.\n"
        f"Scrap {area.scrap_percent:.1f} % of the opened area"
        f" (defects {area.percent('defects'):.1f}, kerf and trim "
        f"{area.percent('kerf_and_trim'):.1f}, the rest {area.percent('scrap'):.1f}); "
        f"parts {area.percent('parts'):.1f} %, offcuts kept {area.percent('offcuts'):.1f} %.\n"
        f"Of the opened volume {volume.percent('parts'):.1f} % is finished parts, "
        f"{volume.percent('planed'):.1f} % is planed off their faces.",
        style="bold",
    )


def _how_far(ideal: Ideal) -> str:
    """Return how far from ideal a plan may be, in words."""
    if ideal.is_proven_best:
        return "Proven: no plan places more value, and none that places as much opens less wood."
    value = (
        "No plan places more value"
        if ideal.is_value_met
        else f"At least {_floor(ideal.value_percent)} % of the most value possible is placed"
    )
    return (
        f"{value} ({ideal.limit}). Proven: as much value needs at least "
        f"{_area(ideal.least_opened_mm2)} of wood; this plan opens {_area(ideal.opened_mm2)}. "
        "Whether any plan needs less than this one is not known."
    )


def _area(area_mm2: float) -> str:
    """Return an area in words, rounded."""
    return f"{area_mm2 * 1e-6:.2f} m2"


def _floor(percent: float) -> str:
    """Return per cent with one digit, never rounded up."""
    return f"{math.floor(percent * 10) / 10:.1f}"


def _unplaced_table(plan: CuttingPlan) -> Table:
    table = _table("\nLeft over", "part", "#how many", "why")
    for left in plan.unplaced:
        table.add_row(left.need.part, str(left.count), str(left.reason))
    return table


def _buy_table(account: Account, unit: Unit) -> Table:
    table = _table(
        "\nLeft to buy",
        "wood",
        "#finished thickness",
        "#board feet, rough",
        "#m3, rough",
        "#m3, net",
    )
    for line in account.to_buy:
        table.add_row(
            line.species,
            format_length(line.thickness_mm, unit),
            f"{line.rough_board_feet:.1f}",
            f"{line.rough_m3:.4f}",
            f"{line.net_mm3 * 1e-9:.4f}",
        )
    return table


@contextmanager
def live_search(console: Console, *, is_shown: bool) -> Iterator[ProgressLine]:
    """Yield a callback for the search that keeps one line of the terminal up to date."""
    bar = Progress(
        TextColumn("{task.description}"), BarColumn(bar_width=24), console=console,
        transient=True, disable=not is_shown,
    )  # fmt: skip
    with bar:
        yield ProgressLine(bar)


class ProgressLine:
    """One live line: parts placed, value and its bound, yield, rounds, time left."""

    def __init__(self, bar: Progress) -> None:
        self._bar = bar
        self._task = bar.add_task("preparing (a first run compiles its kernels)", total=1.0)

    def __call__(self, progress: SearchProgress) -> None:
        """Show where the search stands."""
        left = "" if progress.seconds_left is None else f", {progress.seconds_left:.0f} s left"
        self._bar.update(
            self._task,
            completed=progress.share_used,
            description=f"{progress.placed} of {progress.wanted} parts placed, "
            f"{_standing(progress.ideal)}, yield {progress.yield_percent:.1f} %, "
            f"round {progress.rounds}{left}",
        )


def _standing(ideal: Ideal) -> str:
    """Return the value placed and the bound that limits the plan just now."""
    if not ideal.is_value_met:
        return f"value {ideal.value:.4g} of at most {ideal.most_value:.4g} ({ideal.limit})"
    opened, least = ideal.opened_mm2, ideal.least_opened_mm2
    return f"value {ideal.value:.4g}, the most; wood {_area(opened)}, at least {_area(least)}"
