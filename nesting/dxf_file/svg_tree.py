"""An SVG file as a tree of elements, each with its line; nothing outside the file is looked at.

Declarations of entities are refused: no drawing needs them, and they can make megabytes of a line.
So are style sheets that move, reshape or cut: what an element is like stands in the element itself.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from xml.parsers import expat

from nesting.errors import DrawingError
from nesting.plain_file import plain_bytes

LARGEST_BYTES = 40_000_000
MOST_ELEMENTS = 200_000
DEEPEST = 100

SVG = "http://www.w3.org/2000/svg"
LABEL = "http://www.inkscape.org/namespaces/inkscape label"
LINK = "http://www.w3.org/1999/xlink href"

MOVING = re.compile(
    r"(?:^|[{;\s/])(transform(?:-\w+)*|translate|rotate|scale|zoom|offset(?:-\w+)*|clip-path|mask"
    r"|d|x|y|cx|cy|r|rx|ry|width|height|@import)\s*(?::|(?<=@import)\s)"
)
"""What a style sheet may not say: properties that move, reshape or cut what is drawn (SVG 2,
chapter 8, "geometry properties"; CSS Transforms and Masking, from memory)."""


@dataclass
class Element:
    """One element: its name without namespace, attributes, line, and what is in it.

    ``text`` is that of a style sheet alone.
    """

    name: str
    attributes: dict[str, str]
    line: int
    children: list[Element] = field(default_factory=list)
    text: str = ""

    @cached_property
    def _styles(self) -> dict[str, str]:
        """The properties of ``style``: what is said last holds, capitals of names do not matter."""
        said = re.sub(r"/\*.*?\*/", "", self.attributes.get("style", ""), flags=re.DOTALL)
        pairs = (part.partition(":") for part in said.split(";"))
        return {
            key.strip().casefold(): value.strip().removesuffix("!important").strip()
            for key, _, value in pairs
        }

    def style(self, name: str) -> str:
        """Return a property of ``style``; empty if it is not there."""
        return self._styles.get(name, "")

    def get(self, name: str) -> str:
        """Return an attribute, those in ``style`` before others; empty if there is none."""
        return self.style(name) or self.attributes.get(name, "")

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
        self.parser.EndElementHandler = self.end
        self.parser.CharacterDataHandler = self.take
        self.parser.EntityDeclHandler = self.refuse
        self.parser.ProcessingInstructionHandler = self.instruct
        self.top: Element | None = None

    def refuse(self, *_: object) -> None:
        raise DrawingError(f"{self.path}: declares entities, which no drawing needs; save it plain")

    def instruct(self, target: str, _: str) -> None:
        if target == "xml-stylesheet":
            raise DrawingError(
                f"{self.path}: is drawn by a style sheet in another file; save it plain"
            )

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

    def take(self, text: str) -> None:
        if self.open and self.open[-1].name == "style":
            self.open[-1].text += text

    def end(self, _: str) -> None:
        element = self.open.pop()
        if found := MOVING.search(element.text):
            raise DrawingError(
                f"{self.path}:{element.line}: its style sheet has {found[1]}, which is not read "
                "here; save the drawing with plain paths"
            )


def read_tree(path: Path) -> Element:
    """Return the outermost element of an SVG file.

    Raises
    ------
    DrawingError
        If the file is not there, is no SVG, is too large, declares entities, or is drawn by a style
        sheet.
    """
    try:
        content = plain_bytes(path, LARGEST_BYTES)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "cannot be read"
        raise DrawingError(f"{path}: {reason}") from error
    reader = _Reader(path)
    try:
        reader.parser.Parse(content, True)
    except expat.ExpatError as error:
        said = expat.ErrorString(error.code)
        raise DrawingError(f"{path}:{error.lineno}: is no sound SVG: {said}") from error
    except (LookupError, ValueError) as error:
        if isinstance(error, DrawingError):
            raise
        raise DrawingError(f"{path}:1: is in letters that are not known ({error}); save it as "
                           "UTF-8") from error  # fmt: skip
    top = reader.top
    if top is None or top.name != "svg":
        raise DrawingError(
            f"{path}: is no SVG, its outermost element is {top.name if top else 'none'}"
        )
    return top
