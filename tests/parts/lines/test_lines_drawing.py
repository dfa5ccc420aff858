import numpy as np
import pytest
from lines_tables import WITHY

from nesting.sheets.drawing import Polyline, Role, Text
from nesting.sheets.lines_plan import lines_plan
from nesting.units import Unit
from parts.lines import Face, read_hull
from parts.lines.views import views


@pytest.fixture(scope="module")
def withy():
    return read_hull(WITHY)


@pytest.fixture(scope="module")
def drawn(withy):
    return views(withy)


def of_kind(view, kind):
    return [line for line in view if line.kind == kind]


def test_body_plan_has_fore_body_to_the_right_and_after_body_to_the_left(withy, drawn):
    sections = of_kind(drawn.body, "section")
    assert len(sections) == 13  # the last station is the hull's end
    for line in sections:
        x = next(s.x_mm for s in withy.table.stations if s.name == line.name)
        assert (line.points[-1][0] > 0) == (x < sum(withy.ends) / 2)
        section = withy.section(x, Face.OUTSIDE)
        assert np.abs(line.points) == pytest.approx(section)


def test_half_breadth_plan_has_every_waterline_ending_on_the_rabbet(withy, drawn):
    lines = of_kind(drawn.half_breadth, "waterline")
    assert {line.name for line in lines} == {
        line.name for line in withy.table.lines if line.kind == "waterline"
    }
    low = next(line for line in lines if line.name == "waterline 1-6-0")
    for x, y in (low.points[0], low.points[-1]):
        assert y == pytest.approx(38.1, abs=1.0)
        assert withy.keel(x)[1] == pytest.approx(18 * 25.4, abs=2.0)


def test_profile_has_sheer_rabbet_buttocks_and_transom(drawn):
    kinds = {line.kind for line in drawn.profile}
    assert {"sheer", "rabbet", "buttock", "transom", "grid"} <= kinds


def test_lines_to_the_inside_can_be_drawn_too(withy, drawn):
    inside = views(withy, Face.INSIDE)
    outer, inner = (of_kind(view.body, "section")[6].points[80] for view in (drawn, inside))
    assert abs(inner[0]) < abs(outer[0])


def test_waterlines_bend_without_a_bump(drawn):
    """A fair line: its turning changes sign no more than twice between its ends."""
    for line in of_kind(drawn.half_breadth, "waterline"):
        points = np.array(line.points)
        x = np.linspace(points[0, 0] + 200, points[-1, 0] - 200, 60)
        if len(points) < 40 or x[-1] - x[0] < 2000:
            continue
        bend = np.diff(np.interp(x, *points.T), 2)
        bend[np.abs(bend) < 0.25 * np.abs(bend).mean()] = 0.0
        signs = np.sign(bend[bend != 0])
        assert (np.diff(signs) != 0).sum() <= 2, line.name


def test_the_drawing_holds_all_views_in_its_frame(drawn):
    drawing = lines_plan(
        drawn.body, drawn.profile, drawn.half_breadth, name="Withy", unit=Unit.FOOT
    )
    low_x, low_y, high_x, high_y = drawing.frame
    for entity in drawing.entities:
        if isinstance(entity, Polyline):
            x, y = np.array(entity.points).T
            assert low_x - 1e-6 <= x.min() <= x.max() <= high_x + 1e-6
            assert low_y - 1e-6 <= y.min() <= y.max() <= high_y + 1e-6
        elif isinstance(entity, Text):
            assert low_x <= entity.box[0] <= entity.box[2] <= high_x
    words = " ".join(entity.text for entity in drawing.entities if isinstance(entity, Text))
    assert "Lines of Withy" in words
    assert "24 ft 8 in" in words
    assert drawing.paper == "A3"


def test_views_on_the_drawing_do_not_overlap(drawn):
    drawing = lines_plan(drawn.body, drawn.profile, drawn.half_breadth, name="Withy")
    lines = [entity for entity in drawing.entities if isinstance(entity, Polyline)]
    section = np.diff(of_kind(drawn.body, "section")[0].points, axis=0)
    same = [
        line
        for line in lines
        if len(line.points) == len(section) + 1
        and np.allclose(np.diff(line.points, axis=0), section)
    ]
    assert len(same) == 1
    waterlines = [line for line in lines if line.role is Role.MARK_BOLT]
    highest = max(y for line in waterlines for _, y in line.points)
    assert highest < min(y for _, y in same[0].points)


def test_nothing_on_the_lines_drawing_is_a_cut(drawn):
    drawing = lines_plan(drawn.body, drawn.profile, drawn.half_breadth, name="Withy")
    assert not {entity.role for entity in drawing.entities} & {Role.SAW_OPENING, Role.SAW_OUTLINE}
