"""Figures of a part that are given and change nothing, since another says that there is none."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from nesting.errors import Finding
from nesting.fields import FileModel, file_name_of
from nesting.need import Holes, Need
from nesting.project import Project

Idle = Iterator[tuple[tuple[str | int, ...], str]]
"""Where such a figure stands in its part, and what to say of it."""


def idle_figures(project: Project) -> Iterator[Finding]:
    """Yield each figure of a part that says nothing beside the others, where it stands."""
    needs = {need.part: need for need in project.needs}
    for name, part in project.parts.items():
        entry = project.part_entries.get(name)
        if entry is None:
            continue
        named = replace(entry, title=f"part {name}")
        for loc, said in (*_of_shape(part), *_of_need(needs.get(name))):
            yield named.finding(loc, said, at_key=True)


def _of_shape(part: object) -> Idle:
    if isinstance(part, FileModel):
        for loc, said in _in_model(part):
            yield ("shape", *loc), said


def _in_model(model: FileModel) -> Idle:
    """Yield the idle figures of a model and of the models in its lists."""
    for field, (other, nothing) in model.goes_with.items():
        value = getattr(model, other)
        if field in model.model_fields_set and value in nothing:
            yield (file_name_of(field),), _said(file_name_of(field), file_name_of(other), value)
    for field in type(model).model_fields:
        inner = getattr(model, field)
        for number, one in enumerate(inner if isinstance(inner, tuple) else ()):
            if isinstance(one, FileModel):
                for loc, said in _in_model(one):
                    yield (file_name_of(field), number, *loc), said


def _of_need(need: Need | None) -> Idle:
    if need is not None and need.plugs_per_metre is not None and need.holes is Holes.CLEAR:
        yield ("plugs_per_metre",), _said("plugs_per_metre", "holes", need.holes)


def _said(key: str, other: str, value: object) -> str:
    """Return that a figure says nothing beside the value of another, as both stand in the file."""
    beside = f"with {other}: {value}" if value else f"without {other}"
    return f"{key} changes nothing {beside}; change that, or leave {key} out"
