from __future__ import annotations

import math
import re

import pytest

from nesting.sheets.drawing import (
    Anchor,
    Arrow,
    Circle,
    Polyline,
    Role,
    Text,
    arrow_lines,
    moved,
)
from nesting.sheets.lettering import text_width, wrapped
from nesting.sheets.picture import flattened


@pytest.mark.parametrize(
    ("anchor", "low", "high"),
    [(Anchor.LEFT, 10.0, 10.0 + 8.9), (Anchor.CENTRE, 5.55, 14.45), (Anchor.RIGHT, 1.1, 10.0)],
)
def test_text_box_hangs_on_its_anchor(anchor: Anchor, low: float, high: float) -> None:
    box = Text("80", (10.0, 0.0), 5.0, Role.NOTE, anchor).box
    assert box[0] == pytest.approx(low)
    assert box[2] == pytest.approx(high)
    assert box[1] < 0.0 < 5.0 < box[3]


@pytest.mark.parametrize(
    "text", ["deck beam half.2", "7 ft 4 1/2 in", "GWM@% wide", "Ø3/8 (b12)", "illicit, jill"]
)
def test_reckoned_width_is_never_less_than_that_of_a_wide_face(text: str) -> None:
    textpath = pytest.importorskip("matplotlib.textpath")
    fonts = pytest.importorskip("matplotlib.font_manager")
    font = fonts.FontProperties(family="DejaVu Sans")
    capital = textpath.TextPath((0, 0), "H", size=100, prop=font).vertices[:, 1].max()
    drawn = textpath.TextPath((0, 0), text, size=100, prop=font).vertices[:, 0].max()
    reckoned = text_width(text, float(capital))
    assert drawn <= reckoned <= 1.3 * drawn


def test_wrapped_lines_keep_every_word_and_the_width() -> None:
    text = "starboard, sheer strake, aft of frame 12, from the upper deck"
    lines = wrapped(text, 2.5, 40.0)
    assert " ".join(lines) == text
    assert len(lines) > 1
    assert all(text_width(line, 2.5) <= 40.0 for line in lines)


def test_a_word_wider_than_the_line_is_cut_and_nothing_of_it_lost() -> None:
    lines = wrapped("Oberdeckslukensüllbalken", 2.5, 20.0)
    assert "".join(lines) == "Oberdeckslukensüllbalken"
    assert all(text_width(line, 2.5) <= 20.0 for line in lines)


def test_moved_entities_scale_about_the_origin_then_shift() -> None:
    circle = moved(Circle((1.0, 2.0), 3.0, Role.HOLE), 10.0, (100.0, 0.0))
    assert isinstance(circle, Circle)
    assert (circle.centre, circle.radius_mm) == ((110.0, 20.0), 30.0)
    text = moved(Text("a", (1.0, 1.0), 2.5, Role.NOTE), 4.0, (0.0, 1.0))
    assert isinstance(text, Text)
    assert (text.at, text.height_mm) == ((4.0, 5.0), 10.0)


def test_a_double_arrow_has_a_shaft_and_two_heads() -> None:
    lines = arrow_lines(Arrow((0.0, 0.0), (10.0, 0.0), 2.0, Role.GRAIN, is_double=True))
    shaft, first, second = (line.points for line in lines)
    assert shaft == ((0.0, 0.0), (10.0, 0.0))
    assert first[1] == (10.0, 0.0)
    assert second[1] == (0.0, 0.0)
    assert all(math.dist(head[0], head[1]) == pytest.approx(2.0) for head in (first, second))
    for (one, tip, other), onto_shaft in ((first, -1.0), (second, 1.0)):
        assert 1.8 < onto_shaft * (one[0] - tip[0]) < 2.0
        assert one == pytest.approx((other[0], -other[1]))
        assert one[1] != 0.0


def test_a_bulge_of_one_is_a_half_circle_to_the_right() -> None:
    line = Polyline(((0.0, 0.0), (0.0, 10.0)), Role.GROOVE, bulges=(1.0, 0.0))
    points = flattened(line)
    assert points[0] == (0.0, 0.0)
    assert points[-1] == pytest.approx((0.0, 10.0))
    assert max(x for x, _ in points) == pytest.approx(5.0, abs=0.01)
    assert all(math.dist(point, (0.0, 5.0)) == pytest.approx(5.0) for point in points)


def test_number_in_a_list_of_parts_stands_in_the_line_of_its_name():
    parts = "; ".join(f"{n} plank, {n} of 30" for n in range(1, 31))
    for wide in (30.0, 41.0, 57.0, 92.0):
        lines = wrapped(parts, 2.5, wide)
        assert all(not re.search(r"; \d+$", line) for line in lines), wide
        assert " ".join(lines) == parts
