from __future__ import annotations

from pathlib import Path

import pytest
from sheet_nests import sheet_of

from nesting.errors import OutputError
from nesting.sheets import save_picture

pytest.importorskip("matplotlib")


def test_picture_has_the_size_of_the_paper_and_ink_on_it(tmp_path: Path) -> None:
    image = pytest.importorskip("matplotlib.image")
    path = save_picture(sheet_of("tiny"), tmp_path / "a.png", dots_per_inch=50)
    pixels = image.imread(path)
    height, width = pixels.shape[:2]
    assert (width, height) == pytest.approx((420 / 25.4 * 50, 297 / 25.4 * 50), abs=1)
    dark = (pixels[..., :3].min(axis=2) < 0.4).mean()
    assert 0.002 < dark < 0.2


def test_picture_is_not_overwritten_unasked(tmp_path: Path) -> None:
    path = tmp_path / "a.png"
    path.write_bytes(b"kept")
    with pytest.raises(OutputError, match="is there already"):
        save_picture(sheet_of("tiny"), path, dots_per_inch=20)
    assert path.read_bytes() == b"kept"
