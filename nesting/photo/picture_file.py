"""Photographs as files: which there are, which belong to one board, and what their camera says."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from nesting.errors import OutputError, PhotographError
from nesting.photo.marks import Picture
from nesting.photo.opencv import opencv
from nesting.plain_file import plain_start
from nesting.unseen import quoted

ENDINGS = (".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp", ".bmp")

UNREAD_ENDINGS = (".heic", ".heif", ".avif", ".dng", ".gif")
"""Of pictures that cameras and phones make and that are not read: said, never passed over."""

MOST_PIXELS = 120_000_000
"""A larger picture is refused before it is unpacked: it would take gigabytes."""

FULL_FRAME_DIAGONAL_MM = 43.27
"""Of the frame, 36 mm x 24 mm, that the EXIF tag FocalLengthIn35mmFilm goes by (CIPA DC-008, tag
A405; that its diagonal is meant is from memory)."""

EXIF_IFD, FOCAL_35 = 0x8769, 0xA405


@dataclass(frozen=True)
class Group:
    """The pictures of one board."""

    name: str
    paths: tuple[Path, ...]


def groups_in(given: Sequence[Path]) -> tuple[Group, ...]:
    """Return the boards that files and folders hold pictures of.

    A picture is a board, named as the file; a folder inside a given one is a board too, and all
    pictures in it are of that board.

    Raises
    ------
    OutputError
        If there is no such file or folder, or no picture in it.
    """
    found = list[Group]()
    for path in given:
        if path.is_dir():
            found += _in_folder(path)
        elif path.is_file():
            found.append(Group(path.stem, (path,)))
        else:
            raise OutputError(f"{path}: there is no such picture or folder")
    names = [group.name.casefold() for group in found]
    for group in found:
        if names.count(group.name.casefold()) > 1:
            raise OutputError(
                f"two boards would be called {quoted(group.name)}: pictures of one board go into a "
                "folder of its name; else rename one"
            )
    return tuple(found)


def _in_folder(folder: Path) -> list[Group]:
    own = _pictures(folder)
    below = [(sub, _pictures(sub)) for sub in sorted(folder.iterdir()) if sub.is_dir()]
    groups = [Group(path.stem, (path,)) for path in own]
    groups += [Group(sub.name, tuple(paths)) for sub, paths in below if paths]
    if not groups:
        raise OutputError(f"{folder}: no picture in it; read are {', '.join(ENDINGS)}")
    return sorted(groups, key=lambda group: group.name)


def _pictures(folder: Path) -> list[Path]:
    return sorted(
        path
        for path in folder.iterdir()
        if path.suffix.lower() in ENDINGS + UNREAD_ENDINGS
        and path.is_file()
        and not path.name.startswith(".")
    )


NO_PICTURE = "it cannot be read: the file is broken, or no picture"


def read_picture(path: Path) -> Picture:
    """Return a picture (h, w, 3), turned upright as its camera says.

    Raises
    ------
    PhotographError
        If it is none, cut short, or too large.
    """
    cv2 = opencv()
    wide, high, _ = _header(path)
    if wide * high > MOST_PIXELS:
        raise PhotographError(f"{wide} x {high} pixels are too many: reduce it to 12 million")
    _require_whole(path)
    content = np.frombuffer(path.read_bytes(), np.uint8)
    picture = cv2.imdecode(content, cv2.IMREAD_COLOR)
    if picture is None:
        raise PhotographError(NO_PICTURE)
    made: Picture = picture
    return made


def focal_pixels(path: Path) -> float | None:
    """Return the focal length in pixels that a picture's camera states, if it does."""
    wide, high, focal = _header(path)
    if not 8 <= focal <= 300:
        return None
    return focal / FULL_FRAME_DIAGONAL_MM * float(np.hypot(wide, high))


def _header(path: Path) -> tuple[int, int, float]:
    """Return width, height and focal length (on a full frame, 0 if not told) of a picture."""
    with _opened(path) as picture:
        if picture.format == "PNG" and "exif" not in picture.info:
            return picture.width, picture.height, 0.0  # asked for it, Pillow unpacks the whole
        stated: Any = picture.getexif().get_ifd(EXIF_IFD).get(FOCAL_35, 0)
        return picture.width, picture.height, float(stated or 0)


def _require_whole(path: Path) -> None:
    """Refuse a file that ends early: OpenCV would fill the rest with grey."""
    with _opened(path) as picture:
        picture.draft("RGB", (picture.width // 8, picture.height // 8))  # quick, for JPEG alone
        picture.load()


@contextmanager
def _opened(path: Path) -> Iterator[Any]:
    from PIL import Image  # comes with matplotlib

    if path.suffix.lower() in UNREAD_ENDINGS:
        raise PhotographError(
            f"pictures of the kind {path.suffix.lower()} are not read; save it as JPEG, or set the "
            "camera to that"
        )
    most, Image.MAX_IMAGE_PIXELS = Image.MAX_IMAGE_PIXELS, None  # what is too large is told here
    try:
        plain_start(path, 1)  # Pillow would wait for a pipe
        with Image.open(path) as picture:
            yield picture
    except PermissionError as error:
        raise PhotographError("it cannot be read: no permission to open it") from error
    except (OSError, ValueError, TypeError, SyntaxError, EOFError) as error:
        raise PhotographError(NO_PICTURE) from error
    finally:
        Image.MAX_IMAGE_PIXELS = most
