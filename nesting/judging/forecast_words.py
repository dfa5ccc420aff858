"""What a forecast says of a parts list, in words and as data."""

from __future__ import annotations

from nesting.judging.forecast import Forecast, PartForecast
from nesting.text_table import TextTable
from nesting.words import counted

OF_CHANCES = (
    "Bounds of a chance are what so few piles leave open. How rot lies in her, nobody knows: on "
    "invented hulls whose rot lay in every plank, or in few, chances about the middle came out up "
    "to 21 points lower, or 15 higher."
)
"""Said with every forecast; measured by ``bench_forecast``, 2026-11-28."""


def forecast_table(found: Forecast) -> TextTable:
    """Return the chance of every part, the unlikeliest first."""
    parts = sorted(found.parts, key=lambda part: part.all_of_it.chance)
    rows = tuple(map(_forecast_row, parts))
    columns = ("part", "#wanted", "#chance of all", "#between", "#to buy, on an average")
    drawn = f"{counted(found.piles, 'pile')} of some {found.boards_mean:.0f} boards"
    title = f"What the pile gives, by {drawn}"
    return TextTable(title, columns, rows)


def _forecast_row(part: PartForecast) -> tuple[str, ...]:
    low, high = part.all_of_it.bounds
    return (
        part.need.part, str(part.need.quantity), f"{100 * part.all_of_it.chance:.0f} %",
        f"{100 * low:.0f} to {100 * high:.0f} %", f"{part.to_buy:.1f}",
    )  # fmt: skip


def forecast_data(part: PartForecast) -> dict[str, object]:
    """Return the chance of a part, as a file has it."""
    low, high = part.all_of_it.bounds
    return {
        "part": part.need.part, "chance": part.all_of_it.chance, "low": low, "high": high,
        "to_buy": part.to_buy,
    }  # fmt: skip
