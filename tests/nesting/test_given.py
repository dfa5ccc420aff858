"""A text is no list, a word is its member, and points are no shape: refused or put right."""

import inspect
from dataclasses import fields, is_dataclass

import numpy as np
import pytest
from shapely.geometry import Polygon, box

import nesting as n

OUTLINE = n.Outline(box(0, 0, 300, 60), 20)


def need(**more):
    return n.Need(**{"part": "bar", "family": "", "outline": OUTLINE, "species": ["teak"], **more})


def board(**more):
    given = {"name": "B", "shape": box(0, 0, 900, 90), "thickness_mm": 30, "species": "teak"}
    return n.Board(**{**given, **more})


MADE = {
    n.Need: need,
    n.Board: board,
    n.Outline: lambda **more: n.Outline(**{"shape": box(0, 0, 9, 9), "siding_mm": 2, **more}),
    n.Nest: lambda **more: n.Nest(**{"board": board(), "placements": (), **more}),
    n.CuttingPlan: lambda **more: n.CuttingPlan(**{"nests": (), **more}),
    n.Plan: lambda **more: n.Plan(**{"nests": (), **more}),
    n.Rules: n.Rules,
    n.NewTimberRules: n.NewTimberRules,
    n.Prospect: n.Prospect,
}
"""How to make one of each public class that somebody may fill in by hand."""

KEPT_FROM_SCRIPTS = {n.Account, n.BoardAccount, n.ToBuy, n.Offcut, n.Mark, n.GrainPath, n.Project}
"""What only the package makes, and points, of which a text is none."""


def list_fields():
    for name in n.__all__:
        kind = getattr(n, name)
        if inspect.isclass(kind) and is_dataclass(kind) and kind not in KEPT_FROM_SCRIPTS:
            for field in fields(kind):
                if "tuple[" in str(field.type) and ", ..." in str(field.type):
                    yield pytest.param(kind, field.name, id=f"{name}.{field.name}")


@pytest.mark.parametrize(("kind", "name"), list(list_fields()))
def test_text_where_a_list_is_meant_is_refused_everywhere(kind, name):
    with pytest.raises(n.ShapeError, match=f"{name} is .*must be a list"):
        MADE[kind](**{name: "white oak"})


def test_lists_are_kept_as_tuples():
    assert need(species=["teak", "oak"], notes=["mind the knot"]).species == ("teak", "oak")
    assert board(keep_outs=[n.circle("knot", 9, 9, 4)]).keep_outs[0].kind is n.KeepOutKind.KNOT


def test_board_of_oak_is_not_taken_for_white_oak():
    oak = board(species="oak")
    assert need(species=["white oak"]).misfit(oak, n.Rules()) is n.Misfit.NO_SPECIES


def test_metal_by_its_word_is_kept_clear_of_as_metal():
    rules, nail = n.Rules(), n.circle("metal", 100, 40, 6)
    assert nail.kind is n.KeepOutKind.METAL
    assert rules.clearance_mm(nail.kind) == rules.blade_clearance_mm + rules.trim_mm + rules.kerf_mm


def test_holes_by_their_word_are_as_strict_as_the_member():
    hole, rules = n.circle("hole", 100, 40, 6), n.Rules()
    assert not need(holes="clear").may_plug(hole, rules)
    assert need(holes="plugged").may_plug(hole, rules)


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: n.circle("nale", 1, 1, 1), "kind of keep-out is 'nale'.*allowed: metal, hole"),
        (lambda: n.circle("not", 1, 1, 1), "did you mean knot"),
        (lambda: n.circle("metal", "9", 1, 1), "x is '9', must be a number"),
        (lambda: need(holes="pluged"), "did you mean plugged"),
        (lambda: need(quantity=2.5), "quantity is 2.5, must be a whole number"),
        (lambda: need(outline=box(0, 0, 1, 1)), r"is a Polygon, must be a"),
        (lambda: need(species=["teak", 3]), "each of species is 3, must be a text"),
        (lambda: need(species={"teak"}), "species is a set, must be a list of texts"),
        (lambda: need(part="be\u202eam"), r"holds U\+202E"),
        (lambda: board(shape=[(0, 0), (9, 0), (9, 9)]), r"is a list.*Board.outlined\(\)"),
        (lambda: board(grain=4.5), r"grain is 4.5.*straight_grain\(\)"),
        (lambda: board(species=["teak"]), "its species is a list, must be a text"),
        (lambda: board(thickness_mm="35"), "thickness is '35', must be a number"),
        (lambda: board(keep_outs=n.circle("knot", 9, 9, 4)), "is one KeepOut, must be a list"),
        (lambda: n.Outline([(0, 0), (9, 0), (9, 9)], 20), r"is a list.*part_from_outline\(\)"),
        (lambda: n.BearingZone([(0, 0)], "end"), "region is a list, must be a Polygon"),
        (lambda: n.KeepOut("rot", [(0, 0)]), "rot: the core is a list, must be a Point or"),
        (lambda: n.Mark("bolted", ((0, 0),)), "kind of mark is 'bolted'.*did you mean bolt"),
        (lambda: n.Rules(clearances_mm={"rott": 9}), "did you mean rot"),
        (lambda: n.Rules(clearances_mm={"rot": -1}), "clearance of rot is -1 mm"),
        (lambda: n.Rules(plug_sizes_mm=9.5), "plug_sizes_mm is 9.5, must be a list of numbers"),
        (lambda: n.Rules(kerf_mm="3"), "kerf_mm is '3', must be a number"),
        (lambda: n.Rules(kerf_mm=float("nan")), "kerf_mm is nan"),
        (lambda: n.board_outline([1, 2, 3]), r"made of points \(x, y\), not of 1"),
        (lambda: n.Need.of("bar", OUTLINE, "teak"), "species is the text 'teak', must be a list"),
    ],
)  # fmt: skip
def test_what_cannot_be_meant_is_refused_in_words(make, said):
    with pytest.raises(n.ShapeError, match=said):
        make()


def test_numbers_of_another_library_become_plain_ones():
    given = need(quantity=np.int64(2)).quantity, board(thickness_mm=np.float32(30)).thickness_mm
    assert [type(value) for value in given] == [int, float]
    assert type(n.Rules(kerf_mm=np.int64(3)).kerf_mm) is float


def test_shapes_themselves_are_taken_as_ever():
    assert board(shape=Polygon([(0, 0), (900, 0), (900, 90), (0, 90)])).length_mm == 900
