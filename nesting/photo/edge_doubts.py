"""Stretches of a board's edge that somebody must look at, each with its place in words.

An edge is doubtful where neither looks nor a plain line part it from the ground, where it was
carried on past what looks like the ground, and where it leaves the fair course of its neighbours on
both sides.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from nesting.photo.band import STEP_MM
from nesting.photo.board_bays import Bridge
from nesting.photo.board_face import Frame
from nesting.photo.edge_band import Edge
from nesting.photo.fair_course import departures
from nesting.photo.line_followed import is_plain_line
from nesting.photo.plan_view import Array, PlanView
from nesting.photo.rings import runs_of

FAINT_NATS, FAINT_MM = 3.0, 40.0
"""What a place must tell to be clear, and how long a stretch may be faint and not be told."""

NEAR_MM = 8.0
"""What is told of one stretch is not told again of another that lies along it."""

LEAST_MM = 6.0
"""Of a stretch that is told."""


WOOD_PAST = (
    "past it looks like the board: another lies against it, its wood goes on past a seam, or it is "
    "its shadow"
)


MUCH_OPEN = "doubtful in several places: something may lie over it, or it is like the ground"

CORNER_MM = 120.0
"""So near an end a doubtful stretch is one of that end: as far as a hand or a glove over a corner
reaches (common practice, no source)."""


@dataclass(frozen=True)
class Stretch:
    """A stretch of the edge: (n, 2) places along it in the board's frame, and what is doubtful."""

    line: Array
    why: str

    @property
    def length(self) -> float:
        """Return how long it is, mm."""
        return float(np.linalg.norm(np.diff(self.line, axis=0), axis=1).sum())


def stretches_of(
    plan: PlanView,
    edge: Edge,
    bridges: Sequence[Bridge],
    frame: Frame,
    outline: Polygon,
    faint_ends: Iterable[Array],
    alike_sides: Iterable[Array] = (),
) -> tuple[Stretch, ...]:
    """Return the doubtful stretches of an edge, those that say most first told alone.

    ``faint_ends``: (n, 2) places of ends along which no sharp line is seen, on the outline;
    ``alike_sides``: (n, 2) places of sides past which it looks like the board.
    """
    kept = list[Stretch]()
    blunt = (Stretch(line, "no sharp line is seen along it") for line in faint_ends)
    goes_on = (Stretch(line, WOOD_PAST) for line in alike_sides)
    for one in (*blunt, *_all(plan, edge, bridges, frame, outline), *goes_on):
        if one.length < LEAST_MM:
            continue
        told = [LineString(other.line).buffer(NEAR_MM) for other in kept]
        rest = LineString(one.line).difference(shapely.union_all(told)) if told else None
        if rest is None or rest.length > 0.5 * one.length:
            kept.append(one)
    joined = joined_at_ends(kept, outline)
    return tuple(sorted(joined, key=lambda one: float(one.line[:, 0].min())))


def joined_at_ends(stretches: Sequence[Stretch], outline: Polygon) -> list[Stretch]:
    """Return stretches, those of one end as one: where several are doubtful, so is what is between.

    So a thing that lies over an end is told by all that it hides, corners and all.
    """
    rest = list(stretches)
    for out in (-1.0, 1.0):
        reach = max(out * x for x, _ in outline.exterior.coords)
        near = [one for one in rest if float((out * one.line[:, 0]).max()) > reach - CORNER_MM]
        if len(near) < 2 or not any(_end_of(one.line, outline) for one in near):
            continue
        line = _round_the_end(near, outline, out)
        rest = [one for one in rest if not any(one is other for other in near)]
        rest.append(Stretch(line, MUCH_OPEN))
    return rest


def _round_the_end(near: Sequence[Stretch], outline: Polygon, out: float) -> Array:
    """Return the places (n, 2) of the edge from the first of an end's stretches to the last."""
    rim = outline.exterior
    corners = np.asarray(rim.coords)
    at_end = rim.project(shapely.Point(corners[np.argmax(out * corners[:, 0])]))
    places = shapely.points(np.concatenate([one.line for one in near]))
    half = rim.length / 2
    along = (np.asarray(rim.project(places)) - at_end + half) % rim.length - half
    count = max(2, int(np.ptp(along) / STEP_MM))
    on_rim = (at_end + np.linspace(along.min(), along.max(), count)) % rim.length
    return shapely.get_coordinates(rim.interpolate(on_rim))


def _all(
    plan: PlanView, edge: Edge, bridges: Sequence[Bridge], frame: Frame, outline: Polygon
) -> Iterator[Stretch]:
    rim = outline.exterior

    def by_edge(places: Array) -> Array:
        """Return the edge by places near it."""
        at = rim.project(shapely.points(frame.of(places)))
        return shapely.get_coordinates(rim.interpolate(at))

    for run in runs_of(edge.burnt):
        yield Stretch(by_edge(edge.places[run]), "burnt out by light, carried on")
    for bridge in bridges:
        if bridge.is_told:
            yield Stretch(by_edge(bridge.line), bridge.why)
    for line in departures(np.asarray(outline.exterior.coords)[:-1]):
        yield Stretch(line, "leaves its fair course: a notch, a step, or a stain")
    for mm, line in edge.cut:
        yield Stretch(by_edge(line), f"a corner is cut off by {mm:.0f} mm, or like the ground")
    for line in edge.unlike:
        yield Stretch(by_edge(line), "may be the edge of its side below, or of its face")
    for run in runs_of(edge.margin < FAINT_NATS):
        if len(run) * STEP_MM > FAINT_MM and not is_plain_line(plan, edge.places[run]):
            yield Stretch(by_edge(edge.places[run]), "hardly differs from the ground")


MUCH_OF_END = 0.3
"""A stretch over so much of the width leaves it open where an end is."""


def doubtful_ends(stretches: Iterable[Stretch], outline: Polygon) -> tuple[str, ...]:
    """Return the ends, ``left`` and ``right``, of which much is doubtful: no length ends there."""
    high = outline.bounds[3]
    ends = {
        _end_of(one.line, outline)
        for one in stretches
        if np.ptp(one.line[:, 1]) > MUCH_OF_END * high
    }
    return tuple(sorted(end for end in ends if end))


def _end_of(line: Array, outline: Polygon) -> str:
    """Return which end a stretch (n, 2) lies along; nothing where it lies along a side."""
    if np.ptp(line[:, 1]) <= np.ptp(line[:, 0]):
        return ""
    return "left" if line[len(line) // 2][0] < outline.bounds[2] / 2 else "right"


def where(stretch: Stretch, outline: Polygon) -> str:
    """Return where a stretch lies, in words."""
    line = stretch.line
    low, high = line.min(axis=0), line.max(axis=0)
    x, y = line[len(line) // 2]
    middle = _middle_at(outline, float(x))
    from_left = f"{max(0.0, low[0]):.0f} to {high[0]:.0f} mm from the left end"
    if end := _end_of(line, outline):
        return f"{end} end, {max(0.0, low[1]):.0f} to {high[1]:.0f} mm up"
    return f"{'upper' if y > middle else 'lower'} side, {from_left}"


def _middle_at(outline: Polygon, x: float) -> float:
    cut = outline.intersection(LineString([(x, -1e4), (x, 1e4)]))
    if cut.is_empty:
        return float(outline.centroid.y)
    return float((cut.bounds[1] + cut.bounds[3]) / 2)


def told_of(stretches: Sequence[Stretch], outline: Polygon, first: int) -> tuple[str, ...]:
    """Return a sentence for each stretch, numbered from ``first``."""
    return tuple(
        f"edge {number}, {where(one, outline)}: {one.why}; look at the wood"
        for number, one in enumerate(stretches, first)
    )
