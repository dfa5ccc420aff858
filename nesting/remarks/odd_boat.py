"""Figures of the boat's construction that she is far too small for, or has no room for."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from nesting.errors import Finding
from nesting.project import Project
from nesting.project.entry import Entry, Findings
from nesting.written_measures import exact_length, format_length

LARGEST_SHARES = {
    ("planking",): 120,
    ("frames", "siding"): 40,
    ("frames", "moulding"): 40,
    ("keel", "siding"): 16,
    ("deck", "thickness"): 100,
    ("clamp", "thickness"): 50,
    ("clamp", "depth"): 12,
    ("beams", "ordinary", "siding"): 30,
    ("beams", "ordinary", "moulding"): 30,
    ("beams", "main", "siding"): 24,
    ("beams", "main", "moulding"): 24,
    ("beams", "half", "siding"): 30,
    ("beams", "half", "moulding"): 30,
    ("house", "height"): 4,
    ("floor_heads",): 8,
    ("transom",): 80,
}
"""What is more than one in so many of her length is hardly built (common practice, no source)."""

CLOSEST_FRAMES_MM, WIDEST_FRAMES_MM = 100.0, 1000.0
"""Frames stand seldom closer or farther apart: 4 in, 39 in (common practice, no source)."""


def odd_boat(project: Project) -> Iterator[Finding]:
    """Yield each figure under ``boat:`` that is hardly meant, where it stands."""
    if project.boat is None or not project.part_entries:
        return
    document = next(iter(project.part_entries.values())).document
    entry = Entry(document, document.data, Findings(), "boat")
    for loc, text in (*_beyond_her(project), *_spacing(project), *_too_large(project)):
        yield entry.finding(("boat", *loc), text)


Odd = Iterator[tuple[tuple[str, ...], str]]


def _beyond_her(project: Project) -> Odd:
    """Yield the first and the last frame, where they stand beyond the hull."""
    assert project.boat is not None
    frames, (fore, aft) = project.boat.plan.frames, project.boat.hull.ends
    last = frames.first_mm + (frames.count - 1) * frames.spacing_mm
    for key, number, x in (("first", 1, frames.first_mm), ("count", frames.count, last)):
        is_told = key == "count" and number == 1
        if not is_told and not fore <= x <= aft:
            place, low, high = (format_length(mm, project.unit) for mm in (x, fore, aft))
            yield (
                ("frames", key),
                f"frame {number} would stand {place} from forward, and the hull runs from {low} "
                f"to {high}: no part can stand there",
            )


def _spacing(project: Project) -> Odd:
    assert project.boat is not None
    spacing = project.boat.plan.frames.spacing_mm
    if not CLOSEST_FRAMES_MM <= spacing <= WIDEST_FRAMES_MM:
        text = f"frames {exact_length(spacing, project.unit)} apart are hardly built"
        yield ("frames", "spacing"), f"{text}: is its unit right?"


def _too_large(project: Project) -> Odd:
    assert project.boat is not None
    fore, aft = project.boat.hull.ends
    for loc, share in LARGEST_SHARES.items():
        mm = _figure(project.boat.plan, loc)
        if mm is not None and mm > (aft - fore) / share:
            given, her = exact_length(mm, project.unit), format_length(aft - fore, project.unit)
            yield (
                loc,
                f"{given} is more than 1 in {share} of her length of {her}, and hardly built: is "
                "its unit right?",
            )


def _figure(plan: Any, loc: tuple[str, ...]) -> float | None:
    """Return a length of the construction plan, mm; None where it says nothing of it."""
    *blocks, name = loc
    for block in blocks:
        plan = getattr(plan, block, None)
    found: float | None = getattr(plan, f"{name}_mm", None)
    return found
