"""Reading a text file, with a finding for everything that can be wrong with one."""

from __future__ import annotations

from pathlib import Path

from nesting.errors import Finding, ProjectFileError
from nesting.plain_file import plain_bytes

LARGEST_BYTES = 20_000_000
"""A thousand boards recorded in full take about 1 MB; 20 MB is no project or stock file."""


def read_text(path: Path) -> str:
    """Return the text of a file in UTF-8.

    Raises
    ------
    ProjectFileError
        If the file is not there, is a folder, cannot be read, is larger than 20 MB or is
        not UTF-8; says where.
    """
    try:
        return _decoded(path, plain_bytes(path, LARGEST_BYTES))
    except IsADirectoryError:
        raise _finding(path, "is a folder; name the file in it") from None
    except FileNotFoundError:
        raise _finding(path, "there is no such file") from None
    except PermissionError:
        raise _finding(path, "may not be read; check its permissions") from None
    except OSError as error:
        raise _finding(path, f"cannot be read: {error.strerror}") from None


def _decoded(path: Path, content: bytes) -> str:
    # Without a mark every other byte of plain letters is none.
    is_unmarked = len(content) > 1 and (content[0] == 0) != (content[1] == 0)
    if is_unmarked or content.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise _finding(path, "is in UTF-16; save it as UTF-8")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = content[: error.start]
        line = before.count(b"\n") + 1
        column = error.start - (before.rfind(b"\n") + 1) + 1
        byte = content[error.start]
        message = f"the byte 0x{byte:02x} is not UTF-8; save the file as UTF-8"
        raise _finding(path, message, line, column) from None


def _finding(path: Path, message: str, line: int = 1, column: int = 1) -> ProjectFileError:
    return ProjectFileError([Finding(str(path), line, column, message)])
