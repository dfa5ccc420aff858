"""The picture of the boat: looked at by machine for what the eye would miss last."""

import io
import struct
from ctypes.util import find_library
from pathlib import Path

import numpy as np
import pytest
from model_parts import BOARDS, PARTS

from nesting.errors import OutputError
from parts.lines import Face, read_hull
from parts.model.ghost import ghost_lines
from parts.model.legend import legend_of
from parts.model.mesh import hull_mesh
from parts.model.piece import pieces_in_boat
from parts.model.render import Eye
from parts.model.scene import boat_picture

WITHY = Path(__file__).parents[2] / "demo_projects" / "lines" / "withy_offsets.csv"


@pytest.fixture(scope="module")
def withy():
    return read_hull(WITHY)


@pytest.fixture(scope="module")
def pieces():
    return pieces_in_boat(PARTS, BOARDS)


def test_picture_is_a_png_with_every_boards_colour_and_a_ghost(withy, pieces):
    matplotlib_image = pytest.importorskip("matplotlib.image", reason="reads the picture back")
    data = boat_picture(pieces, withy, title="Withy", width_px=640)
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    width, height = struct.unpack(">II", data[16:24])
    assert width == 640
    shown = matplotlib_image.imread(io.BytesIO(data))[:, :, :3]
    assert shown.shape[:2] == (height, width)
    for colour in {piece.colour for piece in pieces}:
        # At least its swatch.
        assert (np.abs(shown - colour).max(axis=2) < 0.01).sum() > 100
    is_paper = shown.min(axis=2) > 0.97
    assert 0.3 < is_paper.mean() < 0.9
    assert shown.mean() > 0.8


def test_picture_of_nothing_is_refused(withy):
    with pytest.raises(OutputError, match="nothing to show"):
        boat_picture((), withy, title="Withy")


def test_machine_that_cannot_draw_off_screen_is_told_so_and_lives(pieces, monkeypatch):
    # VTK's own switch; OSMesa is asked for, and no library of that name is to be found.
    monkeypatch.setenv("VTK_DEFAULT_OPENGL_WINDOW", "vtkOSOpenGLRenderWindow")
    if find_library("OSMesa") is not None:
        pytest.skip("OSMesa is installed here")
    with pytest.raises(OutputError, match="no way to draw off screen"):
        boat_picture(pieces, None, title="Withy")


def test_eye_sees_starboard_from_ahead_and_above():
    right, up, back = Eye(58, 32).axes
    assert back[0] < 0 < back[1] and back[2] > 0
    assert up[2] > 0.8
    # Seen from there the bow is on the right.
    assert right[0] < 0
    assert np.cross(right, up) == pytest.approx(back)


def test_legend_names_every_board_once_in_the_order_of_its_name(pieces):
    legend = legend_of(pieces, "Withy", 1600)
    assert [entry.text for entry in legend.entries] == ["D-07: 2", "K1/2: 1", "K2: 1"]
    assert legend.place(0)[1] < legend.height_px


def test_legend_of_many_boards_stays_inside_the_picture(pieces):
    narrow = legend_of(pieces, "Withy", 300)
    for k in range(len(narrow.entries)):
        x, y = narrow.place(k)
        assert 0 <= x < 300 and 0 < y < narrow.height_px


def test_ghost_has_both_sides_and_ends_at_the_transom(withy):
    edges, sections = ghost_lines(withy)
    (foot_x, foot_z), (head_x, head_z) = withy.table.transom
    assert len(edges) == 6 and len(sections) % 2 == 0
    for line in edges:
        x, _, z = line.T
        plane = foot_x + (z - foot_z) * (head_x - foot_x) / (head_z - foot_z)
        assert (x <= plane + 3.0).all()
    assert np.vstack(edges)[:, 1].sum() == pytest.approx(0, abs=1e-6)


def test_hull_mesh_turns_its_outer_faces_out_on_both_sides(withy):
    mesh = hull_mesh(withy, Face.OUTSIDE)
    a, b, c = (mesh.points[mesh.triangles[:, k]] for k in range(3))
    out, side = np.cross(b - a, c - a)[:, 1], a[:, 1]
    large = np.abs(out) > 50.0
    assert (np.sign(out[large]) == np.sign(side[large])).mean() > 0.99
