"""What there is to say of parts left over, in words: more time, and what would cure it."""

from __future__ import annotations

import math

from nesting.left_over import Cure, Outlook, Prospect, Remedy
from nesting.sheet_goods import is_sheet_goods
from nesting.units import Unit
from nesting.written_measures import exact_length, length_no_less
from parts.wood.cross_grain import strength_left


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
        Cure.ACROSS: "if it might lie square to the face grain (face_grain: either)",
        Cure.SLOPE: f"at a slope of grain of 1 in {amount:g}{_weakened(amount, remedy.what)}",
        Cure.WOOD: f"if it took {remedy.what}",
        Cure.MOISTURE: f"if it took wood of {amount:g} % moisture",
        Cure.HEARTWOOD: "if it took sapwood",
        Cure.MEMBER: f"if it took what was {remedy.what}",
        Cure.THINNER: f"if it were {enough} thinner",
        Cure.SHORTER: f"if it were about {about} shorter",
        Cure.NARROWER: f"if it were about {about} narrower",
    }[remedy.cure]


def _weakened(run: float, wood: str) -> str:
    """Return what a slope of grain leaves, rounded down; the part's own curve may take more.

    Of sheet goods nothing is said: their plies cross.
    """
    if is_sheet_goods(wood):
        return ""
    if run <= 0:
        return ", which leaves it weaker"
    left = math.floor(100 * strength_left(run).bending)
    return f", which leaves it {left} % of straight-grained bending strength at the most"
