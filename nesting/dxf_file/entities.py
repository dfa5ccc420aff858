"""The entities of a DXF file, as they stand in it: in model space, on paper, in blocks.

The file is read by its group codes (DXF reference of AutoCAD 2012, from memory), so that each
entity that it holds is met once, whatever it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TypeVar

from nesting.dxf_file.tags import Tag, is_float, is_whole, number_of, numbers_of
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

_Value = TypeVar("_Value")


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
        """Return the value of a group; raises BrokenError if it has none, or several."""
        found = self.numbers(code)
        if found:
            return self._only(found, f"{what} (group {code})")
        if default is None:
            raise BrokenError(f"has no {what} (group {code})")
        return default

    def flags(self, code: int = 70) -> int:
        """Return the value of a group of flags; 0 if there is none."""
        return int(self.number(code, what="flags", default=0))

    def point(self, code: int, *, what: str) -> tuple[float, float, float]:
        """Return the point of a group; z is 0 if not given."""
        found = self.points(code)
        if not found:
            raise BrokenError(f"has no {what} (group {code})")
        return self._only(found, f"{what} (group {code})")

    def _only(self, found: Sequence[_Value], what: str) -> _Value:
        """Return what a group says; of two things that it says, readers disagree on which holds.

        Of words it is the first: others may belong to a text within (ATTRIB of R2018).
        """
        if self.kind in _MEASURED and any(one != found[0] for one in found):
            raise BrokenError(f"has {len(found)} values of its {what}")
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


def damaged(path: Path, tag: Tag, what: str) -> DrawingError:
    """Return an error about a group that stands where it may not."""
    return DrawingError(f"{path}:{tag.line}: the drawing is damaged: {what}; save it again")


def entities_in(tags: Iterable[Tag], path: Path) -> Iterator[Entity]:
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
            raise damaged(path, held[0], "a group stands before the first entity")
        kind, line, held = tag.text.upper(), tag.line, []
    if kind:
        yield _checked(Entity(kind, tuple(held), line), path)


def _checked(entity: Entity, path: Path) -> Entity:
    """Return an entity whose numbers are numbers, and need not be read from text again."""
    if entity.kind not in _MEASURED:
        return entity
    _require_one_layer(entity, path)
    codes = {tag.code for tag in entity.tags}
    checked = {c for c in codes if c < _NOT_CHECKED_FROM and (is_float(c) or is_whole(c))}
    found = [tag for tag in entity.tags if tag.code in checked]
    read = []
    for tag, number in zip(found, numbers_of(found), strict=True):
        if number is None:
            raise _no_number(entity, tag, path)
        read.append(Tag(tag.code, number, tag.line))
    numbers = iter(read)
    tags = tuple(next(numbers) if tag.code in checked else tag for tag in entity.tags)
    return replace(entity, tags=tags)


def _require_one_layer(entity: Entity, path: Path) -> None:
    """Refuse an entity on two layers: on the second it may be what must be kept clear of."""
    layers = dict.fromkeys(tag.text for tag in entity.tags if tag.code == 8)
    if len(layers) > 1:
        named = " and ".join(map(quoted, layers))
        raise DrawingError(
            f"{path}:{entity.line}: {entity.name} is on the layers {named} at once; write the "
            "drawing anew"
        )


def _no_number(entity: Entity, tag: Tag, path: Path) -> DrawingError:
    comma = "; a DXF has a point before its decimals" if "," in tag.text else ""
    return DrawingError(
        f"{path}:{tag.line}: group {tag.code} of {entity.name} on layer {quoted(entity.layer)} "
        f"is {tag.text[:40]!r}, which is no number{comma}; write the drawing anew"
    )
