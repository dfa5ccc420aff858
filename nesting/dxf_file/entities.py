"""The entities of a DXF file, as they stand in it: in model space, on paper, in blocks.

The file is read by its group codes (DXF reference of AutoCAD 2012, from memory), so that each
entity that it holds is met once, whatever it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path

from nesting.dxf_file.tags import Tag, is_float, is_whole, number_of, read_content, tags_of
from nesting.errors import DrawingError
from nesting.unseen import one_line, quoted

CURVES = frozenset({"LINE", "ARC", "CIRCLE", "ELLIPSE", "SPLINE", "LWPOLYLINE", "POLYLINE"})
"""Kinds that are read as lines and curves."""

FILLS = frozenset({"HATCH", "SOLID", "TRACE", "3DFACE"})
"""Kinds that cover an area with a border of lines and curves."""

_MEASURED = CURVES | FILLS | {"INSERT", "VERTEX", "POINT"}
"""Kinds whose numbers must all be numbers."""

_NOT_CHECKED_FROM = 1000
"""Group codes of data that other programs hang on an entity."""

IN_PAPER_SPACE = 67


class BrokenError(Exception):
    """An entity that cannot be what it says; the message ends a sentence about it."""


class EmptyError(BrokenError):
    """An entity that is drawn but has no size: a point, at most."""


@dataclass(frozen=True)
class Entity:
    """One entity: its kind, the tags after it, and what belongs to it (vertices, attributes)."""

    kind: str
    tags: tuple[Tag, ...]
    line: int
    members: list[Entity] = field(default_factory=list)

    @property
    def layer(self) -> str:
        """Its own layer."""
        return self.text(8) or "0"

    @property
    def name(self) -> str:
        """What to call it in a message: kind, handle if it has one, line."""
        handle = one_line(self.text(5))
        return f"{one_line(self.kind)} ({f'handle {handle}, ' if handle else ''}line {self.line})"

    def text(self, code: int) -> str:
        """Return the first value of a group as text; empty if there is none."""
        return next((tag.text for tag in self.tags if tag.code == code), "")

    def numbers(self, code: int) -> list[float]:
        """Return all values of a group."""
        found = [number_of(tag) for tag in self.tags if tag.code == code]
        return [number for number in found if number is not None]

    def number(self, code: int, *, what: str, default: float | None = None) -> float:
        """Return the first value of a group; raises BrokenError if it must be there and is not."""
        found = self.numbers(code)
        if found:
            return found[0]
        if default is None:
            raise BrokenError(f"has no {what} (group {code})")
        return default

    def flags(self, code: int = 70) -> int:
        """Return the first value of a group of flags; 0 if there is none."""
        return int(self.number(code, what="flags", default=0))

    def point(self, code: int, *, what: str) -> tuple[float, float, float]:
        """Return the first point of a group; z is 0 if not given."""
        found = self.points(code)
        if not found:
            raise BrokenError(f"has no {what} (group {code})")
        return found[0]

    def points(self, code: int) -> list[tuple[float, float, float]]:
        """Return the points of a group: x, then y and z in the groups 10 and 20 higher."""
        return points_of(self.tags, code)


def points_of(tags: Iterable[Tag], code: int) -> list[tuple[float, float, float]]:
    """Return the points in tags; raises BrokenError for an x without y or the other way round."""
    found: list[list[float]] = []
    axes = {code: 0, code + 10: 1, code + 20: 2}
    for tag in tags:
        axis = axes.get(tag.code)
        if axis is None:
            continue
        value = number_of(tag)
        if value is None:
            raise BrokenError(f"has {tag.text[:40]!r} for a number (group {tag.code})")
        if axis == 0:
            found.append([value])
        elif found and len(found[-1]) == axis:
            found[-1].append(value)
        elif axis == 1:
            raise BrokenError(f"has a point without x (group {code})")
    if any(len(point) < 2 for point in found):
        raise BrokenError(f"has a point without y (group {code + 10})")
    return [(point[0], point[1], point[2] if len(point) > 2 else 0.0) for point in found]


@dataclass(frozen=True)
class Block:
    """A block: what an INSERT puts in its place."""

    head: Entity
    entities: tuple[Entity, ...]

    @property
    def is_elsewhere(self) -> bool:
        """Whether it stands for another file (an external reference)."""
        return bool(self.head.flags() & 4)


@dataclass(frozen=True)
class DxfFile:
    """A drawing's entities, and the value of its $INSUNITS; blocks by their names in small."""

    path: Path
    model: tuple[Entity, ...]
    paper: tuple[Entity, ...]
    blocks: Mapping[str, Block]
    units: int | None


def read_dxf(path: Path) -> DxfFile:
    """Read a drawing whole.

    Raises
    ------
    DrawingError
        If it cannot be read, is damaged, or a number in it is none: names the line.
    """
    model: list[Entity] = []
    paper: list[Entity] = []
    blocks: dict[str, Block] = {}
    units = None
    for name, tags in _sections(tags_of(read_content(path), path), path):
        if name == "HEADER":
            units = _units(tags, path)
        elif name == "BLOCKS":
            _read_blocks(_whole(tags, path), blocks, path)
        elif name == "ENTITIES":
            for entity in _whole(tags, path):
                on_paper = entity.flags(IN_PAPER_SPACE) == 1
                (paper if on_paper else model).append(entity)
    for name, block in blocks.items():
        if name.startswith(("*model_space", "$model_space")):
            model.extend(block.entities)
        elif name.startswith(("*paper_space", "$paper_space")):
            paper.extend(block.entities)
    return DxfFile(path, tuple(model), tuple(paper), blocks, units)


def _sections(tags: Iterable[Tag], path: Path) -> Iterator[tuple[str, list[Tag]]]:
    """Yield the sections of a file: name and tags."""
    name: str | None = None
    held: list[Tag] = []
    for tag in tags:
        if tag.code and name:
            held.append(tag)
            continue
        mark = tag.text if tag.code == 0 else ""
        if mark == "SECTION" or (mark == "ENDSEC" and name is None) or (mark and name is None):
            if mark != "SECTION" or name is not None:
                raise _damaged(path, tag, f"{one_line(mark)} stands where no such thing may")
            name, held = "", []
        elif mark == "ENDSEC":
            assert name is not None
            yield name, held
            name = None
        elif name == "" and tag.code == 2:
            name = tag.text.upper()
        elif name is not None:
            held.append(tag)
    if name is not None:
        raise DrawingError(
            f"{path}: the drawing is damaged: its section {one_line(name) or 'without a name'} "
            "has no end (ENDSEC); save it again"
        )


def _damaged(path: Path, tag: Tag, what: str) -> DrawingError:
    return DrawingError(f"{path}:{tag.line}: the drawing is damaged: {what}; save it again")


def _units(tags: list[Tag], path: Path) -> int | None:
    """Return the header's $INSUNITS, or None if it has none."""
    for variable, value in pairwise(tags):
        if variable.code == 9 and variable.text == "$INSUNITS":
            number = number_of(value)
            if value.code != 70 or number is None:
                raise _damaged(path, value, f"the header's unit is {value.text[:40]!r}")
            return int(number)
    return None


def _whole(tags: Iterable[Tag], path: Path) -> Iterator[Entity]:
    """Yield entities with their vertices and attributes as members."""
    owner: Entity | None = None
    owners = {"VERTEX": "POLYLINE", "ATTRIB": "INSERT"}
    for entity in _entities(tags, path):
        if entity.kind in owners and owner and owner.kind == owners[entity.kind]:
            owner.members.append(entity)
        elif entity.kind != "SEQEND":
            if owner:
                yield owner
            owner = entity
        elif owner:
            yield owner
            owner = None
    if owner:
        yield owner


def _entities(tags: Iterable[Tag], path: Path) -> Iterator[Entity]:
    kind, line = "", 0
    held: list[Tag] = []
    for tag in tags:
        if tag.code != 0:
            held.append(tag)
            continue
        if kind:
            yield _checked(Entity(kind, tuple(held), line), path)
        elif held:
            raise _damaged(path, held[0], "a group stands before the first entity")
        kind, line, held = tag.text.upper(), tag.line, []
    if kind:
        yield _checked(Entity(kind, tuple(held), line), path)


def _checked(entity: Entity, path: Path) -> Entity:
    """Return an entity whose numbers are numbers, and need not be read from text again."""
    if entity.kind not in _MEASURED:
        return entity
    codes = {tag.code for tag in entity.tags}
    checked = {c for c in codes if c < _NOT_CHECKED_FROM and (is_float(c) or is_whole(c))}
    tags = []
    for tag in entity.tags:
        if tag.code in checked:
            number = number_of(tag)
            if number is None:
                raise _no_number(entity, tag, path)
            tag = Tag(tag.code, number, tag.line)
        tags.append(tag)
    return replace(entity, tags=tuple(tags))


def _no_number(entity: Entity, tag: Tag, path: Path) -> DrawingError:
    comma = "; a DXF has a point before its decimals" if "," in tag.text else ""
    return DrawingError(
        f"{path}:{tag.line}: group {tag.code} of {entity.name} on layer {quoted(entity.layer)} "
        f"is {tag.text[:40]!r}, which is no number{comma}; write the drawing anew"
    )


def _read_blocks(entities: Iterable[Entity], blocks: dict[str, Block], path: Path) -> None:
    head: Entity | None = None
    held: list[Entity] = []
    for entity in entities:
        if entity.kind == "BLOCK":
            head, held = entity, []
        elif entity.kind == "ENDBLK" and head is not None:
            name = head.text(2).casefold()
            if name in blocks and not name.startswith("*"):
                raise DrawingError(
                    f"{path}:{head.line}: the block {quoted(head.text(2))} is in the drawing "
                    "twice; save it again"
                )
            blocks[name] = Block(head, tuple(held))
            head = None
        elif head is not None:
            held.append(entity)
        else:
            raise DrawingError(
                f"{path}:{entity.line}: the drawing is damaged: {one_line(entity.kind)} stands "
                "between blocks; save it again"
            )
    if head is not None:
        raise DrawingError(
            f"{path}:{head.line}: the drawing is damaged: the block {quoted(head.text(2))} has no "
            "end; save it again"
        )
