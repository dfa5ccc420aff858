"""Which patterns a project has: each different outline once, with all the pieces it serves."""

from __future__ import annotations

import base64
import hashlib
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from nesting.job import Job
from nesting.need import Need
from nesting.nest import CuttingPlan
from nesting.outline import Outline
from nesting.words import counted

ALIKE_MM = 0.01
"""Outlines whose corners round to the same hundredth of a mm are one pattern."""

LETTERS = 6
"""Of the word that tells a pattern from others, as long as a plan's."""


@dataclass(frozen=True)
class Pattern:
    """One outline at full size, and the parts that are marked out from it.

    Attributes
    ----------
    number
        From 1, in the order of the parts list.
    needs
        The lines of the parts list that share the outline; the first gives it.
    pieces
        How many are marked out from it, and which of them with the pattern turned over.
    sources
        The boards that give them, and how many are left over; empty without a plan.
    """

    number: int
    needs: tuple[Need, ...]
    pieces: str
    sources: str = ""

    @property
    def outline(self) -> Outline:
        """The outline, as it is seen on the marked face."""
        return self.needs[0].outline

    @property
    def name(self) -> str:
        """The names of all its parts."""
        return "; ".join(need.part for need in self.needs)

    @property
    def notes(self) -> tuple[str, ...]:
        """What else is to be known of its parts, each told once."""
        return tuple(dict.fromkeys(note for need in self.needs for note in need.notes))

    @property
    def identity(self) -> str:
        """A short word: a pattern whose word differs is of another shape."""
        return base64.b32encode(_digest(self.outline))[:LETTERS].decode()


def patterns_of(
    job: Job, needs: Iterable[Need], plan: CuttingPlan | None = None
) -> tuple[Pattern, ...]:
    """Return the patterns of some lines of a parts list; those alike in outline are one."""
    alike = dict[bytes, list[Need]]()
    for need in needs:
        alike.setdefault(_digest(need.outline), []).append(need)
    parts: Mapping[str, Any] = getattr(job, "parts", {})
    sources = _sources(plan) if plan else {}
    return tuple(
        Pattern(
            number,
            tuple(found),
            _pieces(found, parts),
            "; ".join(sources[need.part] for need in found if need.part in sources),
        )
        for number, found in enumerate(alike.values(), start=1)
    )


def _digest(outline: Outline) -> bytes:
    """Return what tells an outline and all that is marked on it from others."""
    marks = [
        (str(mark.kind), _rounded(mark.points), mark.label, _rounded(mark.diameter_mm or 0.0))
        for mark in outline.marks
    ]
    bevels = [
        (b.edge, round(b.angle_deg, 2), _rounded(b.along_mm or 0.0), b.along_from)
        for b in outline.bevels
    ]
    rings = [_rounded(ring.coords) for ring in shapely.get_rings(outline.shape)]
    grain = [round(angle, 2) for angle in outline.grain.angles_deg]
    held = (rings, marks, bevels, _rounded(outline.siding_mm), grain, outline.is_plank)
    return hashlib.sha256(repr(held).encode()).digest()


def _rounded(numbers: Any) -> Any:
    # Adding 0.0 makes -0.0 and 0.0 one.
    return (np.round(np.asarray(numbers, dtype=float) / ALIKE_MM) + 0.0).tolist()


def _pieces(needs: Sequence[Need], parts: Mapping[str, Any]) -> str:
    """Return how many pieces there are in words, and which are the pattern's mirror image."""
    whole = counted(sum(need.quantity for need in needs), "piece")
    sides = list(dict.fromkeys(side for n in needs if (side := _sides(parts.get(n.part)))))
    return f"{whole}: {sides[0]}" if len(sides) == 1 else whole


def _sides(part: Any) -> str:
    """Return how a part's pieces lie to its pattern, if it knows; nothing if not."""
    places = part.positions() if hasattr(part, "positions") else ()
    side = getattr(part, "side", None)
    if len(places) == 2 and any(place.is_mirrored for place in places):
        return "starboard as drawn, port with the pattern turned over"
    return f"{side}, as drawn" if side in ("port", "starboard") else ""


def _sources(plan: CuttingPlan) -> dict[str, str]:
    """Return for each part in words which boards give it, and how many are left over."""
    given = dict[str, Counter[str]]()
    for nest in plan.nests:
        for placement in nest.placements:
            face = " marked face down" if placement.marked_face == "down" else ""
            given.setdefault(placement.need.part, Counter())[f"{nest.board.name}{face}"] += 1
    told = {
        part: [f"{count} from {board}" for board, count in boards.items()]
        for part, boards in given.items()
    }
    for left in plan.unplaced:
        told.setdefault(left.need.part, []).append(f"{left.count} left over or to be bought")
    return {part: ", ".join(found) for part, found in told.items()}
