"""An SVG file as a tree of elements, each with its line; nothing outside the file is looked at.

Declarations of entities are refused: no drawing needs them, and they can make megabytes of a line.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from xml.parsers import expat

from nesting.errors import DrawingError

LARGEST_BYTES = 40_000_000
MOST_ELEMENTS = 200_000
DEEPEST = 100

SVG = "http://www.w3.org/2000/svg"
LABEL = "http://www.inkscape.org/namespaces/inkscape label"
LINK = "http://www.w3.org/1999/xlink href"


@dataclass
class Element:
    """One element: its name without namespace, attributes, line, and what is in it."""

    name: str
    attributes: dict[str, str]
    line: int
    children: list[Element] = field(default_factory=list)

    def get(self, name: str, default: str = "") -> str:
        """Return an attribute, those in ``style`` before others."""
        for part in self.attributes.get("style", "").split(";"):
            key, _, value = part.partition(":")
            if key.strip() == name:
                return value.strip()
        return self.attributes.get(name, default)

    def walk(self) -> Iterator[Element]:
        """Yield the element and all below it."""
        yield self
        for child in self.children:
            yield from child.walk()


class _Reader:
    def __init__(self, path: Path) -> None:
        self.path, self.open, self.count = path, list[Element](), 0
        self.parser = expat.ParserCreate(namespace_separator=" ")
        self.parser.StartElementHandler = self.begin
        self.parser.EndElementHandler = lambda _: self.open.pop()
        self.parser.EntityDeclHandler = self.refuse
        self.top: Element | None = None

    def refuse(self, *_: object) -> None:
        raise DrawingError(f"{self.path}: declares entities, which no drawing needs; save it plain")

    def begin(self, name: str, attributes: dict[str, str]) -> None:
        self.count += 1
        if self.count > MOST_ELEMENTS or len(self.open) >= DEEPEST:
            raise DrawingError(
                f"{self.path}: more than {MOST_ELEMENTS:,} elements, or {DEEPEST} in one another, "
                "are no drawing of boards"
            )
        space, _, short = name.rpartition(" ")
        shown = short if space in (SVG, "") else name
        element = Element(shown, attributes, self.parser.CurrentLineNumber)
        if self.open:
            self.open[-1].children.append(element)
        else:
            self.top = element
        self.open.append(element)


def read_tree(path: Path) -> Element:
    """Return the outermost element of an SVG file.

    Raises
    ------
    DrawingError
        If the file is not there, is no SVG, is too large, or declares entities.
    """
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise DrawingError(
                f"{path}: larger than {LARGEST_BYTES // 1_000_000} MB, no drawing of boards"
            )
        content = path.read_bytes()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "cannot be read"
        raise DrawingError(f"{path}: {reason}") from error
    reader = _Reader(path)
    try:
        reader.parser.Parse(content, True)
    except expat.ExpatError as error:
        said = expat.ErrorString(error.code)
        raise DrawingError(f"{path}:{error.lineno}: is no sound SVG: {said}") from error
    top = reader.top
    if top is None or top.name != "svg":
        raise DrawingError(
            f"{path}: is no SVG, its outermost element is {top.name if top else 'none'}"
        )
    return top
