"""The demo projects keep what their pages promise (their plans: ``test_outside_audit``)."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

import numpy as np
import pytest
from written_projects import DEMOS, FULL, NAMES, board, copies, project

from nesting.stock.keep_out import KeepOutKind

TOLD = {"launch_to_skiff", "week_in_the_shop"}
"""Their pages are typed line by line by tests of their own."""
FAMILIES = {"floor timber", "deck beam", "knee", "ceiling strake"}
PLAIN = {"plank"}
FITTED = {
    *("half beam", "sole beam", "carlin", "clamp"),
    *("hanging knee", "lodging knee", "quarter knee"),
}


def test_every_demo_folder_is_tested_and_has_its_page():
    folders = {path.parent.name for path in DEMOS.glob("*/project.yaml")}
    assert folders == {*NAMES, *TOLD}
    assert all((DEMOS / name / "README.md").is_file() for name in folders)


@pytest.mark.parametrize("name", NAMES)
def test_every_board_says_what_it_was_and_where_it_came_from(name):
    assert [b.name for b in project(name).stock if not (b.member and b.came_from)] == []


@pytest.mark.parametrize("name", NAMES)
def test_sheets_go_to_the_ignored_output_folder(name):
    assert project(name).folder.resolve() == DEMOS.parent / "output" / name


def test_first_cut_is_small_and_shows_every_kind_of_keep_out():
    read = project("first_cut")
    assert len({b.name.partition("/")[0] for b in read.stock}) == 6
    assert copies("first_cut") == 12
    assert {need.family for need in read.needs} == FAMILIES | PLAIN
    kinds = {keep_out.kind for b in read.stock for keep_out in b.keep_outs}
    assert kinds == set(KeepOutKind)


def test_full_demo_is_of_full_size():
    read = project(FULL)
    assert len(read.stock) >= 40
    assert sum(len(b.keep_outs) for b in read.stock) >= 600
    assert copies(FULL) >= 60
    assert {need.family for need in read.needs} == FAMILIES | FITTED


@pytest.mark.parametrize(
    ("member", "least"),
    [("decking", 10), ("hull planking", 10), ("deck beam", 6), ("buoy well", 6), ("knee", 5)],
)
def test_full_demo_has_enough_boards_of_each_kind(member, least):
    assert Counter(b.member for b in project(FULL).stock)[member] >= least


def test_old_deck_beams_are_full_of_metal_and_wide_boards_are_nearly_clean():
    def per_metre(member: str) -> float:
        wood = [b for b in project(FULL).stock if b.member == member]
        return sum(len(b.keep_outs) for b in wood) / sum(b.length_mm / 1000 for b in wood)

    assert per_metre("deck beam") > 30  # about one an inch
    assert per_metre("buoy well") < 4


def test_deck_screws_of_the_full_demo_leave_clear_runs_of_over_a_foot():
    screws = [k for k in board(FULL, "D1").keep_outs if k.kind is KeepOutKind.RECESS]
    rows = sorted({round(k.core.x, 1) for k in screws})
    assert min(b - a for a, b in pairwise(rows)) > 300


def test_full_demo_takes_its_floors_from_the_lines_flatter_going_aft():
    parts = project(FULL).parts
    names = [name for name, part in parts.items() if part.family == "floor timber"]
    assert len(names) == 14
    rises = []
    for name in names[:8]:  # to frame 16; in the run they steepen again
        _, low, _, high = parts[name].faces().near.bounds
        arm = parts[name].faces().edges[1].near
        rises.append((arm[-1, 1] - arm[0, 1]) / (arm[-1, 0] - arm[0, 0]))
        assert low == pytest.approx(0.0, abs=1e-6) and high > 0
    assert rises == sorted(rises, reverse=True)


def test_beams_of_the_full_demo_are_cut_from_one_mould():
    parts = project(FULL).parts
    beams = [p for name, p in parts.items() if p.family == "deck beam" and name[:4] != "well"]
    assert len(beams) == 9
    rises = []
    for beam in sorted(beams, key=lambda beam: beam.outline().length_mm):
        upper = next(edge.near for edge in beam.faces().edges if edge.name == "upper edge")
        half, rise = np.abs(upper[:, 0]).max(), np.ptp(upper[:, 1])
        rises.append(rise)
        # Circular segment: one radius for all, that of 7 ft 10 in rising 2 15/16 in.
        radius = (half**2 + rise**2) / (2 * rise)
        assert radius == pytest.approx((94**2 / 4 + 2.9375**2) / (2 * 2.9375) * 25.4, rel=1e-3)
    assert rises == sorted(rises)


def test_full_demo_has_its_knees_in_pairs_at_their_true_angles():
    needs = {n.part: n for n in project(FULL).needs if n.family.endswith(" knee")}
    assert sum(need.quantity for need in needs.values()) == 16
    assert all(need.quantity == 2 for need in needs.values())
    assert {need.family for need in needs.values()} == {
        "hanging knee",
        "lodging knee",
        "quarter knee",
    }


def test_full_demo_has_as_many_pieces_of_each_kind_as_its_page_says():
    kinds = Counter[str]()
    for need in project(FULL).needs:
        kinds[need.family.split()[-1]] += need.quantity
    assert kinds["timber"] == 14
    assert kinds["beam"] + kinds["carlin"] == 36
    assert kinds["knee"] == 17
    assert kinds["strake"] + kinds["clamp"] == 32


def test_metric_demo_has_its_drawings_and_r12():
    read = project("launch_to_dinghy")
    assert 15 <= len(read.stock) <= 25
    assert 20 <= copies("launch_to_dinghy") <= 30
    assert read.dxf_version == "R12"
    assert sum(need.quantity for need in read.needs if need.family == "drawn outline") == 3
    assert sum(need.quantity for need in read.needs if need.family in PLAIN) == 1
    assert read.parts["mast step"].outline().shape.interiors


def test_covering_board_of_the_metric_demo_comes_from_its_drawing():
    covering = board("launch_to_dinghy", "C1")
    kinds = Counter(keep_out.kind for keep_out in covering.keep_outs)
    assert kinds == {KeepOutKind.HOLE: 24, KeepOutKind.ROT: 1}
    assert {keep_out.source for keep_out in covering.keep_outs} == {"drawing"}


def test_second_leaf_of_the_metric_demos_bearer_is_free_of_the_stain():
    first, second = (board("launch_to_dinghy", f"G1/{leaf}") for leaf in (1, 2))
    assert KeepOutKind.STAIN in {k.kind for k in first.keep_outs}
    assert KeepOutKind.STAIN not in {k.kind for k in second.keep_outs}
