"""Cut sheets that need not be drawn again: an earlier run drew the very same.

Each sheet begins with a comment (group 999) that holds two keys: one of all that it shows and of
the program that drew it, one of the bytes that follow. Where both agree the file is taken as it is:
it was read back and compared when it was drawn.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from enum import Enum
from functools import lru_cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from nesting.plain_file import LARGEST_BYTES, plain_bytes

COMMENT = b"999\n"
"""Group code of a comment (DXF reference, R12 and R2010; from memory)."""

LIBRARIES = ("shapely", "numpy")
"""What else has a say in what a sheet looks like."""


def key_of(*content: object) -> str:
    """Return a key that is equal for equal content drawn by the same program.

    Content is made of numbers, texts, geometries, sequences, mappings and frozen dataclasses.

    Raises
    ------
    TypeError
        If it holds anything else.
    """
    return digest_of(_program(), *content)


def digest_of(*content: object) -> str:
    """Return a key that is equal for equal content, whatever program it is asked of.

    Raises
    ------
    TypeError
        If it holds anything but what :func:`key_of` takes.
    """
    digest, pieces = hashlib.sha256(), list[bytes]()
    _take_apart(content, pieces)
    for piece in pieces:
        digest.update(len(piece).to_bytes(8, "little") + piece)
    return digest.hexdigest()


def _take_apart(content: object, pieces: list[bytes]) -> None:
    """Add what tells content from other content, kind before value."""
    pieces.append(type(content).__name__.encode())
    if content is None or isinstance(content, str | int | float | Enum):
        pieces.append(repr(content).encode())
    elif isinstance(content, BaseGeometry):
        pieces.append(shapely.to_wkb(content))
    elif is_dataclass(content):
        for name, written in _fields_of(content):
            pieces.append(written)
            _take_apart(getattr(content, name), pieces)
    elif isinstance(content, Mapping):
        for key in sorted(content, key=repr):
            _take_apart((key, content[key]), pieces)
    elif isinstance(content, Sequence):
        pieces.append(str(len(content)).encode())
        for item in content:
            _take_apart(item, pieces)
    else:
        raise TypeError(f"nothing tells one {type(content).__name__} from another")


_FIELDS: dict[type, tuple[tuple[str, bytes], ...]] = {}
"""Of dataclasses met so far."""


def _fields_of(content: Any) -> tuple[tuple[str, bytes], ...]:
    """Return the names of a dataclass's fields, each as text and as bytes."""
    kind = type(content)
    if kind not in _FIELDS:
        _FIELDS[kind] = tuple((field.name, field.name.encode()) for field in fields(content))
    return _FIELDS[kind]


@lru_cache(maxsize=1)
def _program() -> str:
    """Return a key of the program as it is: its files and the libraries that it draws with."""
    digest = hashlib.sha256()
    for folder in (Path(__file__).parent, Path(__file__).parent.parent / "parts"):
        for path in sorted((*folder.rglob("*.py"), *folder.rglob("*.txt"))):
            digest.update(path.read_bytes())
    for library in LIBRARIES:
        digest.update(_version(library).encode())
    return digest.hexdigest()


def _version(library: str) -> str:
    try:
        return version(library)
    except PackageNotFoundError:
        return "none"


def marked(drawn: bytes, key: str) -> bytes:
    """Return a sheet that was just drawn with the keys at its beginning."""
    return COMMENT + _line(key, drawn) + drawn


def is_carried_over(earlier: Path, path: Path, key: str) -> bool:
    """Return whether an earlier sheet shows just what a key stands for; then it is copied."""
    try:
        found = plain_bytes(earlier, LARGEST_BYTES)
    except OSError:
        return False
    drawn = found.split(b"\n", 2)[-1]
    if os.path.islink(earlier) or found != marked(drawn, key):
        return False
    path.write_bytes(found)
    return True


def _line(key: str, drawn: bytes) -> bytes:
    return f"salvage-nest {key} {hashlib.sha256(drawn).hexdigest()}\n".encode()
