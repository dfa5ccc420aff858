"""Knees that lie under the deck: lodging and quarter knees, and breasthooks.

Frame of the outline: the plain knee's. The heel, where the outer edges meet in the marked face,
is the origin; the diagonal to the throat runs up y.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, ClassVar, Literal

import numpy as np
from pydantic import Field, PrivateAttr

from nesting.errors import PartError
from nesting.fields import Size
from parts.boat.places import BoatPlace, middle_beside_frame
from parts.boat.planes import Plane, cut_at, plane_through
from parts.curves import Points
from parts.fitted.knee_faces import Corner
from parts.fitted.knees import AnyKnee, SideKnee

if TYPE_CHECKING:
    from parts.boat.boat import Boat

PAST_TIP = 1.25
"""Edges are drawn so much longer than their arms, to be cut at the tips."""

CUTS = 25
"""Places along a side arm at which the hull is cut."""


class LevelKnee(SideKnee):
    """A knee that lies under the deck, its upper face as the deck lies there."""

    def level_corners(
        self, boat: Boat, beam: Plane, heel_x: float, way: int
    ) -> tuple[Corner, Corner]:
        """Return the corners of the upper and of the lower face.

        Parameters
        ----------
        beam
            Face of the beam or transom that the beam's arm lies on.
        way
            Where the side's arm runs: 1 aft, -1 forward.
        """
        half, height = boat.deck.edge(heel_x)
        inboard = half - self.beam_arm_mm
        far_x = heel_x + way * self.side_arm()
        boat.checked_x(far_x, "the tip of the side arm")
        upper = plane_through(
            np.array([heel_x, half, height]),
            np.array([heel_x, inboard, float(boat.deck.height(heel_x, np.array([inboard]))[0])]),
            np.array([far_x, *boat.deck.edge(far_x)]),
        )
        lower = upper.moved(-self.siding_mm)
        return self._level(boat, upper, beam, way), self._level(boat, lower, beam, way)

    def _level(self, boat: Boat, face: Plane, beam: Plane, way: int) -> Corner:
        section = self.on_side(boat)
        start, along = face.line_with(beam)
        heel = self._heel(section, face, start, along)
        reach = PAST_TIP * self.side_arm()
        x = heel[0] + way * np.linspace(0.0, reach, CUTS)
        low, high = boat.hull.ends
        x = x[(x >= low) & (x <= high)]
        side = np.vstack([heel, cut_at(face, section, x)[1:]])
        inboard = along if along[1] < 0 else -along
        end = heel + PAST_TIP * self.beam_arm_mm * inboard
        return Corner(np.vstack([heel, end]), side)

    def _heel(self, section: Any, face: Plane, start: Points, along: Points) -> Points:
        """Return where the line of the beam's arm meets the side."""
        point = start
        for _ in range(40):
            (on_side,) = cut_at(face, section, np.array([point[0]]))
            moved = start + along * ((on_side[1] - start[1]) / along[1])
            if np.linalg.norm(moved - point) < 1e-7:
                break
            point = moved
        return np.asarray(point)


class FittedLodgingKnee(LevelKnee):
    """A lodging knee between the face of a beam and the side, under the deck."""

    family: ClassVar[str] = "lodging knee"

    beam_size: Literal["ordinary", "main"] = Field(
        "ordinary", description="which of the boat's beams it lies beside"
    )
    beam_siding_mm: Size | None = Field(
        None, description="thickness of its beam; by default the boat's", le=600
    )
    beam_stands: Literal["aft of frame", "forward of frame", "on the line"] = Field(
        "aft of frame", description="where its beam stands"
    )
    lies: Literal["aft of beam", "forward of beam"] = Field(
        "aft of beam", description="on which face of the beam it lies"
    )
    side_arm_mm: Size | None = Field(  # type: ignore[assignment]
        None,
        description="heel to tip along the side; by default up to the beam of the next frame, "
        "sided and standing as its own",
        le=4000,
    )

    _side_arm: float = PrivateAttr(0.0)

    def side_arm(self) -> float:
        """Return the length of the side's arm, given or up to the next beam."""
        return self._side_arm

    def corners(self, boat: Boat, where: BoatPlace) -> tuple[Corner, Corner]:
        """Return the corner of beam and side in the upper and in the lower face."""
        siding = self.beam_siding_mm or boat.beam_size(self.beam_size).siding_mm
        way = 1 if self.lies == "aft of beam" else -1
        x = middle_beside_frame(boat, where, siding, self.beam_stands) + way * siding / 2
        face = Plane(np.array([x, 0.0, 0.0]), np.array([1.0, 0.0, 0.0]))
        self._side_arm = self.side_arm_mm or self._up_to_next(boat, where, siding, x, way)
        return self.level_corners(boat, face, x, way)

    def _up_to_next(self, boat: Boat, where: BoatPlace, siding: float, x: float, way: int) -> float:
        """Return how long a side arm is whose tip just clears the beam of the next frame."""
        number = 0 if where.frame is None else where.frame + way
        if not 1 <= number <= boat.plan.frames.count:
            raise PartError(
                f"there is no frame {'aft' if way > 0 else 'forward'} of {where.label} whose beam "
                "the side arm could end at: give its length, side_arm"
            )
        place = BoatPlace(boat.frame_x(number), f"frame {number}", number)
        following = middle_beside_frame(boat, place, siding, self.beam_stands)
        clear = way * (following - way * siding / 2 - x)
        half = [float(boat.deck.edge(at)[0]) for at in (x, x + way * clear)]
        slope = (half[1] - half[0]) / clear
        # The tip is cut square to the arm: where the side opens, its inner corner is the first.
        return clear * math.hypot(1.0, slope) - self.tip_moulding_mm * max(0.0, slope)


class FittedQuarterKnee(LevelKnee):
    """A quarter knee in the corner of transom and side, under the deck: at the transom."""

    family: ClassVar[str] = "quarter knee"
    arm_names: ClassVar[tuple[str, str]] = ("transom", "side")

    def corners(self, boat: Boat, where: BoatPlace) -> tuple[Corner, Corner]:
        """Return the corner of transom and side in the upper and in the lower face."""
        face = boat.transom_face()
        x = where.x_mm
        for _ in range(40):
            height = boat.deck.edge(x)[1]
            slope = face.normal[2] / face.normal[0]
            moved = float(face.origin[0] - (height - face.origin[2]) * slope)
            if abs(moved - x) < 1e-7:
                break
            x = moved
        return self.level_corners(boat, face, x, -1)


class FittedBreasthook(AnyKnee):
    """A breasthook behind the stem, under the deck: one piece, both its arms along the sides.

    Its fore end is square across the boat at the place named: the after side of stem or apron.
    Arms and throat are measured from there.
    """

    family: ClassVar[str] = "breasthook"
    arm_names: ClassVar[tuple[str, str]] = ("port side", "starboard side")

    arm_mm: Size = Field(description="fore end to tip, along either side", le=4000)

    _cut: float = PrivateAttr(0.0)
    _reach: float = PrivateAttr(0.0)

    def arms(self) -> tuple[float, float]:
        """Return the lengths of both arms from where the sides would meet."""
        return self._reach, self._reach

    def heel_mm(self) -> float:
        """Return how far the fore end lies behind where the sides would meet."""
        return self._cut

    def loose_heel_mm(self) -> float:
        """Return 0: the fore end bears on the stem."""
        return 0.0

    def throat(self) -> float:
        """Return the throat's depth from where the sides would meet."""
        return self.throat_mm + self._cut

    def corners(self, boat: Boat, where: BoatPlace) -> tuple[Corner, Corner]:
        """Return the corner of both sides in the upper and in the lower face."""
        fore = where.x_mm
        aft = boat.checked_x(fore + self.arm_mm, "the tip of the arms")
        heights = [boat.deck.edge(x)[1] for x in (fore, aft)]
        upper = plane_through(
            np.array([fore, 0.0, heights[0]]),
            np.array([fore, 100.0, heights[0]]),
            np.array([aft, 0.0, heights[1]]),
        )
        first = self._side(boat, upper, fore)
        self._cut = float(
            np.linalg.norm(np.array([fore - first[0, 0], 0.0, heights[0] - first[0, 2]]))
        )
        self._reach = self.arm_mm + float(np.linalg.norm(first[1] - first[0]))
        second = self._side(boat, upper.moved(-self.siding_mm), fore)
        return _both_sides(first), _both_sides(second)

    def _side(self, boat: Boat, face: Plane, fore: float) -> Points:
        """Return the starboard side in a face, from where it would meet the other side."""
        x = fore + np.linspace(0.0, PAST_TIP * self.arm_mm, CUTS)
        side = cut_at(face, self.on_side(boat), x[x <= boat.hull.ends[1]])
        run = side[1] - side[0]
        return np.vstack([side[0] - run * side[0, 1] / run[1], side])


def _both_sides(starboard: Points) -> Corner:
    return Corner(starboard * [1.0, -1.0, 1.0], starboard)
