"""Which pieces run into each other in the boat, measured on all cores and told in words."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from nesting.errors import ShapeError
from nesting.processes.all_cores import on_all_cores
from nesting.units import Unit
from nesting.words import counted
from nesting.work import Step, Tell, untold
from nesting.written_measures import format_small_volume

if TYPE_CHECKING:
    from parts.boat.boat import Boat
    from parts.model.meeting import Overlap
    from parts.model.piece import Piece

MANY_PIECES = 30
"""From so many pieces on, all cores look: starting processes takes as long as fewer take here."""

WORST = 5
"""So many pairs are named unless all are asked for."""


@dataclass(frozen=True)
class Meetings:
    """The pairs of pieces that run into each other, the worst first.

    ``unread`` are the pieces that could not be looked at, their solids having gaps.
    """

    pieces: int
    pairs: tuple[Overlap, ...]
    unread: tuple[str, ...] = ()


def meetings_of(pieces: Sequence[Piece], on_progress: Tell = untold) -> Meetings:
    """Return which of a boat's pieces run into each other."""
    from parts.model.meeting import overlaps
    from parts.model.sections import Skin, skin_of_solid

    skins, unread = dict[str, Skin](), list[str]()
    for number, piece in enumerate(pieces):
        step = Step("looking which pieces run into each other", number, len(pieces))
        on_progress(step)
        try:
            skins[piece.label] = skin_of_solid(piece.solid)
        except ShapeError:
            unread.append(piece.label)
    spread = _on_all_cores if len(skins) >= MANY_PIECES else map
    return Meetings(len(pieces), overlaps(skins, spread), tuple(unread))


def _on_all_cores(work: Callable[[Any], Any], things: Sequence[Any]) -> Iterable[Any]:
    return on_all_cores(work, things)


def meeting_lines(found: Meetings, boat: Boat, unit: Unit, *, are_all: bool = False) -> list[str]:
    """Return what to tell of them: how many, and the worst or all with their places."""
    from parts.boat.whereabouts import whereabouts

    pieces = counted(found.pieces, "piece")
    gaps = [
        f"{label}: its solid is not closed, so whether it runs into others was not looked at"
        for label in found.unread
    ]
    if not found.pairs:
        none = f"no two of the {pieces} run into each other" if found.pieces > 1 else ""
        return [line for line in (none, *gaps) if line]
    lines = [f"{counted(len(found.pairs), 'pair')} of the {pieces} run into each other:"]
    shown = found.pairs if are_all else found.pairs[:WORST]
    for pair in shown:
        where = whereabouts(boat, pair.low, pair.high, unit)
        most = f" and in {counted(pair.places - 1, 'more place')}" if pair.places > 1 else ""
        volume = format_small_volume(pair.volume_mm3, unit)
        lines.append(f"  {volume}: {pair.first} and {pair.second}, {where}{most}")
    if len(shown) < len(found.pairs):
        left = counted(len(found.pairs) - len(shown), "more pair")
        lines.append(f"  and {left}: --all-pairs names them")
    return [*lines, *gaps]
