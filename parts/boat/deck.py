"""The under side of the deck: what the beams' upper edges are shaped to."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nesting.errors import PartError
from parts.boat.plan import BoatPlan, DeckCrown
from parts.curves import Crown, Points
from parts.lines import Hull


@dataclass(frozen=True, eq=False)
class Deck:
    """The under side of the deck, at any place.

    Attributes
    ----------
    mould
        The beam mould.
    thickness_mm
        Of the decking, below the sheer.
    crown
        How the beams along the boat get their crown.
    middle
        Two points (x, height) that a straight centreline runs through.
    """

    hull: Hull
    mould: Crown
    thickness_mm: float
    crown: DeckCrown
    middle: tuple[tuple[float, float], tuple[float, float]] | None = None

    def edge(self, x: float) -> tuple[float, float]:
        """Return half-breadth and height of the deck's edge, at the inside of the planking."""
        half, height = self.hull.sheer(x)
        return half, height - self.thickness_mm

    def crown_at(self, x: float) -> Crown:
        """Return the crown of the deck at a place, over the breadth there."""
        half, height = self.edge(x)
        return Crown(2 * half, self._rise(x, half, height), self.mould.shape)

    def _rise(self, x: float, half: float, height: float) -> float:
        if self.crown is DeckCrown.CONSTANT_CAMBER:
            return self.mould.rise_mm
        if self.crown is DeckCrown.ONE_MOULD:
            if half > self.mould.span_mm / 2 + 1e-6:
                raise PartError(
                    f"the deck is {2 * half:.0f} mm wide at {x:.0f} mm, the beam mould only "
                    f"{self.mould.span_mm:g} mm: give the mould of the longest beam"
                )
            middle, edge = self.mould.height(np.array([0.0, half]))
            return float(middle - edge)
        assert self.middle is not None
        (fore, fore_z), (aft, aft_z) = self.middle
        rise = fore_z + (aft_z - fore_z) * (x - fore) / (aft - fore) - height
        if not 0 <= rise <= half / 2:
            raise PartError(
                f"a straight centreline would crown the beam at {x:.0f} mm by {rise:.0f} mm over "
                f"{2 * half:.0f} mm: this sheer is too hollow for it; choose another crown"
            )
        return rise

    def height(self, x: float, y: Points) -> Points:
        """Return the heights of the deck's under side at distances from the centreline.

        Past the edge the crown runs on, as far as its curve goes.
        """
        crown = self.crown_at(x)
        reach = np.clip(np.abs(y), 0.0, self.mould.span_mm / 2)
        if self.crown is DeckCrown.ONE_MOULD:
            edge = self.mould.height(np.array([crown.span_mm / 2]))
            return np.asarray(self.edge(x)[1] + self.mould.height(reach) - edge)
        return np.asarray(self.edge(x)[1] + crown.height(np.minimum(reach, crown.span_mm / 2)))


def deck_of(hull: Hull, plan: BoatPlan, ends: tuple[float, float]) -> Deck:
    """Return the deck of a plan; ``ends`` are where a straight centreline is held."""
    given, table = plan.beam_mould, hull.table.crown
    mould = Crown(given.span_mm, given.camber_mm, given.curve) if given else table
    if mould is None:
        raise PartError(
            "there is no beam mould: give beam_mould, its span and camber, under boat:, or the "
            "crown in the table of offsets"
        )
    deck = Deck(hull, mould, plan.deck.thickness_mm, DeckCrown.ONE_MOULD)
    if plan.deck.crown is DeckCrown.ONE_MOULD:
        return deck
    heights = [float(deck.height(x, np.zeros(1))[0]) for x in ends]
    middle = ((ends[0], heights[0]), (ends[1], heights[1]))
    return Deck(hull, mould, plan.deck.thickness_mm, plan.deck.crown, middle)
