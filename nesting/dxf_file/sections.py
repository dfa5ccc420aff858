"""A DXF file by its sections: what stands in model space, on paper, in blocks."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from nesting.dxf_file.entities import IN_PAPER_SPACE, Entity, damaged, entities_in
from nesting.dxf_file.tags import Tag, number_of, read_content, tags_of
from nesting.errors import DrawingError
from nesting.unseen import looked_up, one_line, quoted

_ELSEWHERE = 4 | 8
"""Flags of a block that stands for another file, attached or overlaid (DXF reference, BLOCK)."""

_SPACES = ("*model_space", "$model_space", "*paper_space", "$paper_space")
"""How the names of blocks begin that are the drawing itself, or its sheets."""


@dataclass(frozen=True)
class Block:
    """A block: what an INSERT puts in its place."""

    head: Entity
    entities: tuple[Entity, ...]
    is_twice: bool = False

    @property
    def is_elsewhere(self) -> bool:
        """Whether it stands for another file (an external reference, or one laid over)."""
        return bool(self.head.flags() & _ELSEWHERE)


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
            _read_blocks(entities_in(tags, path), blocks, path)
        elif name == "ENTITIES":
            for entity in entities_in(tags, path):
                on_paper = set(entity.numbers(IN_PAPER_SPACE)) == {1}
                (paper if on_paper else model).append(entity)
    for name, block in blocks.items():
        if name.startswith(_SPACES[:2]):
            model.extend(block.entities)
        elif name.startswith(_SPACES[2:]):
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
                raise damaged(path, tag, f"{one_line(mark)} stands where no such thing may")
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


def _units(tags: list[Tag], path: Path) -> int | None:
    """Return the header's $INSUNITS, or None if it has none."""
    found: int | None = None
    for variable, value in pairwise(tags):
        if variable.code == 9 and variable.text == "$INSUNITS":
            number = number_of(value)
            if value.code != 70 or number is None:
                raise damaged(path, value, f"the header's unit is {value.text[:40]!r}")
            if found not in (None, int(number)):
                raise damaged(path, value, f"the header's unit is {found} and {int(number)}")
            found = int(number)
    return found


def _read_blocks(entities: Iterable[Entity], blocks: dict[str, Block], path: Path) -> None:
    head: Entity | None = None
    held: list[Entity] = []
    for entity in entities:
        if entity.kind == "BLOCK":
            head, held = entity, []
        elif entity.kind == "ENDBLK" and head is not None:
            name = looked_up(head.text(2))
            if name in blocks and not name.startswith("*"):
                raise DrawingError(
                    f"{path}:{head.line}: the block {quoted(head.text(2))} is in the drawing "
                    "twice; save it again"
                )
            before = blocks.get(name)
            # What stands in the drawing itself all counts, however often it is begun.
            kept = before.entities if before and name.startswith(_SPACES) else ()
            blocks[name] = Block(head, (*kept, *held), is_twice=before is not None)
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
