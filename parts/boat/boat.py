"""The boat as her parts ask for her: faired lines, frames, keel, deck and clamp.

Frame: x aft, y out from the centreline to starboard, z up, as in :mod:`parts.lines`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from pathlib import Path

import numpy as np

from nesting.errors import PartError, ShapeError
from parts.boat.clamp_face import ClampFace
from parts.boat.deck import Deck, deck_of
from parts.boat.plan import BeamSizeEntry, BoatPlan, ClampEntry
from parts.boat.planes import Plane
from parts.curves import Points, distances_along
from parts.lines import Face, Hull, read_hull

CLAMP_LINES, LEAST_LINES = 4, 6
"""Lines across the clamp from frame to frame, as its planks are laid; too few make no face."""

NEAR_ENOUGH = 1e-6
"""A place at the very end of the hull is in it."""


@dataclass(frozen=True, eq=False)
class Boat:
    """A faired hull with its construction plan."""

    plan: BoatPlan
    hull: Hull

    # ---- along the boat ---------------------------------------------------------------------

    def frame_x(self, number: int) -> float:
        """Return where the middle of a frame stands.

        Raises
        ------
        PartError
            If there is no such frame, or it stands beyond the hull.
        """
        frames = self.plan.frames
        if not 1 <= number <= frames.count:
            raise PartError(
                f"there is no frame {number}: the boat has {frames.count}, frame 1 the foremost"
            )
        return self.checked_x(frames.first_mm + (number - 1) * frames.spacing_mm, f"frame {number}")

    def station_x(self, name: str) -> float:
        """Return where a station of the table stands."""
        stations = {station.name.casefold(): station.x_mm for station in self.hull.table.stations}
        if name.casefold() not in stations:
            names = ", ".join(station.name for station in self.hull.table.stations)
            raise PartError(f"the table of offsets has no station {name}; it has {names}")
        return self.checked_x(stations[name.casefold()], f"station {name}")

    def checked_x(self, x: float, what: str) -> float:
        """Return a place along the boat, if she reaches there."""
        low, high = self.hull.ends
        if not low - NEAR_ENOUGH <= x <= high + NEAR_ENOUGH:
            raise PartError(
                f"{what} lies {x:.0f} mm from forward; the hull runs from {low:.0f} mm to "
                f"{high:.0f} mm"
            )
        return x

    def frames_between(self, fore_mm: float, aft_mm: float) -> tuple[tuple[int, float], ...]:
        """Return number and place of every frame between two places, both included."""
        frames = self.plan.frames
        places = ((n + 1, frames.first_mm + n * frames.spacing_mm) for n in range(frames.count))
        return tuple((n, x) for n, x in places if fore_mm - 1e-6 <= x <= aft_mm + 1e-6)

    @property
    def transom_x(self) -> float:
        """Where the head of the transom stands."""
        return self.checked_x(float(self.transom_face().origin[0]), "the transom")

    def transom_face(self) -> Plane:
        """Return the inner face of the transom, its normal forward."""
        if len(self.hull.table.transom) != 2:
            raise PartError("the table of offsets gives no transom: add its foot and head")
        (foot_x, foot_z), (head_x, head_z) = self.hull.table.transom
        up = np.array([head_x - foot_x, 0.0, head_z - foot_z]) / np.hypot(
            head_x - foot_x, head_z - foot_z
        )
        normal = np.array([-up[2], 0.0, up[0]])
        return Plane(np.array([head_x, 0.0, head_z]), normal).moved(self.plan.transom_mm)

    # ---- surfaces ---------------------------------------------------------------------------

    @property
    def clamp(self) -> ClampEntry:
        """The clamp; asks for it if the file gives none."""
        if self.plan.clamp is None:
            raise PartError("the boat has no clamp: give its thickness and depth under boat:")
        return self.plan.clamp

    def beam_size(self, kind: str) -> BeamSizeEntry:
        """Return the size of a kind of deck beam: ordinary, main or half."""
        found: BeamSizeEntry | None = getattr(self.plan.beams, kind)
        if found is None:
            raise PartError(
                f"the boat gives no size of {kind} beams: give beams: {{{kind}: {{siding, "
                "moulding}} under boat:, or the part's own siding and moulding"
            )
        return found

    @property
    def clamp_below_mm(self) -> float | None:
        """How far below the deck's edge the clamp's upper edge lies, if the file says."""
        below, beams = self.clamp.below_deck_mm, self.plan.beams.ordinary
        if below is not None or beams is None:
            return below
        return beams.end_moulding_mm or beams.moulding_mm

    @cached_property
    def clamp_face(self) -> ClampFace | None:
        """The clamp's inner face, flat across; None where its upper edge is not known."""
        below = self.clamp_below_mm
        if below is None or below >= self.clamp.depth_mm:
            return None
        frames, step = self.plan.frames, self.plan.frames.spacing_mm / CLAMP_LINES
        numbers = np.arange(-CLAMP_LINES, CLAMP_LINES * frames.count + 1).tolist()
        found = [self._across_clamp(frames.first_mm + n * step, below) for n in numbers]
        lines = [line for line in found if line is not None]
        if len(lines) < LEAST_LINES:
            return None
        foot, head = (np.array(each) for each in zip(*lines, strict=True))
        return ClampFace(foot, head, self.clamp.thickness_mm)

    def _across_clamp(self, x: float, below: float) -> tuple[Points, Points] | None:
        """Return the corners of the clamp on the frames at a place, (3,) each, if it is there."""
        try:
            section, edge = self.on_frames.section(x), self.deck.edge(x)[1]
        except ShapeError:  # Past the ends, or so near to them that all is planking.
            return None
        heights = [edge - self.clamp.depth_mm, edge - below]
        if not section[0, 1] < heights[0] < heights[1] <= section[-1, 1]:
            return None
        along = distances_along(section)
        at = np.interp(np.interp(heights, section[:, 1], along), along, section[:, 0])
        foot, head = (np.array([x, y, z]) for y, z in zip(at, heights, strict=True))
        return foot, head

    @cached_property
    def on_frames(self) -> Hull:
        """The inner faces of the frames, as the inside of a hull."""
        return inside_by(self.hull, self.plan.frames.moulding_mm)

    @cached_property
    def on_clamp(self) -> Hull:
        """The inner face of the clamp, as the inside of a hull."""
        return inside_by(self.hull, self.plan.frames.moulding_mm + self.clamp.thickness_mm)

    def face_inside(self, against: str) -> Callable[[float], Points]:
        """Return the half section of what a knee lies against: planking, frames or clamp.

        A clamp is flat across, so its inner face lies a little further in than the curve of the
        frames; below and above it a knee is padded out to its thickness.
        """
        section = self.inside(against).section
        face = self.clamp_face if against == "clamp" else None
        return section if face is None else face.laid_on(section)

    def inside(self, against: str) -> Hull:
        """Return the hull whose inside a part lies against: planking, frames or clamp."""
        return {"frames": lambda: self.on_frames, "clamp": lambda: self.on_clamp}.get(
            against, lambda: self.hull
        )()

    @cached_property
    def deck(self) -> Deck:
        """The deck's under side, that the beams bear."""
        frames = [x for _, x in self.frames_between(*self.hull.ends)] or list(self.hull.ends)
        return deck_of(self.hull, self.plan, (frames[0], frames[-1]))

    # ---- keel and floor heads ---------------------------------------------------------------

    def seat_height(self, x: float) -> float:
        """Return the height of the floors' seat: the keel's top."""
        bearding, top = self.hull.section(x)[0], self.plan.keel.top_mm
        if top is None:
            return float(bearding[1])
        height = self.hull.keel(x, Face.OUTSIDE)[1] + top
        if height <= bearding[1]:
            raise PartError(
                f"the keel's top, {top:g} mm above the rabbet, lies below the planking's inner "
                f"edge in the rabbet at {x:.0f} mm: at least {bearding[1] - height + top:.1f} mm"
            )
        return height

    def seat(self, x: float) -> Points:
        """Return half-breadth and height of the edge of the floors' seat on the keel, (2,).

        The seat is level across the keel's top, out to the inside of the planking.
        """
        if self.plan.keel.top_mm is None:
            return np.array(self.hull.section(x)[0])
        height = self.seat_height(x)
        return np.array([self.hull.half_breadth(x, height), height])

    def head_height(self, x: float) -> float:
        """Return the height of the floors' heads."""
        if self.plan.floor_heads_mm is None:
            raise PartError("the boat has no floor_heads: give their height under boat:")
        return self.seat_height(x) + self.plan.floor_heads_mm

    def clamp_foot(self, x: float) -> float:
        """Return the height of the clamp's lower edge."""
        return self.deck.edge(x)[1] - self.clamp.depth_mm


def inside_by(hull: Hull, depth_mm: float) -> Hull:
    """Return the hull whose inside lies deeper than another's by so much, square to it."""
    surface = hull.surface(Face.INSIDE).moved(-depth_mm)
    table = replace(hull.table, face=Face.INSIDE)
    return Hull(replace(hull.fairing, table=table, surface=surface))


@lru_cache(maxsize=8)
def _boat(plan: BoatPlan, path: Path, _changed: int) -> Boat:
    hull = read_hull(path)
    if plan.planking_mm is not None:
        table = replace(hull.table, planking_mm=plan.planking_mm)
        hull = Hull(replace(hull.fairing, table=table))
    if not hull.table.planking_mm and hull.table.face is Face.OUTSIDE:
        raise PartError(
            "the table goes to the outside of planking and does not say how thick it is: give "
            "planking under boat:"
        )
    return Boat(plan, hull)


def boat_of(plan: BoatPlan, folder: Path) -> Boat:
    """Return the boat of a plan; the same lines unchanged are faired once.

    Raises
    ------
    ProjectFileError
        With everything wrong in the table of offsets.
    ShapeError, PartError
        If table and plan make no boat.
    """
    path = folder / plan.lines
    return _boat(plan, path.resolve(), path.stat().st_mtime_ns if path.is_file() else 0)
