"""The form of a project's rates: what wood and work cost."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

from pydantic import Field

from nesting.fields import FileModel, Size
from nesting.project.entry import Entry
from nesting.project.file_types import Name
from nesting.project.setting import Woods
from nesting.rates import Measure, Rates, WoodPrice

Price = Annotated[float, Field(ge=0, le=1e9, allow_inf_nan=False)]
Minutes = Annotated[float, Field(ge=0, le=10_000, allow_inf_nan=False)]


class WoodPriceEntry(FileModel):
    """Price of one wood."""

    species: Name = Field(description="wood, named as in the parts list")
    thickness_mm: Size | None = Field(
        None, description="rough, as sold, that the price holds for; for every one if not given"
    )
    price: Price = Field(description="in the currency, for one of per")
    per: Measure = Field(description="what the price is for: board foot or m3")


class RatesEntry(FileModel):
    """What wood and work cost: the lists reckon in money and hours where it is stated."""

    currency: Name = Field(description="written behind every sum: EUR, $")
    wood: tuple[WoodPriceEntry, ...] = Field((), description="prices of new wood")
    hour: Price | None = Field(None, description="an hour of work, in the currency")
    minutes_per_cut: Minutes | None = Field(
        None, description="to saw one piece out of its board, a part or an offcut"
    )
    minutes_per_bung: Minutes | None = Field(None, description="to ream and plug one hole")
    minutes_per_part: Minutes | None = Field(
        None, description="for all other work on one part: marking out, planing, fitting"
    )

    def rates(self, top: Entry, woods: Woods) -> Rates:
        """Return the rates, in the vocabulary of the account; a wood not known is noted."""
        return Rates(
            self.currency, tuple(self._prices(top, woods)), self.hour,
            self.minutes_per_cut, self.minutes_per_bung, self.minutes_per_part,
        )  # fmt: skip

    def _prices(self, top: Entry, woods: Woods) -> list[WoodPrice]:
        found: list[WoodPrice] = []
        for number, given in enumerate(self.wood):
            species = woods.named(given.species)
            if species is None:
                wrong = woods.unknown(given.species)
            else:
                price = WoodPrice(species, given.price, given.per, given.thickness_mm)
                wrong = _stated_before(price, found)
                found.append(price)
            if wrong:
                top.note(("rates", "wood", number, "species"), f"rates: {wrong}")
        return found


def _stated_before(price: WoodPrice, before: Sequence[WoodPrice]) -> str:
    """Return what is wrong with a price of a wood that has one already; empty if none has."""
    for first in before:
        if first.species == price.species and first.is_for(price.thickness_mm):
            mm = price.thickness_mm
            thickness = "every thickness" if mm is None else f"{mm:g} mm"
            return f"{price.species} has a price for {thickness} already, {first}; keep one"
    return ""
