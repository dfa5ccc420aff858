"""What every fitted part must satisfy, and the kinds that the full demo does not show."""

import numpy as np
import pytest
from family_checks import assert_sound
from fitted_boats import TROUGH_RADIUS, trough_boat, wigley_boat, withy
from own_sums import in_the_boat
from pydantic import ValidationError

from nesting.cautions import METAL_FUME
from nesting.errors import PartError
from nesting.outline import MarkKind
from nesting.project import project_schema
from nesting.units import Unit
from parts.describe import family_page
from parts.fitted.beams import FittedHouseBeam
from parts.fitted.bent import BentPlank, not_flat
from parts.fitted.ceiling import FittedCeiling
from parts.fitted.fitted import Fitted
from parts.fitted.floors import FittedFloor
from parts.fitted.knee_faces import toward
from parts.fitted.knees import FittedHangingKnee
from parts.fitted.level_knees import FittedBreasthook
from parts.fitted.plates import FloorPlate
from parts.lamella import lamella_mm
from parts.lines.develop import Development
from parts.model.piece import _set, shape_in_place
from parts.registry import fitted_families
from parts.solids import volume_mm3

PARTS = {name: part for name, part in withy().parts.items() if isinstance(part, Fitted)}
INCH = 25.4
FLOOR = {"siding": "1 3/4 in", "moulding": "5 in", "arm": "15 in", "keel_bolt": "1/2 in"}


def fit(kind, **given):
    boat = withy().boat
    if "house" in given:
        plan = boat.plan.model_dump(by_alias=True, exclude_none=True)
        boat = type(boat)(
            boat.plan.model_validate({**plan, "house": given.pop("house")}), boat.hull
        )
    return kind.model_validate(given, context={"boat": boat})


@pytest.mark.parametrize("name", PARTS)
def test_part_of_the_full_demo_is_sound(name):
    assert_sound(PARTS[name].outline())


def test_registry_finds_every_fitted_family():
    assert set(fitted_families()) == {
        "breasthook",
        "carlin",
        "ceiling strake",
        "clamp",
        "deck beam",
        "floor plate",
        "floor timber",
        "half beam",
        "hanging knee",
        "house beam",
        "lodging knee",
        "quarter knee",
        "sole beam",
    }


def test_floor_plate_is_its_floor_larger_by_the_metals_shrinkage():
    floor = fit(FittedFloor, at="frame 12", **FLOOR, frame_bolts=0)
    given = {**FLOOR, "frame_bolts": 0, "at": "frame 12", "flange": "3/8 in"}
    plate = fit(FloorPlate, **given, shrink=1.3)
    assert plate.outline().area_mm2 == pytest.approx(floor.outline().area_mm2 * 1.013**2, rel=1e-6)
    assert plate.outline().siding_mm == pytest.approx(1.75 * INCH * 1.013)
    assert volume_mm3(plate.solid()) == pytest.approx(volume_mm3(floor.solid()), rel=1e-6)
    flanges = [mark for mark in plate.outline().marks if mark.label == "flange"]
    assert flanges
    seat = min(min(y for _, y in mark.points) for mark in flanges)
    assert seat == pytest.approx(0.375 * INCH * 1.013, abs=0.01)
    assert_sound(fit(FloorPlate, **given, shrink=0).outline())


def test_floor_plate_warns_of_fume_and_of_what_old_bronze_holds():
    """On the sheet of its pattern, on the family's page and in the schema: one text."""
    given = {**FLOOR, "frame_bolts": 0, "at": "frame 12", "flange": "3/8 in"}
    (sheet,) = fit(FloorPlate, **given).remarks(Unit.MM)
    page = " ".join(family_page("floor plate").split())
    schema = project_schema()["$defs"]["FloorPlate"]["description"]
    for told in (sheet, page, schema):
        assert METAL_FUME.full in told
    for word in ("fume", "respirator", "beryllium", "lead"):
        assert word in sheet
    assert not fit(FittedFloor, at="frame 12", **FLOOR).remarks(Unit.MM)


def test_floor_on_the_frames_lies_a_frame_deeper():
    boat = withy().boat
    beside = fit(FittedFloor, at="frame 14", **FLOOR)
    on = fit(FittedFloor, at="frame 14", **FLOOR, stands="on frames")
    assert on.positions()[0].origin[2] > beside.positions()[0].origin[2]
    edge = on.faces().edges[1]
    placed = in_the_boat(on.positions()[0], edge.near)
    x = placed[0, 0]
    for y, z in np.abs(placed[2::4, 1:]):
        point = np.array([y, z])
        section = boat.hull.section(x)
        away = np.linalg.norm(section - point, axis=1).min()
        # The section of a surface deeper by the frame is further off than square to the hull.
        assert 1.5 * INCH - 0.5 < away < 1.5 * INCH * 1.1


def test_house_beam_spans_the_house_and_rises_by_its_camber():
    house = {"half_breadth": "20 in", "height": "14 in", "camber": "4 in"}
    part = fit(FittedHouseBeam, at="frame 12", siding=30, moulding=40, house=house)
    upper = next(edge.near for edge in part.faces().edges if edge.name == "upper edge")
    assert np.ptp(upper[:, 0]) == pytest.approx(40 * INCH)
    assert np.ptp(upper[:, 1]) == pytest.approx(4 * INCH, rel=1e-3)
    assert_sound(part.outline())
    solid = part.solid()
    assert solid.val().isValid()


def test_breasthook_is_alike_on_both_sides_and_square_at_its_fore_end():
    part = fit(
        FittedBreasthook,
        at="6 in",
        siding="1 3/4 in",
        arm="14 in",
        throat="7 in",
        tip_moulding="1 1/4 in",
        bolt="5/16 in",
        against="planking",
    )
    assert_sound(part.outline())
    shape = part.faces().near
    ring = np.asarray(shape.exterior.coords)
    assert ring[:, 0].min() == pytest.approx(-ring[:, 0].max(), abs=1e-6)
    (place,) = part.positions()
    foot = in_the_boat(place, ring[np.abs(ring[:, 1] - ring[:, 1].min()) < 1e-6])
    assert foot[:, 0] == pytest.approx(6 * INCH, abs=0.1)
    assert part.solid().val().isValid()


@pytest.mark.parametrize(
    ("room", "told"),
    [(9.0, "no room for an arm here: put"), (80.0, "room for an arm of 80 mm here, 100 mm is")],
)
def test_knee_without_room_for_its_arm_is_told_what_room_there_is(room, told):
    with pytest.raises(PartError, match=f"there is {told}"):
        toward(np.array([[0.0, 0.0], [room, 0.0]]), 100.0)


@pytest.mark.parametrize("angle", [39.4, 150.6])
def test_knee_where_the_arms_open_too_little_or_too_far_is_told_in_words(angle):
    knee = fit(
        FittedHangingKnee,
        siding=38, beam_arm=300, side_arm=380, throat=115, tip_moulding=35, bolt=9, at="frame 8",
    )  # fmt: skip
    with pytest.raises(PartError, match=f"open by {angle} degrees here, which no knee of this"):
        knee.plain(angle, "as drawn")


@pytest.mark.parametrize(
    ("name", "mm", "told"),
    [
        ("side_arm_mm", 5000.0, "its side arm of 5000 mm is more or less than any knee's"),
        ("throat_mm", 500.0, "the throat is 500 mm; with this angle, these arms and tips it must"),
    ],
)
def test_knee_that_no_plain_knee_could_be_is_told_why(monkeypatch, name, mm, told):
    knee = fit(
        FittedHangingKnee,
        siding=38, beam_arm=300, side_arm=380, throat=115, tip_moulding=35, bolt=9, at="frame 8",
    )  # fmt: skip
    if name == "side_arm_mm":
        monkeypatch.setattr(FittedHangingKnee, "arms", lambda _: (300.0, mm))
    else:
        monkeypatch.setattr(FittedHangingKnee, "throat", lambda _: mm)
    with pytest.raises(PartError, match=f"open by 95.0 degrees here; {told}"):
        knee.plain(95.0, "as drawn")


def test_lamella_follows_the_bends_radius():
    # R / 100 to R / 150 (common practice, no source).
    assert 300 / 150 <= lamella_mm(300.0) <= 300 / 100


def test_laminated_knee_too_tight_for_any_veneer_is_refused():
    given = {"siding": 40, "beam_arm": 200, "side_arm": 220, "throat": 100, "tip_moulding": 35}
    with pytest.raises(ValidationError, match=r"thinner than the 0\.6 mm that can be got out"):
        fit(FittedHangingKnee, at="frame 8", beam_moulding=60, bolts=0, grain="laminated", **given)


def test_strakes_share_the_girth_at_every_frame():
    given = {"at": "frames 6 to 16", "thickness": 16, "of": 12}
    nets = [fit(FittedCeiling, **given, strakes=n).net() for n in (1, 2, 3)]
    for lower, upper in ((nets[0], nets[1]), (nets[1], nets[2])):
        assert lower[:, -1] == pytest.approx(upper[:, 0], abs=0.01)
    widths = [np.linalg.norm(np.diff(net, axis=1), axis=2).sum(axis=1) for net in nets]
    assert widths[0] == pytest.approx(widths[1], rel=2e-3)
    assert widths[1] == pytest.approx(widths[2], rel=2e-3)


def trough_strake(number, **given):
    given = {"at": "frames 2 to 6", "thickness": 25, "of": 6, "strakes": number, **given}
    return FittedCeiling.model_validate(given, context={"boat": trough_boat()})


def in_boat(part):
    shape = shape_in_place(part)
    return shape.moved(_set(shape, part.positions()[0])[1])


def test_strakes_of_a_round_ceiling_are_planed_by_half_the_turn_from_one_to_the_next():
    # Geometry: a chord of a circle meets the radius at its end half its angle off square.
    part = trough_strake(3)
    radius = TROUGH_RADIUS - 40  # the frames stand within the planking
    chord = np.linalg.norm(part.net()[:, -1] - part.net()[:, 0], axis=1)
    half = np.degrees(np.arcsin(chord / 2 / radius))
    assert part.bevels() == pytest.approx(np.repeat(half[:, None], 2, axis=1), abs=0.02)
    (told,) = [remark for remark in part.remarks(Unit.MM) if "plane" in remark]
    assert (
        told
        == f"plane the edges to close on the planks beside it, up to {half.max():.0f}° standing"
    )


def test_neighbours_of_a_ceiling_close_on_each_other_and_do_not_overlap():
    below, above = (in_boat(trough_strake(n, side="starboard")) for n in (3, 4))
    wedge = 25.0**2 * np.radians(trough_strake(3).bevels().max()) * 2000 / 2
    assert below.intersect(above).Volume() < 0.01 * wedge
    # Planed to the same plane: no gap either.
    assert below.distance(above) < 1e-3
    assert below.fuse(above).Volume() == pytest.approx(below.Volume() + above.Volume(), rel=1e-5)


@pytest.mark.parametrize(
    "names",
    [
        [f"side ceiling, strake {n}, length 1" for n in (7, 8)],
        [f"cabin ceiling, strake {n}" for n in (11, 12)],
    ],
    ids=["side", "cabin"],
)
def test_strakes_of_the_full_demo_close_without_a_gap_that_a_pencil_line_would_hide(names):
    below, above = (in_boat(PARTS[name]) for name in names)
    assert below.isValid() and above.isValid()
    seam_mm2 = PARTS[names[0]].outline().siding_mm * PARTS[names[0]].outline().length_mm
    assert below.intersect(above).Volume() < 0.02 * seam_mm2
    assert below.distance(above) < 0.02


def test_a_planed_strake_is_as_thick_all_across():
    part = trough_strake(2)
    solid = part.solid_in_place().val()
    exact = part.outline().area_mm2 * 25.0
    # What is planed off are two wedges of the bevel along each edge.
    planed = 25.0**2 * np.tan(np.radians(part.bevels().mean())) * part.outline().length_mm
    assert solid.Volume() == pytest.approx(exact - planed, rel=1e-3)


def test_a_clamp_keeps_square_edges():
    part = PARTS["clamp strake"]
    exact = part.outline().area_mm2 * part.outline().siding_mm
    # Planed as a ceiling is, it would lose over a hundredth.
    assert part.bevels().max() > 5.0
    assert volume_mm3(part.solid_in_place()) == pytest.approx(exact, rel=3e-3)
    assert not any("plane" in remark for remark in part.remarks(Unit.FOOT))


def round_two_ways(of, **given):
    given = {"at": "frames 1 to 9", "thickness": 12, "of": of, "strakes": 1, **given}
    return FittedCeiling.model_validate(given, context={"boat": wigley_boat()})


def test_a_strake_that_lies_flat_says_nothing_of_it():
    assert not any("flat" in remark for remark in round_two_ways(of=3).remarks(Unit.MM))
    laid = [part for part in PARTS.values() if isinstance(part, BentPlank)]
    assert len(laid) > 10
    assert not any("flat" in remark for part in laid for remark in part.remarks(Unit.FOOT))


def test_a_strake_too_broad_for_a_hull_round_two_ways_says_how_far_off_in_the_projects_unit():
    part = round_two_ways(of=1)
    off = max(map(abs, part.development().edge_errors_mm))
    assert 1.0 < off < 2.0
    (told,) = [remark for remark in part.remarks(Unit.MM) if "flat" in remark]
    assert told.startswith(f"does not lie quite flat: an edge comes out {off:.1f} mm longer or")
    (told,) = [remark for remark in part.remarks(Unit.FOOT) if "flat" in remark]
    assert "comes out 1/16 in longer or" in told
    assert " mm" not in told


def test_wood_that_would_be_strained_is_told_by_how_much():
    told = not_flat(Development(np.zeros((2, 2, 2)), 0.0042, (0.1, -0.2)), Unit.INCH)
    assert told == (
        "does not lie quite flat: the wood must stretch or crush by 0.4 %; leave wood on and "
        "offer it up",
    )


def test_frames_are_marked_where_they_cross_a_strake():
    part = PARTS["side ceiling, strake 7, length 1"]
    frames = [mark for mark in part.outline().marks if mark.kind is MarkKind.FRAME]
    assert [mark.label for mark in frames] == [f"frame {n}" for n in range(4, 12)]
    net = part.net()
    for number, mark in zip(range(4, 12), frames, strict=True):
        x = (20 + 10 * (number - 1)) * INCH
        row = int(np.abs(net[:, 0, 0] - x).argmin())
        flat = np.array(mark.points)
        assert net[row, 0, 0] == pytest.approx(x)
        assert np.linalg.norm(flat[-1] - flat[0]) == pytest.approx(
            np.linalg.norm(net[row, -1] - net[row, 0]), abs=0.5
        )
