"""Solids in the boat: where they stand, their colours, and the STEP file read again."""

from itertools import combinations

import numpy as np
import pytest
from model_parts import BOARDS, PARTS, beam_at

from parts.families.beams import DeckBeam
from parts.model.assembly import boat_assembly, step_bytes
from parts.model.colour import NO_BOARD, board_colours, from_oklch
from parts.model.mesh import mesh_of
from parts.model.piece import pieces_in_boat, sawn_for
from parts.solids import volume_mm3


@pytest.fixture(scope="module")
def pieces():
    return pieces_in_boat(PARTS, BOARDS)


@pytest.fixture(scope="module")
def read_again(pieces, tmp_path_factory):
    """The assembly written as STEP and read back, once as solids, once as a tree."""
    import cadquery as cq

    path = tmp_path_factory.mktemp("step") / "boat.step"
    path.write_bytes(step_bytes(boat_assembly("Withy", pieces)))
    solids = cq.importers.importStep(str(path)).solids().vals()
    return solids, cq.Assembly.importStep(str(path)), path.read_text(encoding="latin-1")


def test_every_copy_of_a_part_is_a_piece_with_its_board(pieces):
    assert [(p.label, p.board) for p in pieces] == list(BOARDS.items())


def test_piece_glued_up_of_lamellae_names_all_their_boards():
    class Laminated(DeckBeam):
        def positions(self):
            return beam_at(2500.0).positions()

        def pieces(self):
            return 3

    beam = Laminated(span=1200, siding=45, moulding=70, camber=40, bearing=60)
    boards = {
        "beam, 1 of 3": "D-07", "beam, 2 of 3": "D-08", "beam, 3 of 3": "D-07",
    }  # fmt: skip
    (piece,) = pieces_in_boat({"beam": beam}, boards)
    assert piece.name == "beam (D-07, D-08)"
    assert [sawn.cut for sawn in sawn_for("beam", beam)] == [tuple(boards)]


def test_part_without_a_place_is_left_out():
    beam = DeckBeam(span=1200, siding=45, moulding=70, camber=40, bearing=60)
    assert pieces_in_boat({"beam": beam}) == ()


def test_solid_stands_where_its_position_says(pieces):
    box = pieces[0].solid.BoundingBox()
    # The marked face looks aft from x = 2500 and the wood stands on it, as the family makes it.
    assert (box.xmin, box.xmax) == pytest.approx((2500, 2545), abs=1e-6)
    assert (box.ymin, box.ymax) == pytest.approx((-600, 600), abs=1e-6)
    assert box.zmax == pytest.approx(1400 + 1200 / 32, abs=0.1)


def test_port_twin_is_the_mirror_image_of_the_starboard_piece(pieces):
    starboard, port = (piece.solid for piece in pieces[2:])
    assert starboard.Volume() == pytest.approx(port.Volume(), rel=1e-9)
    one, other = starboard.BoundingBox(), port.BoundingBox()
    assert (one.ymin, one.ymax) == pytest.approx((-other.ymax, -other.ymin), abs=1e-6)
    assert (one.xmin, one.xmax, one.zmin) == pytest.approx((other.xmin, other.xmax, other.zmin))
    centre, twin = starboard.Center().toTuple(), port.Center().toTuple()
    assert np.array(centre) * [1, -1, 1] == pytest.approx(np.array(twin), abs=1e-6)


def test_assembly_read_from_step_has_the_same_volumes(read_again):
    solids, _, _ = read_again
    made = [volume_mm3(part.solid()) for part in PARTS.values() for _ in part.positions()]
    assert sorted(s.Volume() for s in solids) == pytest.approx(sorted(made), rel=1e-6)


def test_assembly_read_from_step_stands_where_the_pieces_do(pieces, read_again):
    solids, _, _ = read_again
    made = sorted(p.solid.Center().toTuple() for p in pieces)
    found = sorted(s.Center().toTuple() for s in solids)
    assert np.array(found) == pytest.approx(np.array(made), abs=1e-3)


def test_step_tree_names_boards_and_pieces(read_again):
    _, _, text = read_again
    for name in ("Withy", "board D-07", "board K1/2", "beam 1 (D-07)", "knee, 1 of 2 (K1/2)"):
        assert f"'{name}'" in text


def test_step_tree_read_again_has_the_colours_of_the_boards(pieces, read_again):
    _, tree, _ = read_again
    found = {
        name.split("/")[-1]: child.color.toTuple()[:3]
        for name, child in tree.objects.items()
        if child.obj is not None and child.color is not None
    }
    colours = sorted(found.values())
    expected = sorted({piece.colour for piece in pieces})
    assert len(colours) == len(pieces)
    for colour in expected:
        assert min(np.abs(np.subtract(colour, c)).max() for c in colours) < 0.01


def test_pieces_without_a_board_are_grey_and_say_so():
    (piece,) = pieces_in_boat({"beam": beam_at(100.0)})
    assert piece.colour == NO_BOARD
    assert piece.name == "beam (no board)"


def test_colours_of_many_boards_are_all_told_apart():
    colours = board_colours(f"D-{k}" for k in range(24))
    assert len(colours) == 24
    for one, other in combinations(colours.values(), 2):
        assert np.linalg.norm(np.subtract(one, other)) > 0.05
    for one, other in combinations(list(colours.values())[:8], 2):
        assert np.linalg.norm(np.subtract(one, other)) > 0.15


def test_oklch_without_chroma_is_grey():
    # White is lightness 1 by definition of the space (B. Ottosson, 2020).
    assert from_oklch(1.0, 0.0, 123.0) == pytest.approx((1, 1, 1), abs=1e-6)
    red, green, blue = from_oklch(0.5, 0.0, 40.0)
    assert red == pytest.approx(green, abs=1e-6) == pytest.approx(blue, abs=1e-6)


def test_mesh_of_a_solid_encloses_its_volume(pieces):
    mesh = mesh_of(pieces[0].solid)
    a, b, c = (mesh.points[mesh.triangles[:, k]] for k in range(3))
    # Divergence theorem over the skin.
    volume = np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6
    assert volume == pytest.approx(pieces[0].solid.Volume(), rel=1e-3)
