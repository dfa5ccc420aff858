"""Parts that stand in a boat, for the tests of solids, pictures and drawings."""

from dataclasses import dataclass

import numpy as np

from parts.families.beams import DeckBeam
from parts.families.knees import Knee
from parts.part import Part
from parts.position import Position, position

AFT, STARBOARD, UP = np.eye(3)


@dataclass(frozen=True)
class Standing:
    """A plain part set at places in the boat."""

    part: Part
    places: tuple[Position, ...]

    def outline(self):
        return self.part.outline()

    def solid(self):
        return self.part.solid()

    def positions(self):
        return self.places


def beam_at(x_mm: float, span_mm: float = 1200.0, z_mm: float = 1400.0) -> Standing:
    beam = DeckBeam(span=span_mm, siding=45, moulding=70, camber=span_mm / 32, bearing=60)
    return Standing(beam, (position(np.array([x_mm, 0.0, z_mm]), STARBOARD, UP),))


def knee_pair(x_mm: float) -> Standing:
    knee = Knee(
        kind="hanging", siding=50, beam_arm=300, side_arm=350, throat=130, tip_moulding=50, bevel=8
    )
    place = position(np.array([x_mm, 600.0, 1380.0]), -STARBOARD, -UP)
    return Standing(knee, (place, place.twin()))


PARTS = {
    "beam 1": beam_at(2500.0),
    "beam 2": beam_at(3500.0),
    "knee": knee_pair(3600.0),
}
BOARDS = {
    "beam 1": "D-07", "beam 2": "D-07",
    "knee, 1 of 2": "K1/2", "knee, 2 of 2, mirrored": "K2",
}  # fmt: skip
