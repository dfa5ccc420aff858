"""What there is to buy, and what a plan costs in wood and hours where rates are stated."""

from __future__ import annotations

from collections.abc import Iterator

from nesting.accounts import buy_words
from nesting.accounts.buying import ToBuy
from nesting.accounts.rough_pieces import Piece
from nesting.rates import Rates
from nesting.shop.folio import Folio
from nesting.shop.list_data import Column, Kind, ShopList
from nesting.shop.list_rows import LONG, WIDE, WOOD, Row

NOT_STATED = "no price stated"


def buying_lists(folio: Folio) -> Iterator[ShopList]:
    """Yield the buy list and, where the project states rates, what it all comes to."""
    yield _to_buy(folio)
    if folio.job.rates is not None:
        yield _money(folio, folio.job.rates)


def ordered_mm3(line: ToBuy, piece: Piece) -> float | None:
    """Return the volume to order for one row of a buy list; None where it is sold by the piece."""
    if line.order_mm3 is None:
        return None
    rough = piece.pieces * piece.length_mm * piece.width_mm * line.thickness_mm
    return rough * (1 + line.rules.defects_percent / 100)


def _to_buy(folio: Folio) -> ShopList:
    rows = list[Row]()
    for line in folio.account.to_buy:
        for piece in line.pieces:
            remarks = buy_words.remarks(piece, line.form, folio.job.unit)
            told = "; ".join(filter(None, (remarks, *line.remarks)))
            rows.append((
                line.species, str(line.form), line.thickness_mm, float(piece.pieces),
                piece.length_mm, piece.width_mm, ordered_mm3(line, piece),
                buy_words.several(piece.part, piece.count), told,
            ))  # fmt: skip
    columns = (
        WOOD, Column("sold as", wide_mm=28.0), Column("thick", Kind.EXACT),
        Column("pieces", Kind.COUNT), LONG, WIDE, Column("to order", Kind.VOLUME),
        Column("for", wide_mm=40.0), Column("remarks", wide_mm=50.0),
    )  # fmt: skip
    return ShopList("buy", "To buy, rough sizes", columns, tuple(rows))


def _money(folio: Folio, rates: Rates) -> ShopList:
    """Return what is bought and worked, line by line, and sums of what prices are stated for."""
    work = list(_work(folio, rates))
    hours = sum(minutes for _, _, minutes in work) / 60.0
    bought = list(_wood(folio, rates))
    rows: list[Row] = [*bought]
    for (name, each), count, minutes in work:
        rows.append((f"{name}: {count} at {each:g} min", minutes / 60.0, None, ""))
    costs = [row[2] for row in bought if row[2] is not None]
    if work:
        cost = None if rates.hour is None else hours * rates.hour
        rows.append(("all work", hours, cost, "" if cost is not None else NOT_STATED))
        costs += [] if cost is None else [cost]
    rows.append(("all that prices are stated for", None, float(sum(costs)), ""))
    saved = _saved(folio, rates)
    if saved:
        rows.append(("wood of the placed parts, bought new, finished sizes", None, saved, "saved"))
    columns = (
        Column("what", wide_mm=90.0), Column("hours", Kind.FIGURE),
        Column(f"cost ({rates.currency})", Kind.FIGURE), Column("note"),
    )  # fmt: skip
    return ShopList("money", "Money and hours, by the project's own rates", columns, tuple(rows))


def _wood(folio: Folio, rates: Rates) -> Iterator[tuple[str, None, float | None, str]]:
    for line in folio.account.to_buy:
        what = f"new wood: {buy_words.heading(line, folio.job.unit)}"
        price = rates.price_of(line.species, line.thickness_mm)
        if line.order_mm3 is None:
            yield what, None, None, "sold by the piece: ask"
        elif price is None:
            yield what, None, None, NOT_STATED
        else:
            yield what, None, price.cost(line.order_mm3), f"{price.price:g} per {price.per}"


def _work(folio: Folio, rates: Rates) -> Iterator[tuple[tuple[str, float], int, float]]:
    """Yield each kind of work that minutes are stated for: what, how often, minutes in all."""
    parts = sum(len(nest.placements) for nest in folio.plan.nests)
    offcuts = sum(len(board.offcuts) for board in folio.account.boards)
    bungs = sum(folio.account.bung_counts.values())
    for name, each, count in (
        ("pieces sawn free", rates.cut_minutes, parts + offcuts),
        ("holes plugged", rates.bung_minutes, bungs),
        ("parts marked out and fitted", rates.part_minutes, parts),
    ):
        if each is not None:
            yield (name, each), count, each * count


def _saved(folio: Folio, rates: Rates) -> float:
    """Return what the placed parts' own wood would cost new, in woods with a price."""
    total = 0.0
    for nest in folio.plan.nests:
        for placement in nest.placements:
            outline = placement.need.outline
            rough = folio.job.rules.new_timber.rough_for(outline.siding_mm)
            if price := rates.price_of(nest.board.species, rough):
                total += price.cost(outline.area_mm2 * outline.siding_mm)
    return total
