"""Whatever is made from Python: each parameter given what cannot be meant is refused in a sentence.

Nothing but our own errors may come of it, and what is no value of anything is taken nowhere.
"""

import inspect
from concurrent.futures import Executor
from pathlib import Path

import cadquery
import numpy as np
import pytest
from shapely.geometry import Point, box

import nesting as n
from nesting.fields import Size
from nesting.stock.odd_places import Missing, OddPlaces

RING = [(0, 0), (500, 0), (500, 40), (0, 40)]
BAR = n.part_from_outline(RING, 20)
NEED = n.Need.of("bar", BAR, ["teak"])


class Peg(n.Family):
    """A peg, of a family of one's own."""

    family = "peg"
    long_mm: Size

    def outline(self):
        return n.Outline(box(0, 0, self.long_mm, 10), 10)

    def solid(self):
        return cadquery.Workplane().box(self.long_mm, 10, 10)


class Bare(n.Family):
    """A family that is not finished."""

    family = "bare"


BOARD = n.Board.rectangle("B", 900, 90, 30, "teak")

SOLID = cadquery.Workplane().box(300, 60, 25)

GOOD = {
    n.Board: {"name": "B", "shape": box(0, 0, 900, 90), "thickness_mm": 30, "species": "teak"},
    n.Board.rectangle: {
        "name": "B", "length": 900, "width": 90, "thickness": 30, "species": "teak", "unit": "mm",
    },
    n.Board.outlined: {"name": "B", "points": RING, "thickness": 30, "species": "teak"},
    n.board_outline: {"points": RING},
    n.widths_outline: {"stations_mm": [0, 100], "widths_mm": [90, 80], "lower_mm": [0, 0]},
    n.KeepOut: {"kind": "metal", "core": Point(1, 1), "reach_mm": 3, "depth_mm": 5},
    n.circle: {"kind": "metal", "x_mm": 1, "y_mm": 2, "diameter_mm": 3},
    n.region: {"kind": "rot", "ring": RING},
    n.slot: {"kind": "rot", "start": (0, 0), "end": (9, 0), "width_mm": 2},
    n.row: {
        "kind": "hole", "start": (0, 0), "end": (900, 0), "diameter_mm": 5, "spacing_mm": 300,
    },
    n.edge_row: {
        "kind": "hole", "shape": box(0, 0, 900, 120), "edge": "upper", "inset_mm": 20,
        "diameter_mm": 4, "start_mm": 50, "spacing_mm": 300,
    },
    n.crossings: {
        "kind": "hole", "shape": box(0, 0, 900, 120), "stations_mm": [200], "diameter_mm": 6,
        "insets_mm": [25],
    },
    n.GrainPath: {"points": ((0, 0), (9, 9))},
    n.straight_grain: {"angle_deg": 3},
    n.BearingZone: {"region": box(0, 0, 9, 9), "label": "end"},
    n.Bevel: {"edge": "upper", "angle_deg": 3, "allowance_mm": 2},
    n.Mark: {"kind": "bolt", "points": ((0, 0),), "label": "x", "diameter_mm": 3},
    n.Outline: {"shape": box(0, 0, 300, 60), "siding_mm": 20},
    n.part_from_outline: {"points": RING, "thickness": 20},
    n.Need: {"part": "bar", "family": "", "outline": BAR.outline(), "species": ["teak"]},
    n.Need.of: {"name": "bar", "part": BAR, "species": ["teak"]},
    n.LeastOffcut: {},
    n.Rules: {},
    n.NewTimberRules: {},
    n.Placement: {"need": NEED, "x_mm": 1.0, "y_mm": 1.0},
    n.Nest: {"board": BOARD, "placements": []},
    n.Unplaced: {"need": NEED, "count": 1, "reason": n.Misfit.NO_ROOM},
    n.CuttingPlan: {"nests": []},
    n.Plan: {"nests": []},
    n.Wish: {"part": "bar", "not_from": "B"},
    n.family: {"name": "plank"},
    n.parse_length: {"given": 3},
}  # fmt: skip
"""What each takes, with as little as it needs."""

NOTHING = {"object": object(), "function": len, "book": {"a": 1}, "complex": 1j, "kind": int}
"""No value of any parameter; but rules keep a book of clearances."""

ODD = {
    "text": "white oak", "empty text": "", "none": None, "nan": float("nan"), "inf": float("inf"),
    "minus": -1, "none of it": 0, "half": 2.5, "yes": True, "list": ["x"], "empty list": [],
    "bytes": b"x", "numbers": [1, 2], "unseen": "a\u202eb", "set": {1}, "huge": 10**400,
    "points": [(0, 0), (0, 0)],
}  # fmt: skip
"""May be meant by some parameter, and by others not."""

KNOWN_BOOKS = {(n.Rules, "clearances_mm")}
FOR_OTHERS = {"eased"}
"""What only the search gives a plan."""


def asked():
    for make, good in GOOD.items():
        for one in inspect.signature(make).parameters.values():
            if one.kind is not one.VAR_KEYWORD and one.name not in FOR_OTHERS:
                yield pytest.param(make, good, one.name, id=f"{make.__qualname__}.{one.name}")


@pytest.mark.parametrize(
    ("make", "good"), GOOD.items(), ids=lambda one: getattr(one, "__qualname__", "")
)
def test_each_is_made_of_what_it_takes(make, good):
    make(**good)


@pytest.mark.parametrize(("make", "good", "name"), list(asked()))
def test_what_cannot_be_meant_is_refused_in_a_sentence(make, good, name):
    for kind, odd in {**NOTHING, **ODD}.items():
        try:
            make(**{**good, name: odd})
        except n.SalvageNestError as error:
            told = str(error)
            assert "\n" not in told, kind
            assert " object at 0x" not in told, kind
            assert len(told) < 600, kind
        else:
            assert kind not in NOTHING or (make, name) in KNOWN_BOOKS, kind


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: n.GrainPath(((0, 0), ("a", 1))), "x of a point of a grain path is 'a'"),
        (lambda: n.GrainPath(((0, 0), (1, float("nan")))), "y of a point of a grain path is nan"),
        (lambda: n.straight_grain("4.5"), "the grain's direction is '4.5', must be a number"),
        (lambda: n.Mark("bolt", (1, 2)), r"a point of bolt mark is 1, must be a point \(x, y\)"),
        (lambda: n.Mark("bolt", ((0, 0),), diameter_mm=0), "diameter is 0, must be over 0"),
        (lambda: n.region("rot", [(0, 0), (9, 9)]), "ring needs three points or more, this one"),
        (lambda: n.region("rot", "a long stain"), "ring is 'a long stain', must be a list of po"),
        (lambda: n.slot("rot", (0, 0), 9, 2), r"end is 9, must be a point \(x, y\)"),
        (lambda: n.KeepOut("hole", Point(1, 1), "3"), "hole: its radius is '3', must be a number"),
        (lambda: n.KeepOut("hole", Point(1, 1), 3, confidence=50), "confidence is 50, must be"),
        (lambda: n.row("hole", (0, 0), (9, 0), diameter_mm=1, spacing_mm=0), "spacing_mm is 0, m"),
        (lambda: n.row("hole", (0, 0), (9, 0), diameter_mm=1, count=0), "count is 0, must be 1 or"),
        (lambda: n.widths_outline("ab", [1, 2]), "stations_mm is 'ab', must be a list of numbers"),
        (lambda: n.Board(**GOOD[n.Board], member=3), "member is 3, must be a text"),
        (lambda: n.Board(**GOOD[n.Board], note="a\nb"), "note .*holds U.000A .line break"),
        (lambda: n.Board(**GOOD[n.Board], moisture_percent="wet"), "moisture_percent is 'wet'"),
        (lambda: n.Board(**GOOD[n.Board], heartwood="no"), "heartwood is 'no', must be True or F"),
        (lambda: n.Outline(box(0, 0, 9, 9), 2, slope_of_grain="12"), "slope_of_grain is '12', m"),
        (lambda: n.Outline(box(0, 0, 9, 9), 2, may_turn_over="no"), "may_turn_over is 'no', must"),
        (lambda: n.Need(**GOOD[n.Need], value=-1), "the value is -1, must be 0 or more"),
        (lambda: n.Need(**GOOD[n.Need], value=float("nan")), "the value is nan"),
        (lambda: n.Need(**GOOD[n.Need], moisture_percent=12), r"low and high: \(10, 18\)"),
        (lambda: n.Need(**GOOD[n.Need], moisture_percent=(18, 10)), "from 18 to 10: low before"),
        (lambda: n.Need.of("bar", box(0, 0, 9, 9), ["teak"]), r"is a Polygon.*part_from_outline"),
        (lambda: n.Need.of("bar", BAR, ["teak"], unit="inches"), "allowed: mm, cm"),
        (lambda: n.Need.of("bar", Peg, ["teak"]), r"the part is the class Peg.*Peg\(\.\.\.\)"),
        (lambda: n.Outline(box(0, 0, 9, 9), "3/4 in"), r"is '3/4 in'.*parse_length\('3/4 in"),
        (lambda: n.row("hole", ("3 ft", 0), (9, 0), diameter_mm=1, count=2), "parse_length"),
        (lambda: n.Placement(NEED, float("inf"), 0), "x_mm is inf"),
        (lambda: n.Placement(NEED, 0, 0, copy=1.5), "copy is 1.5, must be a whole number"),
        (lambda: n.Placement("bar", 0, 0), r"what lies there is 'bar', must be a Need"),
        (lambda: n.Nest("B", []), r"the board is 'B', must be a Board: Board.rectangle\(\)"),
        (lambda: n.Unplaced(NEED, 1, "no luck"), "reason is 'no luck', which is not known"),
        (lambda: n.LeastOffcut(0, 75), "least_offcut: length_mm is 0, must be over 0"),
        (lambda: n.Rules(handy=(2400, 25)), "handy is a tuple, must be a Handy"),
        (lambda: n.Rules(plug_sizes_mm=[9.5, -1]), "each of plug_sizes_mm is -1, must be over 0"),
        (lambda: n.NewTimberRules(planing_mm="3"), "planing_mm is '3', must be a number"),
        (lambda: n.NewTimberRules(end_mm=float("nan")), "end_mm is nan"),
        (lambda: n.NewTimberRules(defects_percent=5000), "defects_percent is 5000, must be 200 at"),
        (lambda: n.Need.of("bar", BAR, ["teak"], quantity=20_000), "is 20000, must be 10000 at th"),
        (lambda: n.Rules(kerf_mm=300), "kerf_mm is 300, must be 12 at the most: is the unit right"),
        (lambda: n.Rules(clearances_mm={"rot": 1e6}), "clearance of rot is 1e.06, must be 50 at"),
        (lambda: n.Rules(clearances_mm={"metal": 9}), "metal is kept clear of by blade_clearance"),
        (lambda: n.Rules(plug_sizes_mm=[1000]), "each of plug_sizes_mm is 1000, must be 100 at"),
        (lambda: n.Rules(plugs_per_metre=2.5), "plugs_per_metre is 2.5, must be a whole number"),
        (lambda: n.Rules(least_offcut="big"), "least_offcut is 'big', must be a LeastOffcut: "),
        (lambda: n.Board(**GOOD[n.Board], moisture_percent=2000), "is 2000, must be 200 at the m"),
        (lambda: n.Need(**GOOD[n.Need], moisture_percent=(8, 2000)), "is 2000, must be 200 at"),
        (lambda: n.Board(**GOOD[n.Board], moisture_percent=0.14), "is 0.14, below 1 %; write it"),
        (lambda: n.Need(**GOOD[n.Need], moisture_percent=(0.08, 0.14)), "is 0.08, below 1 %"),
        (lambda: n.Bevel("upper", 1000, 2), "angle_deg is 1000, must be 89 at the most"),
        (lambda: n.Bevel("upper", -1000, 2), "angle_deg is -1000, must be -89 or more"),
        (lambda: n.Bevel("upper", 3, -2), "allowance_mm is -2, must be 0 or more"),
        (lambda: n.Plan([], seed=-1), "seed is -1, must be 0 or more"),
        (lambda: n.part_from_outline(RING, 20, cut_outs=0), "cut_outs is 0, must be a list of rin"),
        (lambda: n.part_from_outline(RING, 20, cut_outs=""), "cut_outs is '', must be a list of "),
        (lambda: n.edge_row(**{**GOOD[n.edge_row], "start_mm": -50}), "start_mm is -50, must be 0"),
        (lambda: n.edge_row(**{**GOOD[n.edge_row], "inset_mm": -9}), "inset_mm is -9, must be 0"),
        (lambda: n.crossings(**{**GOOD[n.crossings], "insets_mm": [-9]}), "each of insets_mm is -"),
        (lambda: n.crossings(**{**GOOD[n.crossings], "offsets_mm": [-9]}), "each of offsets_mm is"),
        (lambda: n.circle("metal", 1, 2, 1e9), "metal: it is 1e.09 mm across, must be 40000 mm at"),
        (lambda: n.part_from_solid(SOLID, square_to="z"), "square_to is 'z', must be a list"),
        (lambda: n.part_from_solid(SOLID, square_to=(0, 1)), "square_to has 2 numbers, must"),
        (lambda: n.part_from_solid(None), "^nothing is no solid: give a cadquery"),
    ],
)  # fmt: skip
def test_sentence_says_what_was_given_and_what_is_allowed(make, said):
    with pytest.raises(n.ShapeError, match=said):
        make()


def test_arrays_are_taken_for_lists_and_their_numbers_for_plain_ones():
    shape = n.widths_outline(np.linspace(0, 900, 4), np.full(4, 90.0))
    assert shape.bounds == (0, 0, 900, 90)
    grain = n.GrainPath(np.array([[0, 0], [900, 90.0]]))
    assert grain == n.GrainPath(((0.0, 0.0), (900.0, 90.0)))
    assert hash(grain) == hash(n.GrainPath([[0, 0], [900, 90]]))
    assert n.Board(**GOOD[n.Board], heartwood=np.bool_(True)).heartwood is True


def test_more_than_a_project_may_hold_is_not_packed():
    needs = [n.Need.of(f"bar {i}", BAR, ["teak"], quantity=10_000) for i in range(3)]
    with pytest.raises(n.JobError, match="there are 30,000 pieces, at most 20,000 are packed at"):
        n.pack(needs, [BOARD], rounds=0)
    assert needs[0].quantity == 10_000


def test_limits_themselves_are_allowed():
    rules = n.Rules(kerf_mm=12, trim_mm=50, clearances_mm={"rot": 50}, plug_sizes_mm=[100])
    assert (rules.kerf_mm, rules.trim_mm, rules.plug_sizes_mm) == (12, 50, (100,))
    assert n.Rules(plugs_per_metre=np.int64(2)).plugs_per_metre == 2
    assert n.Bevel("upper", -89, 0).angle_deg == -89
    assert n.Need(**GOOD[n.Need], moisture_percent=(0, 200)).moisture_percent == (0, 200)


def test_places_that_are_odd_are_taken_by_rows_alone_as_what_they_are():
    given = {**GOOD[n.row], "odd": OddPlaces(missing=(Missing(2),))}
    assert len(n.row(**given)) == 3


@pytest.fixture
def plan():
    return n.pack([NEED], [BOARD], rounds=0)


@pytest.mark.parametrize(
    ("work", "said"),
    [
        (lambda plan: n.pack([NEED], [BOARD], rounds=0, on_progress=3), "on_progress is 3, must"),
        (lambda plan: n.pack([NEED], [BOARD], rounds=0, executor=3), "executor is 3, must have"),
        (lambda plan: n.pack([NEED], [BOARD], rounds=0, last="plan"), "last is no plan"),
        (lambda plan: n.pack([NEED], [BOARD], rounds=0, groups=["B"]), "groups are"),
        (lambda plan: n.pack([NEED], [BOARD], rounds=0, groups={"deck": 3}), "group deck is 3"),
        (lambda plan: n.write(plan, "out", on_progress="print"), "on_progress is 'print', must"),
        (lambda plan: n.remeasured(plan, "out", on_progress=1), "on_progress is 1, must be a f"),
        (lambda plan: n.check_plan("plan", [NEED], n.Rules()), "the plan is 'plan': give one of"),
        (lambda plan: n.account_for(None, n.Rules()), "the plan is nothing: give one of"),
        (lambda plan: n.account_for(plan, 3), "rules are a"),
        (lambda plan: n.account_for(plan, workers=0), "workers is 0, must be 1 or more"),
        (lambda plan: n.write(plan, None), "the folder is nothing, must be a path"),
        (lambda plan: n.write(plan, Path(), overwrite="no"), "overwrite is 'no', must be True"),
        (lambda plan: n.write(plan, Path(), dxf="R14"), "dxf is 'R14', must be R2010 or R12"),
        (lambda plan: n.read_plan(3, [NEED], [BOARD]), "the folder is 3, must be a path"),
        (lambda plan: n.remeasured(plan, ""), "the folder is '', must be a path"),
        (lambda plan: n.family("plank", folder=3), "the folder is 3, must be a path"),
        (lambda plan: n.read_project(3), "3, must be a path"),
        (lambda plan: n.write(plan, "o\0ut"), "the folder is .*, must be a path"),
        (
            lambda plan: n.write(plan, "out", name="x" * 81),
            "has 81 characters; at most 80 have",
        ),
        (lambda plan: n.Wish(part="bar", stage="2"), "stage is '2', must be a whole number"),
        (lambda plan: n.pack([NEED], [BOARD], rounds=0, executor=Executor), "executor is .*submit"),
        (lambda plan: n.read_project("p.yaml", consent=True), "consent is true, must be"),
        (lambda plan: n.read_project("p.yaml", dxf_version="R14"), "dxf_version is 'R14', must be"),
        (lambda plan: n.pack([NEED], [BOARD], rounds=0, wishes=["first"]), "a list of Wishes"),
    ],
)
def test_work_asked_for_in_a_way_that_cannot_be_is_refused(plan, work, said, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(n.SalvageNestError, match=said):
        work(plan)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: n.family(Peg)(long=-3), "peg: long: -3 is not over 0"),
        (lambda: n.family(Peg)(lenght=3), "peg: .*lenght"),
        (lambda: n.family(Bare), r"Bare lacks outline\(\) and solid\(\)"),
        (lambda: n.family(int), "a family's name is"),
    ],
)
def test_a_family_that_is_none_and_parameters_that_cannot_be_are_refused(make, said):
    with pytest.raises(n.SalvageNestError, match=said):
        make()


def test_a_family_of_ones_own_is_made_by_its_class_as_others_are_by_their_name():
    maker = n.family(Peg, unit="in")
    assert maker(long=4) == Peg(long_mm=101.6)
    assert repr(maker) == "family('peg')"
    assert "A peg, of a family of one's own" in str(maker) and "long" in str(maker)
    assert "peg" not in n.families()
    assert str(n.family(type(n.family("plank")(length=300, width=40, thickness=9)))) == str(
        n.family("plank")
    )
