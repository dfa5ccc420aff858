"""YAML read with the place of every key and value, and without YAML's surprises."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from nesting.errors import Finding, ProjectFileError
from nesting.yaml_file.composer import Node, compose
from nesting.yaml_file.text import read_text

Step = str | int


@dataclass(frozen=True)
class Document:
    """One YAML file: its data, and where everything stands in it."""

    file: str
    root: Node

    @property
    def data(self) -> Any:
        """The content as plain dicts, lists, text and numbers."""
        return self.root.data()

    def finding(self, loc: Sequence[Step], message: str, *, at_key: bool = False) -> Finding:
        """Return a finding at the deepest node that a path of keys and indices reaches.

        ``at_key`` points at the last key rather than at its value.
        """
        place = node = self.root
        for step in loc:
            below = node.child(step)
            if below is None:
                break
            is_key = at_key and node.keys is not None and isinstance(step, str)
            place = node.keys[step][0] if is_key and node.keys else below  # type: ignore[index]
            node = below
        return Finding(self.file, place.line, place.column, message)


def read_document(path: Path) -> Document:
    """Read one YAML file.

    Raises
    ------
    ProjectFileError
        If the file cannot be read, is no YAML, says a key twice, holds more than one
        document, tags, or aliases that repeat more than 50,000 entries; says where.
    """
    return Document(str(path), compose(str(path), read_text(path)))


def read_head(path: Path, *keys: str) -> Document:
    """Read what one YAML file says under some keys, without what lists and blocks beside them say.

    What is wrong with those is not seen, unless what is read cannot be understood without them.

    Raises
    ------
    ProjectFileError
        As :func:`read_document` does.
    """
    text = read_text(path)
    try:
        return Document(str(path), compose(str(path), text, frozenset(keys)))
    except ProjectFileError:
        return Document(str(path), compose(str(path), text))
