"""Places in the boat as a builder writes them: ``frame 8``, ``station 5``, ``8 ft 3 in``.

Several at once are ``frames 2 to 14``, ``frames 2 to 14 by 3``, or a list; a stretch, for parts
that run along the boat, is ``frames 4 to 20`` or any two places with ``to`` between them.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from nesting.errors import PartError
from nesting.units import Unit, parse_length
from nesting.unseen import quoted

if TYPE_CHECKING:
    from parts.boat.boat import Boat

_FRAMES = re.compile(r"frames?\s+(\d+)\s+to\s+(?:frame\s+)?(\d+)(?:\s+by\s+(\d+))?")
_NAMED = re.compile(r"(frame|station)s?\s+(\S.*)")

HOW = "write frame 8, station 5, transom, or a length from forward, as 8 ft 3 in"


@dataclass(frozen=True)
class BoatPlace:
    """A plane across the boat: where it lies from forward, and what it is called.

    ``frame`` is the number of the frame whose middle it is, or None.
    """

    x_mm: float
    label: str
    frame: int | None = None


def place_in(boat: Boat, given: Any, unit: Unit) -> BoatPlace:
    """Return one place.

    Raises
    ------
    PartError
        If there is no such frame or station, or the boat does not reach there.
    """
    text = " ".join(str(given).split())
    if text.casefold() == "transom":
        return BoatPlace(boat.transom_x, "transom")
    named = _NAMED.fullmatch(text.casefold())
    if named is None and not re.match(r"[-.\d]", text):
        raise PartError(f"{quoted(text)} is no place in the boat: {HOW}")
    if named is None:
        return BoatPlace(boat.checked_x(parse_length(given, unit), text), text)
    kind, name = named.groups()
    if kind == "station":
        return BoatPlace(boat.station_x(name), f"station {name}")
    if not name.isdigit():
        raise PartError(f"{quoted(text)} is no place in the boat: {HOW}")
    return BoatPlace(boat.frame_x(int(name)), f"frame {int(name)}", int(name))


def middle_beside_frame(boat: Boat, where: BoatPlace, siding_mm: float, stands: str) -> float:
    """Return where the middle of a timber stands, mm from forward.

    Against the after or the forward face of a frame, if it ``stands`` aft or forward of it; with
    its middle on the place if it stands otherwise, or if that is no frame's.
    """
    away = boat.plan.frames.siding_mm / 2 + siding_mm / 2
    way = {"aft of frame": 1.0, "forward of frame": -1.0}.get(stands, 0.0)
    return where.x_mm + way * away if where.frame is not None else where.x_mm


def faces_of(middle_mm: float, siding_mm: float) -> tuple[float, float]:
    """Return where the fore and the after face of a timber stand."""
    return middle_mm - siding_mm / 2, middle_mm + siding_mm / 2


def written_places(given: Any) -> tuple[Any, ...]:
    """Return each place that is written, a range of frames taken apart.

    >>> written_places("frames 2 to 8 by 3")
    ('frame 2', 'frame 5', 'frame 8')
    """
    if isinstance(given, list | tuple):
        return tuple(place for one in given for place in written_places(one))
    numbers = _FRAMES.fullmatch(" ".join(str(given).casefold().split()))
    if numbers is None:
        return (given,)
    first, last, step = int(numbers[1]), int(numbers[2]), int(numbers[3] or 1)
    if last < first or step < 1:
        raise PartError(
            f"{quoted(given)} runs forward; frames count from forward, the lower comes first"
        )
    return tuple(f"frame {number}" for number in range(first, last + 1, step))


def stretch_in(boat: Boat, given: Any, unit: Unit) -> tuple[BoatPlace, BoatPlace]:
    """Return the two ends of a stretch, the forward one first.

    Raises
    ------
    PartError
        If it is none, names every so many frames, has no length, or runs forward.
    """
    text = " ".join(str(given).split())
    if every := re.search(r"(?i)\s+by\s+\d+$", text):
        raise PartError(
            f"{quoted(given)}: one piece runs along the whole stretch: leave out{every[0]}"
        )
    ends = re.split(r"\s+to\s+", re.sub(r"(?i)^frames ", "frame ", text))
    if len(ends) != 2:
        raise PartError(
            f"{quoted(given)} is no stretch of the boat: write frames 4 to 20, or two places with "
            "to between them"
        )
    if ends[1].isdigit() and ends[0].casefold().startswith("frame "):
        ends[1] = f"frame {ends[1]}"
    fore, aft = (place_in(boat, end, unit) for end in ends)
    if fore.x_mm == aft.x_mm:
        raise PartError(f"{quoted(given)} begins and ends at one place: write two")
    if fore.x_mm > aft.x_mm:
        raise PartError(f"{quoted(given)} runs forward: write the forward end first")
    return fore, aft
