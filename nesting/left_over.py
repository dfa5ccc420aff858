"""What is found out of parts left over: whether more time may help, and what would cure it.

All is data, lengths in mm; ``accounts.left_over_words`` puts it in words where the unit is known.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from nesting.given import several, texts


class Outlook(StrEnum):
    """Whether more time may help."""

    NEVER = "never"
    """Wood, thickness, sizes and areas prove that no board can hold it."""

    HARDLY = "hardly"
    """On no board, while empty, has any of the ways of laying it that are tried any room."""

    FULL = "full"
    """Boards that could hold it hold other parts, and no plan places more value."""

    TAKEN = "taken"
    """Boards that could hold it hold other parts."""

    SOON = "soon"
    """A board has room for it beside what lies there."""


class Cure(StrEnum):
    """The one rule that would have to give for a board to hold a part."""

    PLUGGED = "plugged holes"
    HIDDEN = "hidden faces"
    ZONES = "bearing zones"
    EDGES = "distance of bungs from edges"
    A_METRE = "bungs in a metre"
    SIZES = "sizes of bungs"
    METAL = "metal drawn"
    FLAW = "flaw"
    TURNING = "turned over"
    ACROSS = "across the face grain"
    SLOPE = "slope of grain"
    WOOD = "another wood"
    MOISTURE = "moisture"
    HEARTWOOD = "heartwood"
    MEMBER = "previous use"
    THINNER = "thickness"
    SHORTER = "length"
    NARROWER = "width"


@dataclass(frozen=True)
class Remedy:
    """A board that would hold a part if one rule gave.

    Attributes
    ----------
    amount
        What it would have to give to: mm, or bungs in a metre, or the run of a slope, or per
        cent of moisture; None where there is no such figure.
    what
        The wood, member or kind of flaw that it is about; of a slope of grain the board's wood.
    """

    cure: Cure
    board: str
    amount: float | None = None
    what: str = ""


@dataclass(frozen=True)
class Prospect:
    """What was found out about a part left over.

    Attributes
    ----------
    outlook
        None where nobody looked.
    room_on
        Boards that have room for it, a few: as they lie if the outlook is SOON, else while empty.
    remedies
        Found on boards as they lie where it has room while they are empty, else on empty ones.
    lacks_mm
        Where every board is too thin: what the thickest lacks.
    wishes
        What wishes have to do with it, a sentence each.
    """

    outlook: Outlook | None = None
    room_on: tuple[str, ...] = ()
    remedies: tuple[Remedy, ...] = ()
    lacks_mm: float | None = None
    wishes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "room_on", texts(self.room_on, "room_on"))
        object.__setattr__(self, "wishes", texts(self.wishes, "wishes"))
        object.__setattr__(self, "remedies", several(self.remedies, Remedy, "remedies"))


NOT_LOOKED_AT = Prospect()
