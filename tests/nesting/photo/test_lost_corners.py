"""Which of two lines is a board's end."""

import numpy as np
import pytest
from test_board_bays import rough

from nesting.photo.fair_course import course_of
from nesting.photo.lost_corners import END_REACH_MM, _likeliest_end


@pytest.mark.parametrize(
    ("own", "farther", "end"), [(0.62, 0.8, 0), (0.62, 1.0, 38), (0.3, 0.8, 38)]
)
def test_an_end_that_is_mostly_seen_stands_unless_another_line_is_seen_all_along(own, farther, end):
    ring = rough((0, 0), (1200, 0), (1200, 150), (0, 150))
    sides = course_of(ring - (600.0, 75.0))

    def follow(ways, reach):
        """Give a line 38 mm past the end, of stronger places, to whoever looks that far."""
        far = reach >= END_REACH_MM or ways[:, 0].mean() > 620
        u = 638.0 if far else 600.0
        count = 50
        met = np.column_stack([np.full(count, u), np.linspace(*ways[:, 1], count)])
        share, nats = (farther, 9.0) if far else (own, 7.0)
        return met, np.where(np.arange(count) < share * count, nats, 0.0)

    (u, _), _ = _likeliest_end(sides, 1.0, follow)
    assert u == pytest.approx(600 + end, abs=3.0)
