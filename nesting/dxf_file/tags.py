"""The lines of a DXF file as tags: a group code, its value and the line it stands on.

Nothing is mended here. A reader that repairs takes 500,9 for 500 and leaves out what it cannot
place, and a nail is gone; so what is no tag is an error with its line.
"""

from __future__ import annotations

import io
import math
import re
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from nesting.errors import DrawingError
from nesting.plain_file import plain_bytes

LARGEST_BYTES = 100_000_000
"""A drawing of a whole boat's outlines stays far below; more would fill the memory."""

LONGEST_NUMBER = 60
"""Characters of a number in a drawing; programs write some twenty."""

LARGEST_WHOLE = 2**32
"""A count or a set of flags is no larger: 32 bits."""

_FLOATS = frozenset([*range(10, 60), *range(110, 150), *range(210, 240), *range(460, 470)])
_WHOLES = frozenset(
    [*range(60, 80), *range(90, 100), *range(170, 180), *range(270, 290), *range(370, 380)]
)
"""Group codes whose values are numbers: DXF reference, "group codes in numerical order" (from
memory)."""

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
_IN_NUMBERS = frozenset("0123456789+-.eE ")
_CODE = re.compile(rb"\s*-?\d{1,5}\s*")
_BINARY_MARK = b"AutoCAD Binary DXF\r\n\x1a\x00"
_BLANK = b"\x00\x1a \t\r\n"
"""What may follow the end of a file: old editors close a text with Ctrl-Z."""

_FIRST_UNICODE = "AC1021"
"""Version (R2007) from which on text is UTF-8."""

_ESCAPED = re.compile(r"\\U\+([0-9A-Fa-f]{4})")


class Tag(NamedTuple):
    """One group: its code, its value, and the line (in a binary file: the number) of it."""

    code: int
    value: str | float | int | bytes
    line: int

    @property
    def text(self) -> str:
        """The value as text, without blanks around it."""
        return self.value.strip() if isinstance(self.value, str) else str(self.value)


def read_content(path: Path) -> bytes:
    """Return a drawing's bytes.

    Raises
    ------
    DrawingError
        If there is no such file, it is too large, no DXF, or was cut off.
    """
    content = _bytes_of(path)
    if b"SECTION" not in content:
        raise DrawingError(f"{path}: this is no DXF drawing; save it as DXF (R12 or R2010)")
    if not content.rstrip(_BLANK).endswith(b"EOF"):
        raise DrawingError(f"{path}: the file was cut off, its end (EOF) is missing; copy it again")
    return content


def _bytes_of(path: Path) -> bytes:
    try:
        return plain_bytes(path, LARGEST_BYTES)
    except IsADirectoryError:
        raise DrawingError(f"{path}: is a folder, not a drawing") from None
    except FileNotFoundError:
        raise DrawingError(f"{path}: there is no such file") from None
    except ValueError:
        raise DrawingError(f"{path}: is no file name") from None
    except OSError as error:
        raise DrawingError(f"{path}: cannot be read: {error.strerror}") from None


def tags_of(content: bytes, path: Path) -> Iterator[Tag]:
    """Yield the tags of a drawing, without comments, up to and without its end.

    Raises
    ------
    DrawingError
        If a group code is none, or something follows the end; names the line.
    """
    tags = _binary(content, path) if content.startswith(_BINARY_MARK) else _plain(content, path)
    for tag in tags:
        if tag.code == 0 and tag.text == "EOF":
            break
        if tag.code != 999:
            yield tag
    for tag in tags:
        if tag.code != 999:
            raise DrawingError(
                f"{path}:{tag.line}: the drawing goes on after its end (EOF); save it again"
            )


def _plain(content: bytes, path: Path) -> Iterator[Tag]:
    encoding = _encoding(content)
    content = content.removeprefix(b"\xef\xbb\xbf").rstrip(_BLANK)
    if b"\n" not in content:
        content = content.replace(b"\r", b"\n")
    lines = enumerate(io.BytesIO(content), start=1)
    codes: dict[bytes, int] = {}
    for number, line in lines:
        code = codes.get(line)
        if code is None:
            if not _CODE.fullmatch(line):
                raise _no_code(path, number, line)
            code = codes[line] = int(line)
        _, value = next(lines, (0, b""))
        text = value.rstrip(b"\r\n").decode(encoding, errors="replace")
        if "\\U+" in text:
            text = _ESCAPED.sub(_character, text)
        yield Tag(code, text, number + 1)


def _character(escaped: re.Match[str]) -> str:
    """Return the character of an escape; half of a pair is none, and no terminal prints it."""
    code = int(escaped[1], 16)
    return "\ufffd" if 0xD800 <= code <= 0xDFFF else chr(code)


def _no_code(path: Path, number: int, line: bytes) -> DrawingError:
    given = line.strip()[:LONGEST_NUMBER].decode("ascii", errors="replace")
    return DrawingError(
        f"{path}:{number}: the drawing is damaged: a group code must stand here, not {given!r}; "
        "save it again"
    )


def _encoding(content: bytes) -> str:
    version = re.search(rb"\$ACADVER\s+1\s+(\w+)", content[:100_000])
    if content.startswith(b"\xef\xbb\xbf") or (
        version and version[1].decode("ascii", "replace") >= _FIRST_UNICODE
    ):
        return "utf-8"
    page = re.search(rb"\$DWGCODEPAGE\s+3\s+(\w+)", content[:100_000])
    if not page:
        return "cp1252"
    from ezdxf.tools.codepage import toencoding

    return toencoding(page[1].decode("ascii", "replace"))


def _binary(content: bytes, path: Path) -> Iterator[Tag]:
    from ezdxf.lldxf.tagger import binary_tags_loader

    tags = enumerate(binary_tags_loader(content.rstrip(_BLANK) + b"\x00", "replace"), start=1)
    while True:
        number = 0
        try:
            number, tag = next(tags)
        except StopIteration:
            return
        except Exception as error:  # a damaged binary file can fail anywhere inside the reader
            raise DrawingError(f"{path}: the drawing is damaged ({error}); save it again") from None
        yield Tag(int(tag.code), tag.value, number)


def is_float(code: int) -> bool:
    """Return whether a group of this code holds a number with decimals."""
    return code in _FLOATS


def is_whole(code: int) -> bool:
    """Return whether a group of this code holds a whole number."""
    return code in _WHOLES


def number_of(tag: Tag) -> float | None:
    """Return a tag's number, or None if it is none: nothing is guessed at.

    >>> number_of(Tag(10, " 500.9", 7)), number_of(Tag(10, "500,9", 7))
    (500.9, None)
    """
    code, value, _ = tag
    if isinstance(value, str):
        text = value.strip()
        if len(text) > LONGEST_NUMBER or not _NUMBER.fullmatch(text):
            return None
        number = float(text)
    elif isinstance(value, bytes):
        return None
    else:
        number = float(value)
    if not math.isfinite(number):
        return None
    if code not in _WHOLES:
        return number
    return number if number == int(number) and abs(number) <= LARGEST_WHOLE else None


def numbers_of(tags: Sequence[Tag]) -> list[float | None]:
    """Return what `number_of` says of each tag; where all are plain, much faster."""
    plain = _plain_numbers([tag.value for tag in tags])
    if plain is None:
        return [number_of(tag) for tag in tags]
    return [
        number if tag.code in _FLOATS else number_of(tag)
        for tag, number in zip(tags, plain, strict=True)
    ]


def _plain_numbers(values: Sequence[object]) -> list[float] | None:
    """Return the numbers that texts are, or None where one may be none or is too long.

    Of texts in nothing but these letters Python takes for numbers what `_NUMBER` does.
    """
    texts = [value for value in values if isinstance(value, str) and len(value) <= LONGEST_NUMBER]
    if len(texts) < len(values) or not _IN_NUMBERS.issuperset("".join(texts)):
        return None
    try:
        numbers = list(map(float, texts))
    except ValueError:
        return None
    return numbers if all(map(math.isfinite, numbers)) else None
