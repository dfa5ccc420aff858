"""Which pieces run into each other: measured against solids cut by solids, and known shapes."""

import cadquery as cq
import numpy as np
import pytest
from fitted_boats import box_boat, trough_with, wigley_with, withy
from own_sums import volume_inside
from shapely.geometry import box

from nesting.errors import ShapeError
from nesting.units import Unit
from parts.boat.whereabouts import whereabouts
from parts.model.meeting import LEAST_MM3, PITCH_MM, overlaps
from parts.model.mesh import Mesh
from parts.model.piece import pieces_in_boat
from parts.model.sections import Skin, sections, skin_of, skin_of_solid
from parts.registry import fitted_families


def block(size, at=(0.0, 0.0, 0.0)):
    """Return a block, its least corner at a place."""
    return cq.Workplane().box(*size, centered=False).translate(at).val()


def met(*solids):
    return overlaps({f"piece {n}": skin_of_solid(solid) for n, solid in enumerate(solids)})


SKINS = {}
"""Of parts fitted already: most beams are in several tests."""


def met_in(boat, **named):
    """Return which of parts fitted to a boat run into each other; each is a family and shape."""
    found = {}
    for name, given in named.items():
        key = (id(boat), repr(given))
        if key not in SKINS:
            pieces = pieces_in_boat({"*": fitted(boat, *given)})
            SKINS[key] = [(piece.label, skin_of_solid(piece.solid)) for piece in pieces]
        found |= {label.replace("*", name, 1): skin for label, skin in SKINS[key]}
    return overlaps(found)


def fitted(boat, family, at, shape):
    kind = fitted_families()[family]
    return kind.model_validate({"at": at, **shape}, context={"boat": boat, "unit": Unit.MM})


# ---- sections and volumes -----------------------------------------------------------------------


def test_skin_of_a_ball_has_its_volume_and_sections():
    skin = skin_of_solid(cq.Workplane().sphere(50).val())
    # Facets that turn by 0.15 rad lie inside a ball by half a hundredth at most.
    assert volume_inside(skin) == pytest.approx(4 / 3 * np.pi * 50**3, rel=6e-3)
    for axis in range(3):
        cuts = dict(sections(skin, axis, np.array([-30.0, 0.0, 40.0, 60.0])))
        areas = [cuts[n].area for n in range(3)]
        assert areas == pytest.approx(np.pi * np.array([1600.0, 2500.0, 900.0]), rel=1e-2)
        assert 3 not in cuts


def test_section_through_corners_and_hollows_is_whole():
    # Planes run through corners and along faces; the hollow is no wood.
    solid = block((60, 40, 30)).cut(block((40, 20, 20), (10, 10, 10)))
    cuts = dict(sections(skin_of_solid(solid), 2, np.array([0.0, 10.0, 20.0, 30.0])))
    # A corner on a plane counts as above it: the section is that just below.
    assert {n: round(cut.area, 6) for n, cut in cuts.items()} == {
        1: 2400.0, 2: 2400.0 - 40 * 20, 3: 2400.0 - 40 * 20,
    }  # fmt: skip


def test_solid_that_is_not_closed_is_refused():
    skin = skin_of_solid(block((10, 10, 10)))
    with pytest.raises(ShapeError, match="not closed"):
        skin_of(Mesh(skin.points, skin.triangles[1:]))


@pytest.mark.parametrize("turn", [0, 23, 45])
def test_volume_is_that_of_solids_cut_by_solids(turn):
    one = cq.Workplane().box(200, 60, 40).rotate((0, 0, 0), (1, 2, 3), turn).val()
    other = cq.Workplane().circle(35).extrude(300, both=True).val()
    (found,) = met(one, other)
    truth = one.intersect(other)
    assert found.volume_mm3 == pytest.approx(truth.Volume(), rel=0.01)
    bounds = truth.BoundingBox()
    assert found.low == pytest.approx((bounds.xmin, bounds.ymin, bounds.zmin), abs=0.5)
    assert found.high == pytest.approx((bounds.xmax, bounds.ymax, bounds.zmax), abs=0.5)


def test_two_places_of_a_pair_are_added_up():
    # A batten laid over two blocks of one piece, 3 mm into each.
    bridge = block((300, 40, 20)).cut(block((200, 40, 15), (50, 0, 5)))
    batten = block((300, 40, 20), (0, 0, 17))
    (found,) = met(bridge, batten)
    assert found.volume_mm3 == pytest.approx(2 * 50 * 40 * 3, rel=0.01)
    assert found.places == 2


@pytest.mark.parametrize("axis", range(3))
@pytest.mark.parametrize("start", [0.0, 1.1, 2.3, 3.4])
def test_overlap_thinner_than_planes_are_apart_is_found_wherever_it_lies(axis, start):
    size, shift = np.full(3, 60.0), np.full(3, 10.0)
    size[axis], shift[axis] = 60.0 + start, 59.0 + start
    (found,) = met(block(tuple(size)), block((60, 60, 60), tuple(shift)))
    assert found.volume_mm3 == pytest.approx(50 * 50 * 1.0, rel=0.02)


def test_what_is_smaller_than_told_is_not_told():
    assert PITCH_MM**3 < LEAST_MM3
    assert not met(block((50, 50, 50)), block((9, 9, 9), (46, 46, 46)))
    assert len(met(block((50, 50, 50)), block((9, 9, 9), (45, 45, 45)))) == 1


def test_faces_on_each_other_are_no_overlap_flat_or_round_or_leaning():
    flat = met(block((60, 60, 60)), block((60, 60, 60), (60, 0, 0)))
    peg = cq.Workplane().circle(30).extrude(100).val()
    hole = cq.Workplane().box(120, 120, 100, centered=(True, True, False)).val().cut(peg)
    wedge = cq.Workplane("XZ").polyline([(0, 0), (400, 0), (400, 9)]).close().extrude(50).val()
    rest = block((400, 50, 60), (0, -50, 0)).cut(wedge)
    assert not flat and not met(peg, hole) and not met(wedge, rest)


def test_round_faces_half_a_millimetre_into_each_other_are_found():
    peg = cq.Workplane().circle(30.5).extrude(100).val()
    hole = cq.Workplane().box(120, 120, 100, centered=(True, True, False)).val()
    hole = hole.cut(cq.Workplane().circle(30).extrude(100).val())
    (found,) = met(peg, hole)
    assert found.volume_mm3 == pytest.approx(np.pi * (30.5**2 - 30**2) * 100, rel=0.05)


def test_pieces_one_inside_the_other_are_found():
    (found,) = met(block((60, 60, 60)), block((20, 20, 20), (20, 20, 20)))
    assert found.volume_mm3 == pytest.approx(8000, rel=1e-6)


def test_skin_travels_to_another_process_whole():
    import pickle

    skin = skin_of_solid(block((10, 20, 30)))
    again = pickle.loads(pickle.dumps(skin))
    assert isinstance(again, Skin) and volume_inside(again) == volume_inside(skin)


# ---- what the families make of their own accord ------------------------------------------------

FLOOR = {"siding": 45, "moulding": 130, "arm": 350}
SOLE = {"siding": 32, "moulding": 60}
KNEE = {"siding": 38, "beam_arm": 200, "throat": 100, "tip_moulding": 35, "bolt": 8}


@pytest.fixture(scope="module")
def boat():
    return withy().boat


@pytest.mark.parametrize("frame", [10, 15])
def test_floor_and_sole_beam_stand_on_different_sides_of_a_frame(boat, frame):
    at = f"frame {frame}"
    pair = {"floor": ("floor timber", at, FLOOR), "sole": ("sole beam", at, SOLE)}
    assert not met_in(boat, **pair)
    # On one side of it they would stand in each other, and that is told.
    pair["sole"] = ("sole beam", at, {**SOLE, "stands": "aft of frame"})
    (found,) = met_in(boat, **pair)
    assert found.volume_mm3 > 100e3


@pytest.mark.parametrize("make", [trough_with, wigley_with])
@pytest.mark.parametrize("depth", [110, 180])
def test_top_strake_of_a_ceiling_closes_on_the_square_edge_of_the_clamp(make, depth):
    """It was planed half the turn, as to a neighbour that is planed as well, and ran into it."""
    boat = make(clamp={"thickness": 25, "depth": depth, "below_deck": 30})
    strake = {"thickness": 25, "of": 5, "strakes": 5}
    top = ("ceiling strake", "frames 2 to 8", strake)
    assert not met_in(boat, top=top, clamp=("clamp", "frames 2 to 8", {}))
    # Closing on a neighbour that is planed as well takes half as much.
    below = fitted(boat, "ceiling strake", "frames 2 to 8", {**strake, "strakes": 4})
    assert fitted(boat, *top).bevels()[:, 1].max() > 1.3 * below.bevels()[:, 1].max()


def test_carlin_is_butted_between_the_beams_that_it_rests_on(boat):
    carlin = {"siding": 38, "moulding": 64, "inner_face": 495}
    main = {"size": "main"}
    named = {
        "fore": ("deck beam", "frame 9", main),
        "aft": ("deck beam", "frame 17", main),
        "carlin": ("carlin", "frames 9 to 17", carlin),
    }
    assert not met_in(boat, **named)
    part = fitted(boat, *named["carlin"])
    ends = boat.frame_x(17) - boat.frame_x(9) - boat.beam_size("main").siding_mm
    assert part.outline().length_mm == pytest.approx(ends, rel=2e-3)


HALVED = {"siding": 38, "moulding": 64, "inner_face": 495, "joint": "halved"}
NOTCH = {"siding": 38, "moulding": 64, "inner_face": 495}


def test_halving_is_cut_from_both_and_one_that_nobody_cut_is_found(boat):
    named = {
        "fore": ("deck beam", "frame 9", {"size": "main", "carlins": [NOTCH]}),
        "aft": ("deck beam", "frame 17", {"size": "main"}),
        "carlin": ("carlin", "frames 9 to 17", HALVED),
    }
    found = met_in(boat, **named)
    assert {(pair.first, pair.second) for pair in found} == {
        ("aft", "carlin, starboard"), ("aft", "carlin, port"),
    }  # fmt: skip
    # Half the carlin's moulding, its siding, the beam's: and the crown rises in its breadth.
    siding = boat.beam_size("main").siding_mm
    assert found[0].volume_mm3 == pytest.approx(38 * 32 * siding, rel=0.06)


def test_notch_of_a_halving_is_in_outline_and_solid_alike(boat):
    whole = fitted(boat, "deck beam", "frame 9", {"size": "main"})
    cut = fitted(boat, "deck beam", "frame 9", {"size": "main", "carlins": [NOTCH]})
    missing = whole.outline().shape.difference(cut.outline().shape, grid_size=1e-6)
    assert len(missing.geoms) == 2
    for side, piece in zip((-1, 1), sorted(missing.geoms, key=lambda g: g.bounds[0]), strict=True):
        low, _, high, _ = piece.bounds
        assert sorted((side * low, side * high)) == pytest.approx([495, 533], abs=0.01)
    gone = whole.solid().val().Volume() - cut.solid().val().Volume()
    # The upper edge has the slope of the sheer as a bevel: the far face is a little lower.
    faces = cut.faces()
    # The seats of both ends on the clamp are cut from the other beam as well.
    notches = faces.cut_outs[: len(faces.cut_outs) - len(whole.faces().cut_outs)]
    assert len(notches) == 2
    both = sum(face.intersection(c).area for face in (faces.near, faces.far) for c in notches)
    assert gone == pytest.approx(both / 2 * whole.outline().siding_mm, rel=1e-3)


def test_lap_of_a_carlin_is_in_outline_and_solid_alike(boat):
    part = fitted(boat, "carlin", "frames 9 to 17", HALVED)
    solid, shape = part.solid().val(), part.outline().shape
    siding = boat.beam_size("main").siding_mm
    end = box(-1, -200, siding - 1, 200)
    assert shape.intersection(end).area == pytest.approx((siding - 1) * 32, rel=0.05)
    cut = solid.intersect(block((siding - 1, 400, 200), (0, -200, -100)))
    assert cut.Volume() == pytest.approx((siding - 1) * 32 * 38, rel=0.06)


TAILED = {**HALVED, "joint": "dovetailed", "tail_slope": 7}


def tailed(lies):
    return {**NOTCH, "joint": "dovetailed", "lies": lies, "tail_slope": 7}


def test_dovetail_is_cut_from_carlin_and_beams_on_both_sides(boat):
    named = {
        "fore": ("deck beam", "frame 9", {"size": "main", "carlins": [tailed("aft of beam")]}),
        "aft": ("deck beam", "frame 17", {"size": "main", "carlins": [tailed("forward of beam")]}),
        "carlin": ("carlin", "frames 9 to 17", TAILED),
    }
    assert not met_in(boat, **named)
    # A beam with no notch for it is told, and so is one with its notch the wrong way round.
    named["aft"] = ("deck beam", "frame 17", {"size": "main"})
    siding = boat.beam_size("main").siding_mm
    found = met_in(boat, **named)
    assert [pair.first for pair in found] == ["aft", "aft"]
    assert found[0].volume_mm3 == pytest.approx((38 - siding / 7) * 32 * siding, rel=0.08)
    named["aft"] = ("deck beam", "frame 17", {"size": "main", "carlins": [tailed("aft of beam")]})
    assert [pair.first for pair in met_in(boat, **named)] == ["aft", "aft"]


def test_dovetail_does_not_draw_out_of_its_beam_and_a_halving_does(boat):
    beam = fitted(
        boat, "deck beam", "frame 9", {"size": "main", "carlins": [tailed("aft of beam")]}
    )
    carlin = fitted(boat, "carlin", "frames 9 to 17", TAILED)
    plain = fitted(boat, "deck beam", "frame 9", {"size": "main", "carlins": [NOTCH]})
    lapped = fitted(boat, "carlin", "frames 9 to 17", HALVED)
    for one, other, holds in ((beam, carlin, True), (plain, lapped, False)):
        solids = {p.label: p.solid for p in pieces_in_boat({"beam": one, "carlin": other})}
        drawn = {
            name: solid.translate((6.0, 0.0, 0.0)) if name.startswith("carlin") else solid
            for name, solid in solids.items()
        }
        found = overlaps({name: skin_of_solid(solid) for name, solid in drawn.items()})
        assert bool(found) is holds
        assert not overlaps({name: skin_of_solid(solid) for name, solid in solids.items()})


def test_dovetails_lose_their_wedges_in_the_solid_and_say_so_on_the_outline(boat):
    siding = boat.beam_size("main").siding_mm
    lost = siding / 7
    pair = [
        (fitted(boat, "carlin", "frames 9 to 17", shape), -4 * lost * siding / 2 * 32)
        for shape in (HALVED, TAILED)
    ]
    (lapped, _), (carlin, gone) = pair
    assert carlin.outline().shape.equals(lapped.outline().shape)
    volumes = [part.solid().val().Volume() for part in (lapped, carlin)]
    assert volumes[1] - volumes[0] == pytest.approx(gone, rel=0.08)
    assert [m.label for m in carlin.outline().marks].count("dovetail 1 in 7") == 2
    assert any("cheeks of each lap are pared" in text for text in carlin.remarks(Unit.MM))
    beams = [
        fitted(boat, "deck beam", "frame 9", {"size": "main", "carlins": [notch]})
        for notch in (NOTCH, tailed("aft of beam"))
    ]
    # The mouth is narrower than a halving's notch by what both cheeks lose, the end as wide.
    areas = [beam.outline().shape.area for beam in beams]
    assert areas[1] - areas[0] == pytest.approx(2 * 2 * lost * 32, rel=0.1)
    volumes = [beam.solid().val().Volume() for beam in beams]
    assert volumes[1] - volumes[0] == pytest.approx(2 * lost * siding * 32, rel=0.1)
    assert any("pared out to 38 mm at the fore face" in text for text in beams[1].remarks(Unit.MM))


def test_tail_whose_neck_would_be_thin_is_refused(boat):
    with pytest.raises(ValueError, match=r"1 in 4 over a beam of .* leaves a neck of .*tail_slope"):
        fitted(boat, "carlin", "frames 9 to 17", {**TAILED, "tail_slope": 4})


@pytest.mark.parametrize(("frame", "lies"), [(9, "aft of beam"), (26, "forward of beam")])
def test_lodging_knee_ends_at_the_next_beam(boat, frame, lies):
    ahead = frame + 1 if lies == "aft of beam" else frame - 1
    named = {
        "own": ("deck beam", f"frame {frame}", {}),
        "next": ("deck beam", f"frame {ahead}", {}),
        "knee": ("lodging knee", f"frame {frame}", {**KNEE, "lies": lies}),
    }
    assert not met_in(boat, **named)
    knee = fitted(boat, *named["knee"])
    gap = boat.plan.frames.spacing_mm - boat.beam_size("ordinary").siding_mm
    assert gap - 25 < knee.side_arm() < gap + 25
    named["knee"] = ("lodging knee", f"frame {frame}", {**KNEE, "lies": lies, "side_arm": 242})
    assert {pair.first for pair in met_in(boat, **named)} == {"next"}


def test_lodging_knee_with_no_frame_beyond_asks_for_its_arm(boat):
    with pytest.raises(ValueError, match=r"no frame aft of frame 26.*side_arm"):
        fitted(boat, "lodging knee", "frame 26", {**KNEE, "lies": "aft of beam"})


@pytest.mark.parametrize(("frame", "size"), [(8, "main"), (9, "main"), (24, "ordinary")])
def test_hanging_knee_lies_under_its_beam_and_on_the_clamp(boat, frame, size):
    at = f"frame {frame}"
    named = {
        "beam": ("deck beam", at, {"size": size}),
        "clamp": ("clamp", "frames 2 to 26", {}),
        "knee": ("hanging knee", at, {**KNEE, "side_arm": 228, "beam_size": size}),
    }
    assert not met_in(boat, **named)


def test_deep_beam_is_seated_on_the_clamp(boat):
    main = fitted(boat, "deck beam", "frame 8", {"size": "main"})
    lower = main.outline().shape
    # The end is cut away to what the clamp lies below the deck, a quarter of an inch and the sheer.
    end = lower.intersection(box(-5000, -5000, lower.bounds[0] + 30, 5000))
    depth = end.bounds[3] - end.bounds[1]
    assert depth < 2.5 * 25.4 - 6


def test_beam_that_the_clamp_would_cut_in_half_is_refused():
    box_plan = box_boat()
    plan = {
        **box_plan.plan.model_dump(by_alias=True, exclude_none=True),
        "clamp": {"thickness": 25, "depth": 150, "below_deck": 20},
    }
    boat = type(box_plan)(box_plan.plan.model_validate(plan), box_plan.hull)
    with pytest.raises(ValueError, match=r"clamp's upper edge.*below_deck"):
        fitted(boat, "deck beam", "frame 4", {"siding": 40, "moulding": 70, "bearing": 50})


ABOUT_THE_MAST = (
    "mast floor", "mast beam", "half beam fore", "cabin sole beam, frame 10", "carlin",
    "hanging knee of the mast beam", "lodging knee aft of the mast beam", "clamp strake",
)  # fmt: skip


def test_no_pieces_of_the_demo_about_the_mast_run_into_each_other():
    """The whole boat takes half a minute: tests/bench/bench_meetings.py."""
    named = {name: p for name, p in withy().parts.items() if name.startswith(ABOUT_THE_MAST)}
    pieces = pieces_in_boat(named)
    assert len(pieces) == 19
    assert not overlaps({piece.label: skin_of_solid(piece.solid) for piece in pieces})


# ---- told in words ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("low", "high", "told"),
    [
        ((2995, 90, 190), (3005, 110, 210), "at frame 5, 100 mm to starboard, 200 mm above"),
        ((3095, -110, 190), (3105, -90, 210), "100 mm aft of frame 5, 100 mm to port, 200 mm"),
        ((2895, -80, 90), (2905, 110, 110), "100 mm forward of frame 5, across the centreline"),
        ((900, 10, 0), (900, 10, 0), "100 mm forward of frame 1, 10 mm to starboard"),
    ],
)
def test_place_is_told_by_frame_side_and_height(low, high, told):
    assert whereabouts(box_boat(), low, high, Unit.MM).startswith(told)
