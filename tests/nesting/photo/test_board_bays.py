"""Bays and corners that look like the ground are bridged, and told with their place."""

import numpy as np
import pytest
from shapely.geometry import LinearRing, Point, Polygon

from nesting.photo.board_bays import bridged
from nesting.photo.board_face import Frame
from nesting.photo.edge_band import Edge
from nesting.photo.edge_doubts import Stretch, doubtful_ends, stretches_of, told_of
from nesting.photo.fair_course import departures
from nesting.photo.plan_view import PlanView
from nesting.photo.rings import resampled

MM, LEFT, TOP = 1.0, -100.0, 300.0
GROUND, WOOD = (90, 80, 70), (90, 130, 165)
BOARD = [(0, 0), (1200, 0), (1180, 150), (15, 150)]


def plan(*painted, line=8.0, more=()):
    """Return a plan of a board with patches painted like the ground, darker by so much; ``more``:
    rings of other shades.
    """
    chance = np.random.default_rng(3)
    shown = np.tile(np.array(GROUND, float), (420, 1420, 1))
    columns, rows = np.meshgrid(LEFT + MM * np.arange(1420), TOP - MM * np.arange(420))
    patches = [(ring, np.subtract(GROUND, line)) for ring in painted]
    for ring, shade in ((BOARD, WOOD), *patches, *more):
        ahead = zip(ring, (*ring[1:], ring[0]), strict=True)
        sides = [
            (u - x) * (rows - y) - (v - y) * (columns - x) > 0 for (x, y), (u, v) in ahead
        ]  # fmt: skip
        shown[np.logical_and.reduce(sides)] = shade
    shown += chance.normal(0, 3.0, (*shown.shape[:2], 1))
    picture = np.clip(shown, 0, 255).astype(np.uint8)
    seen = np.ones(picture.shape[:2], bool)
    return PlanView(picture, seen, ~seen, LEFT, TOP, MM)


def rough(*corners):
    """Return a rough ring: rounded corners, a place each three millimetres."""
    soft = Polygon(corners).buffer(-10).buffer(20).buffer(-10)
    ring = resampled(np.asarray(soft.exterior.coords)[:-1], 3.0)
    return ring if LinearRing(ring).is_ccw else ring[::-1]


def off(ring, *places):
    """Return how far places lie off a ring at most."""
    rim = LinearRing(ring)
    return max(rim.distance(Point(place)) for place in places)


BAY = [(600, 100), (800, 100), (800, 150), (600, 150)]
WITH_BAY = [*BOARD[:3], (800, 150), (780, 100), (620, 100), (600, 150), BOARD[3]]


def test_a_painted_bay_is_bridged_along_its_side_and_told():
    made = bridged(plan(BAY), rough(*WITH_BAY))
    assert off(made.ring, (650, 150), (700, 150), (750, 150)) < 2.0
    (bridge,) = made.bridges
    assert bridge.seen > 0.9 and not bridge.is_told
    (bay,) = made.bays
    assert Polygon(bay).contains(Point(700, 125))


def test_a_short_bay_is_bridged_though_no_line_is_seen_and_a_long_one_is_left():
    bare = plan(BAY, line=0.0)
    short = bridged(bare, rough(*WITH_BAY))
    assert off(short.ring, (700, 150)) < 2.0 and short.bridges[0].seen < 0.5
    assert short.bridges[0].is_told
    long = [*BOARD[:3], (900, 150), (880, 100), (420, 100), (400, 150), BOARD[3]]
    bay = [(400, 100), (900, 100), (900, 150), (400, 150)]
    left = bridged(plan(bay, line=0.0), rough(*long))
    assert not left.bridges and off(left.ring, (650, 100)) < 2.0
    assert off(bridged(plan(bay), rough(*long)).ring, (650, 150)) < 2.0


CORNER = [(15, 150), (0, 100), (60, 90), (80, 150)]
WITHOUT_CORNER = [(0, 0), (1200, 0), (1180, 150), (80, 150), (60, 90), (8, 85)]


def test_a_painted_corner_is_bridged_where_lines_are_seen_and_a_sawn_one_is_not():
    painted = [(7, 85), (65, 85), (80, 150), (15, 150)]
    made = bridged(plan(painted), rough(*WITHOUT_CORNER))
    assert off(made.ring, (15, 150)) < 3.0 and len(made.bridges) == 2
    sawn = bridged(plan(painted, line=0.0), rough(*WITHOUT_CORNER))
    assert not sawn.bridges and off(sawn.ring, (15, 150)) > 15


def test_a_whole_end_is_bridged_where_the_ring_lies_on_it_nowhere():
    painted = [(1060, 150), (1160, 30), (1198, 20), (1180, 150)]
    without = [(0, 0), (1150, 0), (1199, 12), (1160, 30), (1060, 150), (15, 150)]
    made = bridged(plan(painted), rough(*without))
    assert off(made.ring, (1180, 150), (1190, 75), (1200, 0)) < 3.0
    assert made.bays and made.bridges
    sawn = bridged(plan(painted, line=0.0), rough(*without))
    assert not sawn.bridges and off(sawn.ring, (1180, 150)) > 60


BULGE = [(350, 150), (850, 150), (750, 180), (450, 180)]
WITH_BULGE = [*BOARD[:3], (850, 150), (750, 180), (450, 180), (350, 150), BOARD[3]]


def test_a_shadow_that_looks_like_wood_is_cut_off_along_the_line_of_its_side_and_told():
    lighter = np.linspace(np.subtract(WOOD, 25), GROUND, 14)
    shadow = [
        ([(x, y + 3 * step) for x, y in BULGE[:2]] + BULGE[2:], shade)
        for step, shade in enumerate(lighter[:10])
    ]
    made = bridged(plan(more=shadow), rough(*WITH_BULGE))
    assert off(made.ring, *((x, 150) for x in range(420, 800, 40))) < 3.0
    (bridge,) = made.bridges
    assert bridge.seen > 0.8 and "a shadow" in bridge.why and bridge.is_told


@pytest.mark.parametrize("shade", [WOOD, (60, 60, 60), (70, 150, 200)])
def test_a_thing_over_the_edge_is_cut_off_along_the_side_and_told_with_its_size(shade):
    thing = [(560, 110), (680, 110), (700, 190), (540, 190)]
    with_thing = [*BOARD[:3], (690, 150), (700, 190), (540, 190), (550, 150), BOARD[3]]
    made = bridged(plan(more=[(thing, shade)]), rough(*with_thing))
    assert off(made.ring, *((x, 150) for x in range(540, 720, 20))) < 3.0
    (bridge,) = made.bridges
    assert "stands 40 mm out" in bridge.why and "lies over it" in bridge.why


def test_wood_that_stands_out_past_its_side_for_long_is_left():
    made = bridged(plan(more=[(BULGE, WOOD)]), rough(*WITH_BULGE))
    assert not made.bridges and off(made.ring, (600, 180)) < 2.0


def test_a_flared_end_is_left():
    flare = [(1080, 149), (1182, 149), (1180, 190)]
    flared = [*BOARD[:2], (1180, 190), (1080, 150), BOARD[3]]
    made = bridged(plan(more=[(flare, WOOD)]), rough(*flared))
    assert not made.bridges and off(made.ring, (1170, 180)) < 12.0


def test_a_plain_board_is_left_as_it_is():
    ring = rough(*BOARD)
    made = bridged(plan(), ring)
    assert not made.bridges and not made.bays


def fine(*corners):
    return resampled(np.array(corners, float), 3.0)


def test_an_edge_that_leaves_its_course_is_found():
    step = [*BOARD[:3], (700, 150), (690, 142), (640, 142), (630, 150), BOARD[3]]
    (line,) = departures(fine(*step))
    assert 620 < line[:, 0].min() < 650 and 680 < line[:, 0].max() < 710
    assert not list(departures(fine(*BOARD)))
    askew = [(0, 0), (1200, 0), (1200, 150), (60, 150)]
    (end,) = departures(fine(*askew))
    assert end[:, 0].max() < 70


def test_a_long_bulge_is_told_from_end_to_end():
    bulge = [(1300, 150), (1150, 178), (800, 184), (560, 178), (450, 150)]
    (line,) = departures(fine((0, 0), (2000, 0), (1990, 150), *bulge, (10, 150)))
    assert line[:, 0].min() < 480 and line[:, 0].max() > 1270


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ([(600, 150), (800, 150)], "upper side, 600 to 800 mm from the left end"),
        ([(600, 0), (800, 0)], "lower side, 600 to 800 mm from the left end"),
        ([(1200, 20), (1195, 90)], "right end, 20 to 90 mm up"),
    ],
)
def test_a_stretch_is_told_with_its_number_and_its_place(line, said):
    (told,) = told_of([Stretch(np.array(line, float), "faint")], Polygon(BOARD), 7)
    assert told == f"edge 7, {said}: faint; look at the wood"


def test_a_single_place_is_no_stretch_to_be_told():
    assert Stretch(np.array([(600.0, 150.0)]), "faint").length == 0
    long = np.array([(300.0, 150.0), (400.0, 150.0)])
    edge = Edge(fine(*BOARD), np.empty(0), np.empty(0, bool), np.empty(0), (), unlike=(long[:1],))
    told = stretches_of(plan(), edge, (), Frame((0.0, 0.0), 0.0), Polygon(BOARD), [long])
    assert [one.why for one in told] == ["no sharp line is seen along it"]


@pytest.mark.parametrize(("ground", "is_told"), [(GROUND, False), (WOOD, True)])
def test_a_faint_edge_is_told_only_where_no_plain_line_runs_along_it(ground, is_told):
    ring = fine(*BOARD)
    margin = np.where((ring[:, 1] < 1) & (abs(ring[:, 0] - 600) < 100), 0.0, 50.0)
    none = np.zeros(len(ring), bool)
    edge = Edge(ring, margin, none, np.zeros(len(ring)), (), burnt=none, places=ring)
    beside = [(450, -60), (750, -60), (750, 3), (450, 3)]
    shown = plan(more=[(beside, ground)])
    told = stretches_of(shown, edge, (), Frame((0.0, 0.0), 0.0), Polygon(BOARD), ())
    assert [one.why for one in told] == ["hardly differs from the ground"] * is_told


def test_ends_are_doubtful_of_which_much_is():
    board = Polygon(BOARD)
    lines = {
        "left": [(0, 20), (5, 90)],
        "right": [(1195, 40), (1190, 110)],
        "": [(1200, 0), (1199, 20)],
        "side": [(300, 150), (600, 140)],
    }
    told = [Stretch(np.array(line, float), "faint") for line in lines.values()]
    assert doubtful_ends(told, board) == ("left", "right")
    assert doubtful_ends(told[1:], board) == ("right",)
    assert doubtful_ends(told[2:], board) == ()
