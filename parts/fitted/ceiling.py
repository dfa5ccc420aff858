"""Ceiling and clamps fitted to the lines: planks on the inner faces of the frames, laid flat."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np
from pydantic import Field

from nesting.errors import PartError
from nesting.fields import Distance, Size, SlopeOfGrain
from nesting.words import counted
from parts.curves import distances_along
from parts.fitted.bent import BentPlank
from parts.fitted.fitted import Fit, Spread, Stretch
from parts.fitted.laid import Laid, below
from parts.part import Butted

if TYPE_CHECKING:
    from parts.boat.boat import Boat


class FittedCeiling(BentPlank):
    """Strakes of the ceiling from the floor heads to the clamp, each length laid flat.

    At every frame the girth of the frames' inner faces between floor heads and clamp is divided
    by the number of strakes, so that all taper alike. An entry stands for all the strakes it
    names and all their lengths; butts are on frames, and where lists of them are given, strakes
    take them in turn. Butts of neighbours keep three frame spaces apart, and on one frame three
    whole strakes lie between them (parts.butts); lists that break this are remarked on.
    """

    family: ClassVar[str] = "ceiling strake"
    has_neighbours: ClassVar[bool] = True

    thickness_mm: Size = Field(description="finished thickness", le=200)
    of: int = Field(description="number of strakes from floor heads to clamp", ge=1, le=100)
    strakes: int | tuple[int, ...] | None = Field(
        None, description="which of them, from below: 3, or [1, 2]; by default all"
    )
    butts: tuple[int | tuple[int, ...], ...] = Field(
        (),
        description="frames on which strakes are butted, a list for each strake in turn: "
        "[[10, 17], [13, 20], [16], [7]]; neighbours at least three frames apart, so [10, 17] for "
        "all alike is for one strake",
        max_length=20,
    )
    piece: int | None = Field(
        None, description="which length of a strake, from forward; by default all", ge=1
    )
    air_mm: Distance = Field(0.0, description="left open below the clamp", le=1000)
    slope_of_grain: SlopeOfGrain = 12.0

    def thick(self, boat: Boat) -> float:
        """Return its thickness."""
        return self.thickness_mm

    @classmethod
    def spread(cls, given: Mapping[str, Any]) -> Spread:
        """Yield every length of every strake of an entry."""
        strakes = given.get("strakes")
        if strakes is None and isinstance(given.get("of"), int):
            strakes = list(range(1, given["of"] + 1))
        numbers = list(strakes) if isinstance(strakes, list | tuple) else [strakes]
        for number in numbers:
            count = len(_butts_of(given.get("butts", ()), number)) + 1
            pieces = [given["piece"]] if given.get("piece") is not None else range(1, count + 1)
            for piece in pieces:
                name = [f"strake {number}"] if len(numbers) > 1 else []
                name += [f"length {piece}"] if count > 1 else []
                yield ", ".join(name), {**given, "strakes": number, "piece": piece}

    def fitted(self, boat: Boat, where: Stretch) -> Fit:
        """Return one length of one starboard strake."""
        if not isinstance(self.strakes, int) or not 1 <= self.strakes <= self.of:
            raise PartError(
                f"strakes: {self.strakes} is no strake of {self.of}; they count from 1, the lowest"
            )
        fore, aft = where
        butts = _butts_of(self.butts, self.strakes)
        stations = [fore.x_mm, *(boat.frame_x(number) for number in butts), aft.x_mm]
        if stations != sorted(set(stations)):
            raise PartError(
                f"the butts on frames {', '.join(map(str, butts))} must lie between {fore.label} "
                f"and {aft.label}, in order from forward, none twice"
            )
        piece = self.piece or 1
        if piece >= len(stations):
            raise PartError(
                f"piece {piece} of a strake in {counted(len(stations) - 1, 'length')}: give "
                "another butt"
            )
        return self.lay(boat, stations[piece - 1], stations[piece])

    def butted(self) -> Butted | None:
        """Return which length of which strake it is."""
        assert isinstance(self.strakes, int)
        butts, piece = _butts_of(self.butts, self.strakes), self.piece or 1
        sides = ("starboard", "port") if self.side == "both" else (self.side,)
        return Butted(self.of, self.strakes, butts[max(0, piece - 2) : piece], sides)

    def beside_others(self, boat: Boat, laid: Laid) -> Laid:
        """Return it as it closes on the planks beside it: the uppermost on the clamp's foot."""
        if self.strakes != self.of or boat.clamp_face is None:
            return laid
        return below(laid, boat.clamp_face.upward(laid.x))

    def edges(self, boat: Boat, x: float) -> tuple[float, float]:
        """Return the heights of its edges on the inner faces of the frames."""
        section = boat.on_frames.section(x)
        along = distances_along(section)
        heads, clamp = boat.head_height(x), boat.clamp_foot(x) - self.air_mm
        low, high = (float(np.interp(z, section[:, 1], along)) for z in (heads, clamp))
        assert isinstance(self.strakes, int)
        shares = ((self.strakes - 1) / self.of, self.strakes / self.of)
        lower, upper = (
            float(np.interp(low + share * (high - low), along, section[:, 1])) for share in shares
        )
        return lower, upper


def _butts_of(butts: Any, strake: Any) -> tuple[int, ...]:
    """Return the frames on which a strake is butted."""
    if not isinstance(butts, list | tuple) or not butts:
        return ()
    if all(isinstance(one, list | tuple) for one in butts):
        turn = (strake - 1) % len(butts) if isinstance(strake, int) else 0
        return tuple(butts[turn])
    return tuple(butts)


class FittedClamp(BentPlank):
    """A clamp on the inner faces of the frames under the beams, laid flat."""

    family: ClassVar[str] = "clamp"

    below_deck_mm: Distance | None = Field(
        None,
        description="from the deck's under side down to its upper edge; by default the boat's",
        le=1000,
    )
    slope_of_grain: SlopeOfGrain = 12.0

    def thick(self, boat: Boat) -> float:
        """Return the boat's own."""
        return boat.clamp.thickness_mm

    def fitted(self, boat: Boat, where: Stretch) -> Fit:
        """Return the starboard clamp along a stretch."""
        fore, aft = where
        return self.lay(boat, fore.x_mm, aft.x_mm)

    def edges(self, boat: Boat, x: float) -> tuple[float, float]:
        """Return the heights of its edges on the inner faces of the frames."""
        below = boat.clamp_below_mm if self.below_deck_mm is None else self.below_deck_mm
        if below is None:
            raise PartError(
                "the clamp's upper edge is not known: give below_deck, here or for the boat's clamp"
            )
        return boat.clamp_foot(x), boat.deck.edge(x)[1] - below
