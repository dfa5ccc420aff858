"""A plan and its account as tables on the terminal."""

from __future__ import annotations

import math
from collections.abc import Iterator

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from nesting.accounts.account import Account, Shares
from nesting.accounts.left_over_words import told
from nesting.accounts.strength import MUCH_WEAKENED, PieceStrength
from nesting.accounts.weigh import WORDS, out_of_the_ordinary, steep_as_usual
from nesting.console.bare_tables import bare_table as _table
from nesting.console.buy_tables import buy_tables
from nesting.console.terminal import cautions
from nesting.ideal import Ideal
from nesting.nest import CuttingPlan
from nesting.units import Unit
from nesting.words import counted, first_few, whole_percent
from nesting.written_measures import exact_length, format_area, taped_length

MOST_NAMED = 8
"""A plan names no more weak pieces than this."""

SHARES = ("parts", "offcuts", "defects", "kerf_and_trim", "oddments")


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
            taped_length(nest.board.thickness_mm, unit),
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
    """Return which pieces are out of the ordinary for their cross grain, and how many are steep."""
    said = [*_steep_named(plan, account), *_steep_counted(plan, account)]
    if not said:
        return []
    alternative = (
        "Grown or laminated pieces are the alternative. Every sheet has each piece's run-out and "
        "strength left."
    )
    return [Text("\nWeigh before sawing", style="bold"), Text(" ".join([*said, alternative]))]


def _steep_named(plan: CuttingPlan, account: Account) -> Iterator[str]:
    steep = out_of_the_ordinary(plan, account.pieces)
    if not steep:
        return
    yield f"{WORDS}: {first_few([_steepness(one) for one in steep], MOST_NAMED, '; ')}."


def _steep_counted(plan: CuttingPlan, account: Account) -> Iterator[str]:
    usual = steep_as_usual(plan, account.pieces)
    if not usual:
        return
    keep = f"{counted(len(usual), 'piece')} {'keeps' if len(usual) == 1 else 'keep'}"
    yield (
        f"As is usual among pieces like them, {keep} less than half of straight-grained bending "
        f"strength, the worst {_steepness(usual[0])}; salvage-nest strength names every one."
    )


def _steepness(piece: PieceStrength) -> str:
    return f"{piece.piece}: 1 in {piece.run:.1f}, {whole_percent(piece.left_by_grain)} % left"


def _holes_note(account: Account) -> list[RenderableType]:
    """Return which pieces old holes weaken much, if they do any."""
    weak = sorted(
        (piece.left_by_holes, piece.piece)
        for piece in account.pieces
        if piece.left_by_holes < MUCH_WEAKENED
    )
    if not weak:
        return []
    told = [f"{name}: {whole_percent(left)} %" for left, name in weak]
    return [
        Text(
            f"\nOld holes leave these less than {whole_percent(MUCH_WEAKENED)} % of the bending "
            f"strength of whole wood, beams evenly loaded: {first_few(told, MOST_NAMED, '; ')}. "
            "The strength command says where, and how that is reckoned."
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
    return f"{value} ({ideal.limit}). {_how_much_wood(ideal, unit)}"


def _how_much_wood(ideal: Ideal, unit: Unit) -> str:
    opened = format_area(ideal.opened_mm2, unit)
    if ideal.opened_mm2 <= 0:
        return "No board is opened."
    if not ideal.is_wood_reckoned:
        return (
            f"This plan opens {opened} of wood; how much it takes at the least was not reckoned "
            "in the time."
        )
    return (
        f"Proven: to place as much takes at least {format_area(ideal.least_opened_mm2, unit)} of "
        f"opened wood; this plan opens {opened}. Whether any plan lies between is not known."
    )


def _floor(percent: float) -> str:
    """Return per cent with one digit, never rounded up."""
    return f"{math.floor(percent * 10) / 10:.1f}"


def _unplaced_table(plan: CuttingPlan, unit: Unit) -> Table:
    table = _table("\nLeft over", "part", "#how many", "why, and what would help")
    for column in table.columns:
        column.vertical = "top"
    for left in plan.unplaced:
        table.add_row(left.need.part, str(left.count), str(left.reason))
        for sentence in told(left.prospect, unit):
            table.add_row("", "", sentence)
    return table
