"""Rows with odd places, stretches, and the same in few words."""

from __future__ import annotations

import pytest
from project_texts import only_blocks, project_text, written
from shapely.geometry import box

from nesting.errors import ProjectFileError, ShapeError
from nesting.project import read_project
from nesting.project.tape_notes import read_note
from nesting.stock.board_widths import widths_outline
from nesting.stock.keep_out import KeepOutKind
from nesting.stock.odd_places import Edge, Missing, OddPlaces
from nesting.stock.patterns import crossings, edge_row, row, stations
from nesting.stock.stretches import edge_stretch, line_stretch

PLANK = box(0, 0, 2000, 100)
TAPERED = widths_outline([0, 2000], [160, 60])


@pytest.fixture(autouse=True)
def _only_block_family(monkeypatch):
    monkeypatch.setattr("nesting.project.own_families.known_families", only_blocks)


def places(keep_outs):
    return [(round(k.core.x, 3), round(k.core.y, 3)) for k in keep_outs]


def test_place_missing_next_one_edge_leaves_the_other():
    odd = OddPlaces(missing=(Missing(1), Missing(2, Edge.UPPER), Missing(-1, Edge.LOWER)))
    found = crossings("hole", PLANK, [300, 600, 900], diameter_mm=5, insets_mm=[20], odd=odd)
    assert places(found) == [(600, 20), (900, 80)]


def test_doubled_place_has_a_second_nearer_the_middle():
    odd = OddPlaces(doubled=(1, -1), apart_mm=40)
    found = crossings("hole", PLANK, [50, 1000, 1950], diameter_mm=5, in_middle=True, odd=odd)
    assert places(found) == [(50, 50), (90, 50), (1000, 50), (1910, 50), (1950, 50)]


def test_row_and_edge_row_leave_out_what_is_missing_and_keep_their_zigzag():
    odd = OddPlaces(missing=(Missing(2),))
    whole = row("hole", (0, 50), (900, 50), diameter_mm=5, spacing_mm=300, stagger_mm=20)
    found = row("hole", (0, 50), (900, 50), diameter_mm=5, spacing_mm=300, stagger_mm=20, odd=odd)
    assert places(found) == [p for n, p in enumerate(places(whole)) if n != 1]
    given = {"inset_mm": 10, "diameter_mm": 5, "start_mm": 100, "spacing_mm": 600, "stagger_mm": 8}
    whole = edge_row("hole", TAPERED, "upper", **given)
    found = edge_row("hole", TAPERED, "upper", **given, odd=odd)
    assert places(found) == [p for n, p in enumerate(places(whole)) if n != 1]


@pytest.mark.parametrize(
    ("odd", "message"),
    [
        (OddPlaces(missing=(Missing(4),)), "no place 4: its places are 1 to 3"),
        (OddPlaces(missing=(Missing(2),), doubled=(2,), apart_mm=9), "both missing and doubled"),
        (OddPlaces(missing=(Missing(1), Missing(2), Missing(3))), "every place"),
    ],
)
def test_odd_places_that_cannot_be_are_refused(odd, message):
    with pytest.raises(ShapeError, match=message):
        odd.stands([0, 300, 600])


def test_stretch_follows_the_edge_of_a_tapering_board():
    found = edge_stretch("rot", TAPERED, (0, 1000), edge=Edge.UPPER, deep_mm=20).core
    assert found.area == pytest.approx(20 * 1000, rel=1e-4)
    assert found.distance(TAPERED.exterior) < 1e-3
    across = edge_stretch("rot", TAPERED, (1000, 2000)).core
    assert across.area == pytest.approx((110 + 60) / 2 * 1000, rel=1e-4)


@pytest.mark.parametrize(
    "stretch",
    [
        lambda: edge_stretch("rot", TAPERED, (500, 700), edge=Edge.LOWER, deep_mm=990),
        lambda: edge_stretch("rot", TAPERED, (500, 700), edge=Edge.UPPER, deep_mm=142),
        lambda: edge_stretch("rot", TAPERED, (500, 700), between_mm=(20, 330)),
        lambda: line_stretch("split", TAPERED, (0, 2000), ups_mm=(30, 130), width_mm=5),
        lambda: line_stretch("split", TAPERED, (0, 2000), ups_mm=(165, 30), width_mm=5),
    ],
)
def test_stretch_that_goes_farther_across_than_the_board_is_wide_is_refused(stretch):
    with pytest.raises(ShapeError, match=r"mm across, the board is \d+ mm wide there"):
        stretch()


def test_stretch_may_be_as_wide_as_the_board_is_anywhere_along_it():
    whole = edge_stretch("rot", TAPERED, (500, 700), edge=Edge.LOWER, deep_mm=135)
    assert whole.core.area == pytest.approx(200 * (135 + 125) / 2, rel=1e-6)


@pytest.mark.parametrize("inches", range(42, 200, 12))
def test_a_row_to_the_end_of_a_board_in_inches_ends_at_its_last_place(inches):
    plank = box(0, 0, round(inches * 25.4, 3), 130)
    every = stations(plank, 152.4, 304.8)
    found = crossings("hole", plank, every, diameter_mm=5, insets_mm=[25])
    assert len(found) == 2 * ((inches - 6) // 12 + 1)


def test_stretch_off_the_board_is_refused():
    with pytest.raises(ShapeError, match="it goes from 1900 to 2100 mm, the board from 0 to 2000"):
        line_stretch("split", PLANK, (1900, 2100), ups_mm=(40, 40), width_mm=4)


WRITTEN_OUT = {
    "metal: 6 at 430 and 570, 30 up": "{kind: metal, diameter: 6, places: [[430, 30], [570, 30]]}",
    "metal: 6 at 430, 30 down": "{kind: metal, diameter: 6, at: [430, 120]}",
    "holes: 6 at 430, middle, 9 deep": "{kind: hole, diameter: 6, at: [430, 75], depth: 9}",
    "rot: 400 to 550 lower edge 20 deep":
        "{kind: rot, outline: [[400, 0], [550, 0], [550, 20], [400, 20]]}",
    "rot: the last 60 right across":
        "{kind: rot, outline: [[1940, 0], [2000, 0], [2000, 150], [1940, 150]]}",
    "splits: 1900 to 2000, 30 up to 40 up, 6 wide":
        "{kind: split, from: [1900, 30], to: [2000, 40], width: 6}",
    "worn edges: all along upper edge, 10 wide, 5 deep":
        "{kind: worn edge, outline: [[0, 140], [2000, 140], [2000, 150], [0, 150]], depth: 5}",
    "stains: 0 to 90, 10 to 40 up": "{kind: stain, outline: [[0, 10], [90, 10], [90, 40], [0, 40]]}",  # noqa: E501
}  # fmt: skip


@pytest.mark.parametrize("note", WRITTEN_OUT)
def test_note_means_what_is_written_out(tmp_path, note):
    key, _, text = note.partition(": ")
    one, other = (
        _board(tmp_path / name, more).keep_outs
        for name, more in (("a", f"{key}: '{text}'"), ("b", f"keep_outs: [{WRITTEN_OUT[note]}]"))
    )
    assert len(one) == len(other)
    for mine, theirs in zip(one, other, strict=True):
        assert (mine.kind, mine.depth_mm) == (theirs.kind, theirs.depth_mm)
        assert mine.polygon.symmetric_difference(theirs.polygon).area < 1e-2


def _board(folder, more):
    folder.mkdir(exist_ok=True)
    stock = f"  - {{board: D, species: teak, thickness: 40, length: 2000, width: 150, {more}}}\n"
    return read_project(written(folder, project_text(stock=stock))).stock[0]


def test_row_with_exceptions_by_note(tmp_path):
    text = "5 every 300 from 150 to 1500, 20 from each edge, not the 4th and the last upper (dry)"
    found = _board(tmp_path, f"holes: '{text}'").keep_outs
    xs = [150, 450, 750, 1350]
    assert places(found) == [(x, y) for x in xs for y in (20, 130)][:-1]
    assert {k.note for k in found} == {"dry"}


@pytest.mark.parametrize(
    ("text", "at", "rest"),
    [
        ("8 at 100, 400 and 700, 30 up", ["100", "400", "700"], {"offsets": ["30"]}),
        ("8 at 100, 400, and 700, 30 up", ["100", "400", "700"], {"offsets": ["30"]}),
        ("8 at 100, 400 (sprung), 30 up", ["100", "400"], {"offsets": ["30"]}),
        ("8, 30 up, at 100, 400, 700", ["100", "400", "700"], {"offsets": ["30"]}),
        ("1/4 at 43, 57, 1 1/4 up", ["43", "57"], {"offsets": ["1 1/4"]}),
        ("3/16 at 6, 12 1/2, 1 from each edge", ["6", "12 1/2"], {"insets": ["1"]}),
        ("8 at 14, 30 and 2 up", ["14"], {"offsets": ["30", "2"]}),
        ("8 at 100, 400, middle, 5 deep", ["100", "400"], {"middle": True}),
    ],
)
def test_places_may_stand_in_a_list_with_commas(text, at, rest):
    crossings = read_note(KeepOutKind.HOLE, text)["crossings"]
    assert crossings == {"at": at, **rest}


@pytest.mark.parametrize(
    ("text", "stretch"),
    [
        ('40" to 55"', {"from": '40"', "to": '55"'}),
        ('22 3/16 to 2\' 7", 1" to 2" up',
         {"from": "22 3/16", "to": "2' 7\"", "between": ['1"', '2"']}),
        ('40 to 55 13/16" lower edge 2" deep',
         {"from": "40", "to": '55 13/16"', "edge": "lower", "deep": '2"'}),
        ("40\u201d to 4\u2019", {"from": "40\u201d", "to": "4\u2019"}),
        ("1' to 5'-2\", 1\u00bd to 2 \u00bc in. up",
         {"from": "1'", "to": "5'-2\"", "between": ["1\u00bd", "2 \u00bc in."]}),
        ("the last 6\u2033, across", {"last": "6\u2033"}),
    ],
)  # fmt: skip
def test_marks_of_feet_and_inches_end_a_figure_as_words_do(text, stretch):
    assert read_note(KeepOutKind.ROT, text)["stretch"] == stretch


@pytest.mark.parametrize(
    ("text", "missing"),
    [
        ("not the 4th, 5th and 9th", ["4th", "5th", "9th"]),
        ("not the 2nd upper, the 7th lower, last", ["2nd upper", "7th lower", "last"]),
        ("not the 4, 2 up", ["4"]),
    ],
)
def test_missing_places_may_stand_in_a_list_with_commas(text, missing):
    edge = "" if "2 up" in text else ", 1 from each edge"
    found = read_note(KeepOutKind.HOLE, f"3/16 every 12 from 6{edge}, {text}")
    assert found["crossings"]["missing"] == missing


def test_notes_come_after_keep_outs_and_own_ones_take_the_place_of_defaults(tmp_path):
    (tmp_path / "boards.yaml").write_text(
        "version: 1\nunit: mm\n"
        "defaults: {species: teak, thickness: 40, length: 900, width: 90, holes: '5 at 70, 20 up'}\n"  # noqa: E501
        "boards: [{board: A}, {board: B, holes: none}, {board: C, holes: ['9 at 8, 9 up', '9 at 80, 9 up']}]\n"  # noqa: E501
    )  # fmt: skip
    stock = read_project(written(tmp_path, project_text(stock="  - {file: boards.yaml}\n"))).stock
    assert [len(board.keep_outs) for board in stock] == [1, 0, 2]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("3/x every 12 from 6", "'3/x every 12 from 6' is not understood"),
        ("5 every 12 from 6", "does not say how far from the edges"),
        ("40 to 55 lower edge", "how far in from the lower edge"),
        ("40 to 55, 3 up", "how wide"),
        ("5 6 at 4, 2 up", "a diameter is said twice"),
        ("5 at 4, 2 up, 3 wide", "wide does not go with a row"),
        ("every 12 from 6, 1 up", "does not begin with a diameter"),
        ("2 deep", "does not say where along the board"),
    ],
)
def test_note_that_cannot_be_read_says_from_where_on(text, message):
    with pytest.raises(ShapeError, match=message) as caught:
        read_note(KeepOutKind.HOLE, text)
    assert "write for example (inches) 3/16 every 12" in str(caught.value)


def test_wrong_note_in_yaml_has_its_place(tmp_path):
    with pytest.raises(
        ProjectFileError, match=r"5:\d+: board D: holes: '5 at 2100, 9 up': station"
    ):
        _board(tmp_path, "holes: '5 at 2100, 9 up'")


def test_doubled_without_how_far_is_refused(tmp_path):
    with pytest.raises(ProjectFileError, match="doubled: and apart: go together"):
        _board(tmp_path, "holes: '5 every 300 from 20, 9 up, doubled at butts'")


def test_curved_plank_by_string(tmp_path):
    stock = (
        "  - {board: D, species: teak, thickness: 40, "
        "string: {at: [0, 1000, 2000], lower: [-60, -20, -60], upper: [90, 130, 80]}}\n"
    )
    shape = read_project(written(tmp_path, project_text(stock=stock))).stock[0].shape
    measured = 1000 * (150 + 150) / 2 + 1000 * (150 + 140) / 2
    # Hollow on its lower side: a batten through three points leaves 5/8 of its rise as the mean.
    assert shape.area == pytest.approx(measured - 2000 * 40 * (5 / 8 - 1 / 2), rel=1e-3)
    assert shape.bounds == (0, -60, 2000, 130)


def test_string_whose_edges_cross_is_refused(tmp_path):
    stock = (
        "  - {board: D, species: teak, thickness: 40, "
        "string: {at: [0, 1000], lower: [-60, 20], upper: [90, 10]}}\n"
    )
    with pytest.raises(ProjectFileError, match="the width at station 1000 mm is -10 mm"):
        read_project(written(tmp_path, project_text(stock=stock)))


@pytest.mark.parametrize("more", ["staggered 30", "not the 2nd upper"])
def test_row_of_one_line_is_not_staggered_and_has_no_upper_one(tmp_path, more):
    stock = (
        "  - {board: D, species: teak, thickness: 40, length: 900, width: 150, "
        f"metal: '6 every 150 from 75, middle, {more}'}}\n"
    )
    with pytest.raises(ProjectFileError, match="one alone"):
        read_project(written(tmp_path, project_text(stock=stock)))
