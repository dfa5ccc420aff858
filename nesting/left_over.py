"""What is told of parts left over: whether more time may help, and what would cure it.

All is data, lengths in mm; :func:`told` puts it in words where the unit is known.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from nesting.given import several, texts
from nesting.units import Unit
from nesting.written_measures import exact_length, length_no_less


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
        The wood, member or kind of flaw that it is about.
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


def told(prospect: Prospect, unit: Unit) -> tuple[str, ...]:
    """Return what there is to say, a sentence each."""
    found = list(prospect.wishes)
    if prospect.lacks_mm is not None:
        lack = length_no_less(prospect.lacks_mm, unit, denominator=32)
        found.append(f"the thickest lacks {lack}")
    if prospect.outlook is not None:
        found.append(_told_outlook(prospect.outlook, " and ".join(prospect.room_on)))
    state = "as it lies" if prospect.outlook in (Outlook.FULL, Outlook.TAKEN) else "while empty"
    found += [
        f"board {remedy.board}, {state}, would hold it {_told_cure(remedy, unit)}"
        for remedy in prospect.remedies
    ]
    return tuple(found)


def _told_outlook(outlook: Outlook, boards: str) -> str:
    if outlook is Outlook.NEVER:
        return "proven for every board: more time cannot help"
    if outlook is Outlook.HARDLY:
        return "tried on every board while empty: more time will hardly help"
    if outlook is Outlook.SOON:
        return f"{boards} still has room for it: the search ended too soon, give it more time"
    alone = f"there is room on {boards} while nothing else lies there"
    if outlook is Outlook.FULL:
        return f"{alone}, but no plan places more value: more time cannot help"
    return f"{alone}: more time may help"


def _told_cure(remedy: Remedy, unit: Unit) -> str:
    """Return a cure in words; lengths are rounded up, so that what is said is enough."""
    amount = remedy.amount or 0.0
    enough = length_no_less(amount, unit, denominator=32)
    about = length_no_less(amount, unit)
    return {
        Cure.PLUGGED: "if it took plugged holes",
        Cure.HIDDEN: "if its faces were hidden and took stains and surface checks",
        Cure.ZONES: "if bungs might lie in its bearing zones",
        Cure.EDGES: f"if bungs might come nearer to its edges than {exact_length(amount, unit)}",
        Cure.A_METRE: f"if it took {amount:.0f} bungs in a metre",
        Cure.SIZES: f"if there were bungs of {enough}",
        Cure.METAL: "if the metal were drawn and left holes",
        Cure.FLAW: f"were it not for {remedy.what}",
        Cure.TURNING: "if it might be turned over",
        Cure.SLOPE: f"at a slope of grain of 1 in {amount:g}, which leaves it weaker",
        Cure.WOOD: f"if it took {remedy.what}",
        Cure.MOISTURE: f"if it took wood of {amount:g} % moisture",
        Cure.HEARTWOOD: "if it took sapwood",
        Cure.MEMBER: f"if it took what was {remedy.what}",
        Cure.THINNER: f"if it were {enough} thinner",
        Cure.SHORTER: f"if it were about {about} shorter",
        Cure.NARROWER: f"if it were about {about} narrower",
    }[remedy.cure]
