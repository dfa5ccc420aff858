"""Where timbers stand beside their frame: one rule for floors, beams and knees."""

from types import SimpleNamespace

import pytest

from parts.boat.places import BoatPlace, faces_of, middle_beside_frame

BOAT = SimpleNamespace(plan=SimpleNamespace(frames=SimpleNamespace(siding_mm=30.0)))
FRAME, STATION = BoatPlace(1000.0, "frame 3", 3), BoatPlace(1000.0, "station 3")


@pytest.mark.parametrize(
    ("where", "stands", "faces"),
    [
        (FRAME, "aft of frame", (1015.0, 1065.0)),
        (FRAME, "forward of frame", (935.0, 985.0)),
        (FRAME, "on the line", (975.0, 1025.0)),
        (FRAME, "on frames", (975.0, 1025.0)),
        (STATION, "aft of frame", (975.0, 1025.0)),
        (STATION, "forward of frame", (975.0, 1025.0)),
    ],
)
def test_a_timber_lies_against_a_face_of_its_frame_or_with_its_middle_on_the_place(
    where, stands, faces
):
    assert faces_of(middle_beside_frame(BOAT, where, 50.0, stands), 50.0) == faces
