"""Pictures as files: kinds that phones, scanners and paint programs write, whole and broken."""

import os
import struct
import zlib

import cv2
import numpy as np
import pytest
from PIL import Image

from nesting.errors import PhotographError
from nesting.photo.photographed import Asked, NoBoard, board_in
from nesting.photo.picture_file import Group, focal_pixels, groups_in, read_picture

ORIENTATION, FOCAL_35, EXIF_IFD = 0x0112, 0xA405, 0x8769


@pytest.fixture(scope="module")
def drawn():
    """Return a picture (RGB) whose corners tell which way up it is."""
    picture = np.full((120, 200, 3), 128, np.uint8)
    picture[:40, :60] = (200, 30, 30)
    picture[80:, 140:] = (30, 30, 200)
    return picture


def near(path, drawn, most=12):
    back = read_picture(path)[..., ::-1]
    assert back.shape == drawn.shape and back.dtype == np.uint8
    assert np.abs(back.astype(int) - drawn).max() <= most


@pytest.mark.parametrize("turn", [1, 3, 6, 8])
def test_a_phone_held_sideways_says_which_way_is_up(tmp_path, drawn, turn):
    path = tmp_path / "a.jpg"
    exif = Image.Exif()
    exif[ORIENTATION] = turn
    exif.get_ifd(EXIF_IFD)[FOCAL_35] = 26
    times = {1: 0, 3: 2, 6: 1, 8: 3}[turn]
    laid = np.ascontiguousarray(np.rot90(drawn, times))
    Image.fromarray(laid).save(path, exif=exif, quality=98, subsampling=0)
    near(path, drawn)
    assert focal_pixels(path) == pytest.approx(26 / 43.27 * np.hypot(200, 120))


@pytest.mark.parametrize("alpha", [0, 255])
def test_a_picture_with_alpha_is_read_by_its_colours(tmp_path, drawn, alpha):
    path = tmp_path / "a.png"
    Image.fromarray(np.dstack([drawn, np.full(drawn.shape[:2], alpha, np.uint8)])).save(path)
    near(path, drawn, 0)


def test_sixteen_bits_grey_and_print_colours_are_read(tmp_path, drawn):
    grey = np.repeat(drawn[..., :1], 3, axis=2)
    deep = tmp_path / "deep.png"
    cv2.imwrite(str(deep), drawn[..., ::-1].astype(np.uint16) * 257)
    near(deep, drawn, 1)
    deep_grey = tmp_path / "deep.tif"
    cv2.imwrite(str(deep_grey), grey[..., 0].astype(np.uint16) * 257)
    near(deep_grey, grey, 1)
    plain = tmp_path / "grey.jpg"
    Image.fromarray(grey[..., 0]).save(plain, quality=98)
    near(plain, grey)
    printed = tmp_path / "cmyk.jpg"
    Image.fromarray(drawn).convert("CMYK").save(printed, quality=98)
    near(printed, drawn, 40)


@pytest.mark.parametrize("ending", [".jpg", ".png", ".tif", ".webp"])
@pytest.mark.parametrize("share", [0.0, 0.02, 0.6, 0.97])
def test_a_file_that_ends_early_is_refused(tmp_path, ending, share):
    path = tmp_path / f"a{ending}"
    noise = np.random.default_rng(1).integers(0, 255, (200, 300, 3), np.uint8)
    Image.fromarray(noise).save(path)
    whole = path.read_bytes()
    path.write_bytes(whole[: int(share * len(whole))])
    assert "broken" in refused(path)


def refused(path):
    found = board_in(Group(path.stem, (path,)), Asked(22.0))
    assert isinstance(found, NoBoard)
    assert found.reason.startswith(f"{path.name}: ")
    assert "\n" not in found.reason and len(found.reason) < 260
    return found.reason


def test_words_called_a_picture_are_refused(tmp_path):
    path = tmp_path / "a.jpg"
    path.write_text("deck-07, 2.4 m, teak\n")
    assert "no picture" in refused(path)


def test_a_picture_of_too_many_pixels_is_refused_before_it_is_unpacked(tmp_path):
    path = tmp_path / "a.png"
    Image.new("1", (20, 10)).save(path)
    content = bytearray(path.read_bytes())
    content[16:24] = struct.pack(">II", 20000, 10000)
    content[29:33] = struct.pack(">I", zlib.crc32(content[12:29]))
    path.write_bytes(content)
    assert "20000 x 10000 pixels are too many" in refused(path)


@pytest.mark.parametrize("size", [(1, 1), (7, 5), (3000, 2), (2, 2500), (640, 480)])
@pytest.mark.parametrize("shade", [0, 255])
def test_a_picture_of_nothing_has_no_marks(tmp_path, size, shade):
    path = tmp_path / "a.png"
    Image.new("RGB", size, (shade,) * 3).save(path)
    assert "none of the tool's marks" in refused(path)


def test_kinds_that_are_not_read_are_told(tmp_path):
    (tmp_path / "deck-01.HEIC").write_bytes(b"x")
    (group,) = groups_in([tmp_path])
    assert "save it as JPEG" in refused(group.paths[0])


@pytest.mark.skipif("PHOTOGRAPHS" not in os.environ, reason="a gigabyte: PHOTOGRAPHS=1")
def test_a_picture_of_a_hundred_million_pixels_is_read(tmp_path):
    path = tmp_path / "a.png"
    Image.new("1", (11000, 9500)).save(path)
    assert read_picture(path).shape == (9500, 11000, 3)


def test_a_broken_file_is_an_error_of_ours(tmp_path):
    with pytest.raises(PhotographError):
        read_picture(tmp_path / "there is none.jpg")
