"""Patterns on joined pages: true to size, told apart, few; measured by a second library."""

import datetime
from collections import defaultdict
from itertools import combinations
from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from captions import crossed
from pattern_parts import knee, lid, needs, strake, subject, usual_set
from pattern_reading import apart, joined, printed
from shapely.geometry import LineString, box

from nesting import family
from nesting.need import Need
from nesting.outline import Outline
from nesting.sheets.drawing import Anchor, Role, Text
from nesting.sheets.lettering import text_width
from nesting.shop.kinds import Paper
from nesting.shop.pattern_foot import Heading
from nesting.shop.pattern_paper import CROSS_MM, OVERLAP_MM, leaves
from nesting.shop.pattern_subject import patterns_of
from nesting.shop.patterns import page_count, page_drawings, pattern_files, pattern_set
from nesting.units import Unit

CENTRE = Anchor.CENTRE
PAPERS = [(Unit.MM, Paper.A4), (Unit.INCH, Paper.LETTER)]


def pages_pdf(unit, paper):
    name, content = next(pattern_files(usual_set(unit, paper)))
    assert name == "patterns.pdf"
    return content


@pytest.mark.parametrize(("unit", "paper"), PAPERS)
def test_pages_joined_by_their_crosses_give_each_outline(unit, paper):
    made = usual_set(unit, paper)
    by_sheet = defaultdict(list)
    for page in printed(pages_pdf(unit, paper)):
        by_sheet[page.name[0]].append(page)
    for sheet in made.sheets:
        pages = by_sheet[str(sheet.number)]
        assert len(pages) == len(sheet.grid.tiles)
        drawn, off = joined(pages)
        assert off < 0.1
        wanted = shapely.union_all([shapely.boundary(laid.shape) for laid in sheet.laid])
        assert apart(drawn, wanted) < 0.1
        for laid in sheet.laid:
            # Only turned and moved, never stretched or mirrored.
            assert laid.shape.area == pytest.approx(laid.pattern.outline.area_mm2)
            assert not laid.placement.is_turned_over


@pytest.mark.parametrize(("unit", "paper"), PAPERS)
def test_square_and_ruler_prove_the_scale_in_the_unit(unit, paper):
    step = 25.4 if unit is Unit.INCH else 25.0
    length = 4 * 25.4 if unit is Unit.INCH else 100.0
    pages = printed(pages_pdf(unit, paper))
    for page in pages:
        # ISO 216 for A4; letter is 8 1/2 x 11 in (from memory).
        size = (210.0, 297.0) if paper is Paper.A4 else (8.5 * 25.4, 11 * 25.4)
        assert sorted(page.size) == pytest.approx(size, abs=0.02)
    for page in pages[1:]:
        squares = [line for line in page.ruler if line.is_closed and len(line.coords) == 5]
        sides = [(b[2] - b[0], b[3] - b[1]) for b in (square.bounds for square in squares)]
        assert (pytest.approx(step, abs=0.05), pytest.approx(step, abs=0.05)) in sides
        ticks = sorted(
            line.bounds[0]
            for line in page.ruler
            if line.bounds[2] - line.bounds[0] < 0.01 and line.bounds[1] < 15
        )
        assert ticks[-1] - ticks[0] == pytest.approx(length, abs=0.05)
        assert f"must be\n{'1 in' if unit is Unit.INCH else '25 mm'}" in page.text or (
            "must be" in page.text
        )
        assert "Measure the square before you trust a pattern." in page.text
        assert f"of {len(pages)}" in page.text


def test_both_pages_of_a_joint_have_its_crosses_whole():
    for sheet in usual_set().sheets:
        for cross in sheet.grid.crosses:
            at = shapely.Point(cross.at).buffer(CROSS_MM)
            having = [t for t in sheet.grid.tiles if box(*sheet.grid.window(t)).contains(at)]
            assert len(having) >= 2


def test_pages_that_would_be_empty_are_left_out_and_told():
    thin = Outline(knee(900, 900, 60).shape, 20.0)
    made = pattern_set(subject([Need.of("frame", thin, ["oak"])]))
    grid = made.sheets[0].grid
    assert grid.left_out
    assert len(grid.tiles) + len(grid.left_out) == grid.rows * grid.columns
    text = printed(next(pattern_files(made))[1])[1].text
    assert f"{len(grid.left_out)} empty, left out" in text


def test_a_part_is_turned_to_take_fewer_pages():
    turned = shapely.affinity.rotate(box(0, 0, 250, 60), 37)
    made = pattern_set(subject([Need.of("cleat", Outline(turned, 20.0), ["oak"])]))
    assert page_count(made) == 1


def test_small_parts_share_pages_and_keep_apart():
    made = usual_set()
    alone = sum(page_count(pattern_set(subject([need]))) for need in needs())
    assert page_count(made) < alone
    laid = [one for sheet in made.sheets for one in sheet.laid]
    assert sorted(one.pattern.number for one in laid) == [p.number for p in made.patterns]
    for sheet in made.sheets:
        for one, other in combinations(sheet.laid, 2):
            assert one.shape.distance(other.shape) >= 4.0 - 1e-6
        for one in sheet.laid:
            assert sheet.grid.free.buffer(1e-6).contains(one.shape)


def test_nothing_that_fits_a_page_lies_across_a_joint():
    for paper in Paper:
        made = pattern_set(subject(needs(), paper=paper))
        windows = [min(leaf.window) for leaf in leaves(paper.size_mm)]
        for sheet in made.sheets:
            joints = [LineString(j) for t in sheet.grid.tiles for j in sheet.grid.joints(t)]
            for one in sheet.laid:
                if max(one.pattern.outline.length_mm, one.pattern.outline.width_mm) < min(windows):
                    assert not any(one.shape.intersects(joint) for joint in joints)


@pytest.mark.parametrize("unit", [Unit.MM, Unit.FOOT])
def test_lettering_keeps_to_its_page_and_off_other_lettering(unit):
    wanted = [*needs(), Need.of("a very long name " * 12, knee(300, 260, 60), ["teak"])]
    made = pattern_set(subject(wanted, unit=unit))
    for page in page_drawings(made):
        texts = [entity for entity in page.entities if isinstance(entity, Text)]
        boxes = [box(*text.box) for text in texts]
        whole = box(*page.frame).buffer(0.3)
        for text, room in zip(texts, boxes, strict=True):
            assert whole.contains(room), text
            assert text.height_mm >= 2.0, text
        tree = shapely.STRtree(boxes)
        for i, j in zip(*tree.query(boxes, predicate="overlaps"), strict=True):
            assert boxes[i].intersection(boxes[j]).area < 0.3, (texts[i], texts[j])


def test_name_grain_face_bolts_marks_and_bevels_are_on_the_paper():
    text = "\n".join(page.text for page in printed(pages_pdf(Unit.MM, Paper.A4)))
    for words in (
        "great knee", "siding 40 mm", "this is its marked face", "bolt 8 mm", "frame 4",
        "bevel, lower edge: 7.0° under", "2 pieces", "no plan yet", "2026-11-27",
    ):  # fmt: skip
        assert words in text, words


def test_outlines_that_are_alike_are_one_pattern():
    wanted = [Need.of(name, strake(), ["teak"], quantity=2) for name in ("strake 1", "strake 2")]
    job = subject(wanted).job
    (pattern,) = patterns_of(job, wanted)
    assert pattern.name == "strake 1; strake 2"
    assert pattern.pieces == "4 pieces"
    other = Need.of("strake 3", strake(901.0), ["teak"])
    first, second = patterns_of(job, [wanted[0], other])
    assert first.identity == pattern.identity != second.identity


def test_a_pair_says_which_side_takes_the_pattern_turned_over():
    class Pair:
        side = "both"

        def positions(self):
            from parts.position import position

            along, up = np.array([1.0, 0, 0]), np.array([0, 0, 1.0])
            here = position(np.array([10.0, 500, 0]), along, up)
            return here, here.twin()

    wanted = [Need.of("knee", lid(), ["teak"], quantity=2)]

    (pattern,) = patterns_of(SimpleNamespace(parts={"knee": Pair()}), wanted)
    assert pattern.pieces == "2 pieces: starboard as drawn, port with the pattern turned over"


def test_patterns_are_the_same_bytes_always():
    one, other = (dict(pattern_files(pattern_set(subject(needs())))) for _ in range(2))
    assert one == other


def test_neighbours_share_a_strip_of_the_sheet():
    upright, level = leaves(Paper.A4.size_mm)
    assert (upright.wide_mm, upright.high_mm) == (190.0, 277.0)
    assert (level.wide_mm, level.high_mm) == (277.0, 190.0)
    assert upright.window[0] - upright.pitch[0] == OVERLAP_MM


@pytest.mark.parametrize("project", ["Teasel", "w" * 80, "\u67da" * 80])
def test_day_and_plan_stand_in_the_foot_however_long_the_projects_name_is(project):
    heading = Heading(project, datetime.date(2026, 11, 28), "FXMUHM", Unit.MM)
    line = heading.within(108.0)
    assert line.endswith(", 2026-11-28, plan FXMUHM") and line[0] == project[0]
    assert text_width(line, 2.5) <= 108.0


def test_words_at_marks_are_clear_of_every_line_where_two_lines_give_them_room():
    """Bolts through the legs of a knee that are slimmer than the words, cleats beside them."""
    slim = family("knee")(
        kind="lodging", siding=18, beam_arm=120, side_arm=130, throat=45, tip_moulding=20,
        bolts=2, bolt=6, slope_of_grain="1 in 2",
    )  # fmt: skip
    outlines = [slim, *(Outline(box(0, 0, 90, 30 + n / 9), 15) for n in range(6))]
    wanted = [Need.of(f"part {n}", outline, ["teak"]) for n, outline in enumerate(outlines)]
    found = [by for page in page_drawings(pattern_set(subject(wanted)))[1:] for by in crossed(page)]
    assert [by for by in found if "bolt" in by.text.text] == []


def test_numbers_of_crosses_are_clear_of_every_line():
    """A plate full of holes, of which some come to lie right beside a cross."""
    holes = [
        shapely.Point(x, y).buffer(6.0) for x in range(20, 700, 30) for y in range(20, 400, 30)
    ]
    plate = Outline(box(0, 0, 720, 420).difference(shapely.union_all(holes)), 12.0)
    pages = page_drawings(pattern_set(subject([Need.of("plate", plate, ["teak"])])))[1:]
    numbered = [e for page in pages for e in page.entities if _is_cross_number(e)]
    assert len(numbered) > 8
    found = [by for page in pages for by in crossed(page)]
    assert [by for by in found if _is_cross_number(by.text) and by.by is Role.PATTERN] == []


def _is_cross_number(entity):
    return isinstance(entity, Text) and entity.role is Role.RULER and entity.anchor is not CENTRE


@pytest.mark.parametrize(
    "outline",
    [strake(2700.0, 60.0), strake(2700.0, 170.0), strake(900.0, 60.0), knee(900, 900, 60)],
    ids=["long", "wide", "short", "frame"],
)
def test_what_stands_over_a_key_is_said_whole(outline):
    found = pattern_set(subject([Need.of("piece", outline, ["teak"])]))
    texts = [e for page in page_drawings(found)[1:] for e in page.entities if isinstance(e, Text)]
    over = [text.text for text in texts if "join" in text.text or "left out" in text.text]
    assert over
    assert [text for text in over if "..." in text] == []
