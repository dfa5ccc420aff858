"""What the terminal shows: the account as tables, the search as a live line.

The only module that knows rich. Nothing here prints by itself: the command line hands in the
consoles.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from rich.console import Console, Group, RenderableType
from rich.progress import BarColumn, Progress, TextColumn
from rich.table import Table
from rich.text import Text

from nesting.account import Account, Shares
from nesting.engine.pack import Progress as SearchProgress
from nesting.nest import CuttingPlan, Nest
from nesting.summary import warnings
from nesting.units import Unit, format_length

CAUTION = (
    "Run a metal detector over every board again before each cut. Old paint may hold lead, and "
    "old bottom paint copper or tin: no dry sanding, no burning. Structural timber is for a "
    "designer's or surveyor's word; local rules come first."
)

SHARES = ("parts", "offcuts", "defects", "kerf_and_trim", "scrap")


def report(plan: CuttingPlan, account: Account, unit: Unit) -> RenderableType:
    """Return the whole summary: boards, totals, bungs, what is left over, what to buy."""
    pieces: list[RenderableType] = [_boards_table(plan, account, unit)]
    pieces.append(_totals(plan, account))
    if account.bung_counts:
        bungs = ", ".join(
            f"{count} of {format_length(size, unit, denominator=32)}"
            for size, count in account.bung_counts.items()
        )
        pieces.append(Text(f"Bungs to set: {bungs}"))
    if plan.unplaced:
        pieces.append(_unplaced_table(plan))
        pieces.append(_buy_table(account, unit))
    pieces += [Text(f"Weigh: {line}") for line in warnings(plan)]
    pieces.append(Text(f"\n{CAUTION}", style="italic"))
    return Group(*pieces)


def _boards_table(plan: CuttingPlan, account: Account, unit: Unit) -> Table:
    table = Table(title="Opened boards", title_justify="left", box=None, pad_edge=False)
    table.add_column("board", no_wrap=True)
    table.add_column("species")
    table.add_column("thick", justify="right", no_wrap=True)
    table.add_column("parts on it", ratio=1)
    for name in ("parts %", "offcuts %", "defects %", "kerf %", "scrap %", "all scrap %"):
        table.add_column(name.replace(" %", "\n%"), justify="right")
    for nest, board in zip(plan.nests, account.boards, strict=True):
        table.add_row(
            nest.board.name,
            nest.board.species,
            format_length(nest.board.thickness_mm, unit),
            _labels(nest),
            *(f"{board.area.percent(share):.1f}" for share in SHARES),
            f"{board.scrap_percent:.1f}",
        )
    table.add_section()
    table.add_row(
        "all", "", "", "",
        *(f"{account.area.percent(share):.1f}" for share in SHARES),
        f"{account.area.scrap_percent:.1f}",
    )  # fmt: skip
    return table


def _labels(nest: Nest) -> str:
    return ", ".join(placement.label for placement in nest.placements)


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


def _unplaced_table(plan: CuttingPlan) -> Table:
    table = Table(title="\nLeft over", title_justify="left", box=None, pad_edge=False)
    table.add_column("part")
    table.add_column("how many", justify="right")
    table.add_column("why")
    for left in plan.unplaced:
        table.add_row(left.need.part, str(left.count), str(left.reason))
    return table


def _buy_table(account: Account, unit: Unit) -> Table:
    table = Table(title="\nLeft to buy", title_justify="left", box=None, pad_edge=False)
    for name in ("species", "finished thickness"):
        table.add_column(name)
    for name in ("board feet, rough", "m3, rough", "m3, net"):
        table.add_column(name, justify="right")
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
    """One live line: parts placed, yield, rounds, time left."""

    def __init__(self, bar: Progress) -> None:
        self._bar = bar
        self._task = bar.add_task("preparing (a first run compiles its kernels)", total=1.0)

    def __call__(self, progress: SearchProgress) -> None:
        """Show where the search stands."""
        left = "" if progress.seconds_left is None else f", {progress.seconds_left:.0f} s left"
        self._bar.update(
            self._task,
            completed=progress.share_used,
            description=f"{progress.placed} of {progress.wanted} parts placed, yield "
            f"{progress.yield_percent:.1f} %, round {progress.rounds}{left}",
        )
