from __future__ import annotations

from collections import Counter
from itertools import pairwise

import numpy as np
import pytest
import shapely
from captions import crossed
from shapely.geometry import Polygon
from sheet_nests import NESTS, PROJECT, RULES, account_of, nest_of, rectangle, sheet_of

from nesting.accounts.account import account_board
from nesting.need import Holes, Need
from nesting.nest import Nest, Placement
from nesting.outline import Outline
from nesting.sheets import cut_sheet
from nesting.sheets.drawing import Arrow, Circle, Drawing, Polyline, Role, Text, View
from nesting.sheets.page import PAPERS
from nesting.stock.board import Board
from nesting.stock.board_outline import board_outline
from nesting.stock.keep_out import KeepOutKind, circle, region
from nesting.units import Unit

SHEETS = [
    *((name, Unit.MM) for name in NESTS),
    *((name, unit) for name in ("slender", "waney", "tiny") for unit in (Unit.INCH, Unit.FOOT)),
]
IDS = [f"{name}-{unit}" for name, unit in SHEETS]

TOUCH = 1e-6


def texts(drawing: Drawing, *roles: Role) -> list[Text]:
    return [
        entity
        for entity in drawing.entities
        if isinstance(entity, Text) and (not roles or entity.role in roles)
    ]


def words(drawing: Drawing, *roles: Role) -> set[str]:
    return {text.text for text in texts(drawing, *roles)}


@pytest.mark.parametrize(("name", "unit"), SHEETS, ids=IDS)
def test_no_two_texts_overlap(name: str, unit: Unit) -> None:
    all_texts = texts(sheet_of(name, unit))
    boxes = np.array([shapely.box(*text.box) for text in all_texts])
    firsts, seconds = shapely.STRtree(boxes).query(boxes, predicate="intersects")
    clashes = [
        (all_texts[i].text, all_texts[j].text)
        for i, j in zip(firsts, seconds, strict=True)
        if i < j and boxes[i].intersection(boxes[j]).area > TOUCH
    ]
    assert clashes == []


@pytest.mark.parametrize(("name", "unit"), SHEETS, ids=IDS)
def test_no_line_runs_through_lettering(name: str, unit: Unit) -> None:
    found = crossed(sheet_of(name, unit))
    assert [(cross.text.text, cross.by) for cross in found] == []


NOMINAL_MM = (2.5, 3.5, 5.0, 7.0)
"""Heights of capitals (ISO 3098-1, nominal sizes, from memory)."""


@pytest.mark.parametrize(("name", "unit"), SHEETS, ids=IDS)
def test_lettering_has_the_sizes_of_the_standard(name: str, unit: Unit) -> None:
    drawing = sheet_of(name, unit)
    heights = {(round(t.height_mm / drawing.scale, 6), t.role) for t in texts(drawing)}
    # On the wood, where room is short, and on rulers some lettering is a little smaller.
    others = {(height, role) for height, role in heights if height not in NOMINAL_MM}
    assert {height for height, _ in others} <= {2.2}
    assert not {role for _, role in others} & {Role.TABLE, Role.TITLE, Role.CAUTION}


@pytest.mark.parametrize(("name", "unit"), SHEETS, ids=IDS)
def test_everything_lies_inside_the_frame(name: str, unit: Unit) -> None:
    drawing = sheet_of(name, unit)
    frame = shapely.box(*drawing.frame).buffer(TOUCH)
    for entity in drawing.entities:
        if isinstance(entity, Text):
            shape = shapely.box(*entity.box)
        elif isinstance(entity, Circle):
            shape = shapely.Point(entity.centre).buffer(entity.radius_mm)
        elif isinstance(entity, Polyline):
            shape = shapely.LineString(entity.points)
        else:
            shape = shapely.LineString([entity.start, entity.end])
        assert frame.contains(shape), entity


@pytest.mark.parametrize(("name", "unit"), SHEETS, ids=IDS)
def test_lettering_is_read_at_arms_length_when_printed(name: str, unit: Unit) -> None:
    drawing = sheet_of(name, unit)
    heights = [text.height_mm / drawing.scale for text in texts(drawing)]
    assert min(heights) >= 2.2 - TOUCH


@pytest.mark.parametrize(("name", "unit"), SHEETS, ids=IDS)
def test_the_frame_is_the_paper_at_the_scale_it_names(name: str, unit: Unit) -> None:
    drawing = sheet_of(name, unit)
    paper = {title: (width, height) for title, width, height in PAPERS}[drawing.paper]
    assert drawing.size_mm == pytest.approx(tuple(side * drawing.scale for side in paper))


@pytest.mark.parametrize("name", NESTS)
def test_cut_lines_have_the_coordinates_of_the_board(name: str) -> None:
    cuts = [e for e in sheet_of(name).entities if isinstance(e, Polyline) and e.tag]
    outer = {
        cut.tag.get("label"): Polygon(cut.points)
        for cut in cuts
        if cut.tag and cut.role is Role.SAW_OUTLINE
    }
    wanted = {p.label: Polygon(p.polygon.exterior) for p in nest_of(name).placements}
    assert outer.keys() == wanted.keys()
    assert all(outer[label].equals_exact(wanted[label], 1e-9) for label in wanted)


@pytest.mark.parametrize("name", NESTS)
def test_copies_carry_no_tags_so_that_only_the_full_size_view_is_read_back(name: str) -> None:
    tagged = [e for e in sheet_of(name).entities if isinstance(e, Polyline | Circle) and e.tag]
    assert tagged
    assert all(entity.view is View.FULL_SIZE for entity in tagged)


@pytest.mark.parametrize("name", NESTS)
def test_every_part_is_numbered_on_the_wood(name: str) -> None:
    firsts = Counter(text.split()[0] for text in words(sheet_of(name), Role.PART_NAME))
    missing = [
        number
        for number in range(1, len(nest_of(name).placements) + 1)
        if str(number) not in firsts
    ]
    assert missing == []


def test_a_part_label_stands_inside_its_part() -> None:
    knees = {p.label: p.polygon for p in nest_of("locker").placements}
    labels = [text for text in texts(sheet_of("locker"), Role.PART_NAME) if "knee" in text.text]
    assert len(labels) == 5
    for text in labels:
        assert knees[text.text.split("  ")[1]].contains(shapely.box(*text.box))


def test_labels_give_siding_and_marked_face() -> None:
    shown = words(sheet_of("locker", Unit.INCH), Role.PART_NAME)
    assert "siding 0.709 in" in shown
    assert "marked face up" in shown


def test_a_plank_is_labelled_with_its_thickness_and_a_timber_with_its_siding() -> None:
    board = Board("T", board_outline([(0, 0), (1500, 0), (1500, 200), (0, 200)]), 30, "oak")
    shapes = [Outline(rectangle(700, 150), 20, is_plank=is_plank) for is_plank in (False, True)]
    needs = [Need(name, "any", shape, ("oak",)) for name, shape in zip("fp", shapes, strict=True)]
    placed = tuple(Placement(need, 10 + 740 * n, 20) for n, need in enumerate(needs))
    nest = Nest(board, placed)
    account = account_board(nest, RULES)
    shown = words(cut_sheet(nest, account, RULES, project_name=PROJECT, unit=Unit.MM))
    assert {"siding 20 mm", "thickness 20 mm"} < shown
    assert "thick" in shown, "the column of the parts list serves both"
    assert not {"siding", "thickness"} & shown


@pytest.mark.parametrize("has_frames", [True, False])
def test_frame_lines_stand_on_parts_that_have_frames_and_in_the_key_only_then(has_frames) -> None:
    from parts.families.ceiling import CeilingStrake
    from parts.families.planks import Plank

    sizes = {"length": 900, "thickness": 20, "width": 90}
    part = CeilingStrake(**sizes, frame_spacing=250) if has_frames else Plank(**sizes)
    board = Board("T", board_outline([(0, 0), (1000, 0), (1000, 120), (0, 120)]), 30, "oak")
    nest = Nest(board, (Placement(Need("p", "any", part.outline(), ("oak",)), 20, 60),))
    account = account_board(nest, RULES)
    sheet = cut_sheet(nest, account, RULES, project_name=PROJECT, unit=Unit.MM)
    lines = [entity for entity in sheet.entities if entity.role is Role.MARK_FRAME]
    assert bool(lines) is has_frames
    assert ("scribe: frame" in words(sheet)) is has_frames


def test_a_part_turned_over_says_so_wherever_there_is_room_for_a_word() -> None:
    shown = words(sheet_of("two parts"), Role.PART_NAME)
    assert any(text.endswith("down") for text in shown)


def test_inner_cuts_come_before_all_outer_ones() -> None:
    roles = [e.role for e in sheet_of("two parts").entities if e.view is View.FULL_SIZE]
    assert roles.count(Role.SAW_OPENING) == 1
    assert roles.index(Role.SAW_OPENING) < roles.index(Role.SAW_OUTLINE)


def test_a_slender_board_is_drawn_again_enlarged_in_lengths_that_join() -> None:
    drawing = sheet_of("slender")
    breaks = [e for e in drawing.entities if e.role is Role.BREAK]
    heading = next(t for t in words(drawing, Role.NOTE) if t.startswith("The same board"))
    assert "enlarged to 1:5, in 2 lengths" in heading
    assert len(breaks) == 2, "one break, at the end of one length and the start of the next"
    assert all(line.view is View.COPY for line in breaks)


def test_enlarged_lengths_together_show_every_part_by_name() -> None:
    shown = {t.text for t in texts(sheet_of("slender"), Role.PART_NAME) if t.view is View.COPY}
    numbers = {text.split("  ")[0] for text in shown}
    assert {"1", "2", "3", "4"} <= numbers
    assert any("carlin, 1 of 2" in text for text in shown)
    assert any("deck beam" in text for text in shown)
    assert any("covering board" in text for text in shown)


def test_a_wide_board_is_drawn_once() -> None:
    roles = {e.role for e in sheet_of("locker").entities if e.view is View.COPY}
    assert Role.RULER not in roles


@pytest.mark.parametrize(
    ("unit", "step", "figures"),
    [(Unit.MM, 100.0, {"100", "1700"}), (Unit.INCH, 152.4, {"6", "66"}), (Unit.M, 100.0, {"0.1"})],
)
def test_ruler_has_a_tick_at_every_step_of_the_tape(
    unit: Unit, step: float, figures: set[str]
) -> None:
    drawing = sheet_of("two parts", unit)
    ticks = {
        round(e.points[0][0], 6)
        for e in drawing.entities
        if isinstance(e, Polyline) and e.role is Role.RULER and e.view is View.FULL_SIZE
        if e.points[0][0] == e.points[1][0] and e.points[0][1] < 0
    }
    assert {round(step * number, 6) for number in range(int(1700 / step) + 1)} <= ticks
    assert figures <= words(drawing, Role.RULER)


@pytest.mark.parametrize(("unit", "length"), [(Unit.MM, 100.0), (Unit.INCH, 304.8)])
def test_scale_bar_measures_what_it_says(unit: Unit, length: float) -> None:
    bars = [
        e
        for e in sheet_of("two parts", unit).entities
        if isinstance(e, Polyline) and e.role is Role.RULER and e.is_closed
    ]
    (bar,) = bars
    xs = [x for x, _ in bar.points]
    assert max(xs) - min(xs) == pytest.approx(length)


def test_signs_explain_the_kinds_on_this_board_and_no_others() -> None:
    waney, two = (words(sheet_of(name), Role.LEGEND) for name in ("waney", "two parts"))
    kinds = {"rot", "split", "knot", "stain", "worn edge", "groove", "old hole, metal out"}
    assert kinds <= waney
    assert "metal: no cut within 6 mm" in waney
    assert two & kinds == {"old hole, metal out"}
    assert "bung: ream, plug, see list" in two


def _strokes(name: str, role: Role) -> int:
    return sum(
        e.role is role and e.view is View.FULL_SIZE and not (isinstance(e, Polyline) and e.tag)
        for e in sheet_of(name).entities
    )


@pytest.mark.parametrize("role", [Role.ROT, Role.SPLIT, Role.STAIN, Role.WORN_EDGE, Role.GROOVE])
def test_an_area_is_hatched_so_that_it_is_told_without_colour(role: Role) -> None:
    assert _strokes("waney", role) >= 1


def test_metal_has_a_saltire_and_a_hole_an_upright_cross() -> None:
    def is_level(line: Polyline) -> bool:
        return any(abs(a[k] - b[k]) < TOUCH for a, b in pairwise(line.points) for k in (0, 1))

    def cross(role: Role) -> list[bool]:
        return [
            is_level(e)
            for e in sheet_of("waney").entities
            if isinstance(e, Polyline) and e.role is role and e.view is View.FULL_SIZE
        ]

    assert cross(Role.METAL) and not any(cross(Role.METAL))
    assert cross(Role.HOLE) and all(cross(Role.HOLE))


def test_lists_give_places_from_the_base_line_in_the_projects_unit() -> None:
    shown = words(sheet_of("two parts", Unit.INCH), Role.TABLE)
    assert {"59 1/16", "1 3/4", "13/64"} <= shown, "the carlin: 1500 x 45 mm, 5 mm from each edge"
    assert "61 1/32" in shown, "the bung at 1550 mm along"
    assert "Parts, finished sizes in inches" in shown


def test_every_bung_is_listed_and_numbered_on_the_wood() -> None:
    drawing, bungs = sheet_of("slender"), account_of("slender").bungs
    numbers = {f"b{number}" for number in range(1, len(bungs) + 1)}
    assert len(bungs) == 6
    assert numbers <= words(drawing, Role.TABLE)
    assert numbers <= words(drawing, Role.BUNG)


def test_title_says_board_origin_wood_yield_and_allowances() -> None:
    title = " / ".join(text.text for text in texts(sheet_of("two parts"), Role.TITLE))
    account = account_of("two parts")
    for expected in (
        "Board deck-07",
        "Project Lake skiff",
        "Came from: decking, port side, third strake",
        "teak, 1700 x 125 mm, 32 mm thick (29 mm clean)",
        "recorded face",
        f"Parts {account.area.percent('parts'):.1f} %",
        f"scrap {account.scrap_percent:.1f} %",
        "Kerf 3 mm, trim 1.5 mm, clear of metal 6 mm",
        "in mm",
    ):
        assert expected in title


def test_sheet_warns_of_metal_lead_and_structure() -> None:
    cautions = " ".join(text.text for text in texts(sheet_of("tiny"), Role.CAUTION))
    assert "detect again before every cut" in cautions
    assert "lead" in cautions
    assert "licensed practice" in cautions


def test_grain_is_drawn_for_the_board_and_along_each_labelled_part() -> None:
    arrows = [
        e for e in sheet_of("locker").entities if isinstance(e, Arrow) and e.view is View.FULL_SIZE
    ]
    assert len(arrows) == 1 + 5
    slopes = sorted(
        round(np.degrees(np.arctan2(a.end[1] - a.start[1], a.end[0] - a.start[0])) % 180.0, 1)
        for a in arrows
    )
    assert slopes == [0.0, 142.6, 142.6, 142.6, 142.6, 150.6], "130 up in 170; one turned 8 degrees"


def test_lists_too_long_for_a3_take_a_larger_paper_not_smaller_lettering() -> None:
    drawing = sheet_of("crowded")
    assert drawing.paper == "A1"
    assert {f"blocking {number}" for number in range(1, 61)} <= words(drawing, Role.TABLE)


def test_the_same_nest_gives_the_same_drawing() -> None:
    again = cut_sheet(
        nest_of("waney"), account_of("waney"), RULES, project_name=PROJECT, unit=Unit.MM
    )
    assert again == sheet_of("waney")


def test_a_bungs_number_stands_on_its_own_side_of_a_near_cut() -> None:
    holes = tuple(circle(KeepOutKind.HOLE, 40 + 50 * i, 32, 6) for i in range(5))
    edge = board_outline([(0, 0), (400, 0), (400, 200), (0, 200)])
    board = Board("b", edge, 20, "elm", keep_outs=holes)
    need = Need("sole", "block", Outline(rectangle(300, 120), 15), ("elm",), holes=Holes.PLUGGED)
    nest = Nest(board, (Placement(need, 15, 20),))
    drawing = cut_sheet(nest, account_board(nest, RULES), RULES, project_name=PROJECT)
    numbers = texts(drawing, Role.BUNG)
    assert len(numbers) == 5
    part = nest.placements[0].polygon
    assert all(part.contains(shapely.box(*number.box)) for number in numbers)


def test_a_worn_edge_under_a_part_is_named_beside_it_and_no_leader_runs_over_the_part() -> None:
    """A thin line across a part might be scribed, or sawn."""
    worn = region(KeepOutKind.WORN_EDGE, [(0, 0), (900, 0), (900, 8), (0, 8)])
    edge = board_outline([(0, 0), (900, 0), (900, 90), (0, 90)])
    board = Board("b", edge, 20, "elm", keep_outs=(worn,))
    need = Need("sole", "block", Outline(rectangle(500, 70), 15), ("elm",))
    nest = Nest(board, (Placement(need, 250, 10),))
    drawing = cut_sheet(nest, account_board(nest, RULES), RULES, project_name=PROJECT)
    assert "worn edge" in words(drawing, Role.NOTE)
    part = nest.placements[0].polygon.boundary
    leaders = [e for e in drawing.entities if isinstance(e, Polyline) and e.role is Role.LEADER]
    whole = [shapely.LineString(e.points) for e in leaders if e.view is View.FULL_SIZE]
    assert not any(line.crosses(part) for line in whole)


def test_like_neighbours_are_named_once_and_plugged_ones_not_at_all() -> None:
    named = [t.text for t in texts(sheet_of("waney"), Role.NOTE) if t.view is View.FULL_SIZE]
    counts = Counter(named)
    metal = sum(k.kind == "metal" for k in nest_of("waney").board.keep_outs)
    assert 0 < counts["METAL"] < metal
    assert counts["hole"] == 0
    assert counts["rot"] == counts["stain"] == 1


def test_thousands_of_corners_are_sawn_by_and_only_those_seen_are_drawn_in_copies() -> None:
    turns = np.linspace(0, 2 * np.pi, 5000, endpoint=False)
    disc = Polygon(np.column_stack([60 + 50 * np.cos(turns), 60 + 50 * np.sin(turns)]))
    need = Need("disc", "any", Outline(disc, 28), ("teak",))
    board = Board("D", board_outline([(0, 0), (3000, 0), (3000, 125), (0, 125)]), 32, "teak")
    nest = Nest(board, (Placement(need, 1400, 2),))
    sheet = cut_sheet(nest, account_board(nest, RULES), RULES, project_name=PROJECT)
    drawn = [e for e in sheet.entities if isinstance(e, Polyline) and e.role is Role.SAW_OUTLINE]
    true = [e for e in drawn if e.view is View.FULL_SIZE and e.tag]
    seen = [e for e in drawn if e.view is View.COPY and len(e.points) > 2]
    assert len(true) == 1 and len(seen) >= 1
    assert Polygon(true[0].points).equals(nest.placements[0].polygon)
    assert all(20 < len(e.points) < 500 for e in seen)
