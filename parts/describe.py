"""The part families in words: what each makes, and what it asks for."""

from __future__ import annotations

import inspect
import textwrap
from difflib import get_close_matches
from enum import StrEnum
from types import UnionType
from typing import Any, Literal, Union, get_args, get_origin

from pydantic.fields import FieldInfo

from nesting.errors import PartError
from nesting.fields import file_name_of
from nesting.sources import NO_SOURCE
from nesting.unseen import quoted
from parts.fitted.fitted import Fitted
from parts.part import Family
from parts.registry import Families, known_families

BESIDE = ("at", "side")
"""Keys of a part in a project file that stand beside its shape: where it stands."""

SLOPE = "slope_of_grain"
"""The one field that every family has, with one usual value for all (sources.USUAL_SLOPE)."""


def family_list(known: Families | None = None) -> str:
    """Return one line a family: its name and what it makes; those that cannot be used last."""
    known = known or known_families()
    width = max(len(name) for name in (*known.names, *known.unusable))
    lines = []
    for name in known.names:
        kinds = _kinds(name, known)
        also = "; or fitted to the boat's lines" if len(kinds) > 1 else ""
        lines.append(f"{name:<{width}}  {_purpose(kinds[0])}{also}")
    lines += [f"{name:<{width}}  cannot be used: {why}" for name, why in known.unusable.items()]
    return "\n".join(lines)


def _kinds(name: str, known: Families) -> list[type[Family]]:
    """Return a family's forms: by numbers, and fitted to the lines."""
    found: list[type[Family]] = [known.plain[name]] if name in known.plain else []
    return [*found, *([known.fitted[name]] if name in known.fitted else [])]


def family_page(name: str, known: Families | None = None) -> str:
    """Return a family's purpose and every parameter: name, whether it must be given, meaning.

    Raises
    ------
    PartError
        If there is no family of that name; offers the nearest.
    """
    known = known or known_families()
    require_known(name, known)
    return "\n\n".join(_page(name, kind) for kind in _kinds(name, known))


def require_known(name: str, known: Families) -> None:
    """Do nothing if there is a family of that name.

    Raises
    ------
    PartError
        If there is none; offers the nearest, or says why it cannot be used.
    """
    if not isinstance(name, str):
        raise PartError(f"a family's name is {quoted(name)}, must be a text: 'plank'")
    if name in known.unusable:
        raise PartError(f"family {name} {known.unusable[name]}")
    if name not in known.names:
        near = get_close_matches(name, known.names, 1)
        hint = f", did you mean {near[0]}?" if near else ""
        raise PartError(f"{name!r} is no part family{hint}; there are: {', '.join(known.names)}")


def _page(name: str, kind: type[Family]) -> str:
    rows = [_row(field, info) for field, info in kind.model_fields.items() if field not in BESIDE]
    if issubclass(kind, Fitted):
        beside = [_row(f, info) for f, info in kind.model_fields.items() if f in BESIDE]
        rows = [*((f"{title} (beside shape)", text) for title, text in beside), *rows]
        name = f"{name}, with at"
    width = max(len(row[0]) for row in rows)
    lines = [f"  {title:<{width}}  {text}" for title, text in rows]
    caution = ["", *textwrap.wrap(kind.caution, 100)] if kind.caution else []
    return "\n".join([f"{name}: {_purpose(kind)}", "", *lines, *caution])


def _purpose(kind: type[Family]) -> str:
    return (inspect.getdoc(kind) or "").partition("\n")[0].rstrip(".")


def _row(field: str, info: FieldInfo) -> tuple[str, str]:
    default = info.get_default(call_default_factory=False)
    if info.is_required():
        note = "must be given"
    elif default is None or info.default_factory is not None:
        note = "may be left out"
    else:
        note = f"{_written(default, field)} if left out"
        if field == SLOPE:
            note += f" ({NO_SOURCE})"
    choices = _choices(info.annotation)
    allowed = f" ({', '.join(choices)})" if choices else ""
    return info.alias or file_name_of(field), f"{info.description or ''}{allowed}; {note}"


def _written(value: Any, field: str) -> str:
    if field == SLOPE:
        return f"1 in {value:g}"
    unit = " mm" if field.endswith("_mm") else " degrees" if field.endswith("_deg") else ""
    if isinstance(value, bool):
        return "true" if value else "false"
    return f"{value:g}{unit}" if isinstance(value, int | float) else str(value)


def _choices(annotation: Any) -> list[str]:
    """Return the words a parameter may be, if it is a choice of words."""
    if get_origin(annotation) is Literal:
        return [str(choice) for choice in get_args(annotation)]
    if get_origin(annotation) in (Union, UnionType):
        return [choice for part in get_args(annotation) for choice in _choices(part)]
    is_named = inspect.isclass(annotation) and issubclass(annotation, StrEnum)
    return [str(member) for member in annotation] if is_named else []
