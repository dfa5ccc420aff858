"""What is wrong with a value, in words: what was given, what is allowed, what to do."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any, get_args

from pydantic import BaseModel, Tag, ValidationError
from pydantic.fields import FieldInfo

from nesting.errors import SalvageNestError
from nesting.stock.keep_out import kind_meant
from nesting.unseen import quoted, short
from nesting.words import first_few
from parts.own_code import place_in_own_code

Loc = tuple[str | int, ...]

MOST_WORDS = 16
"""Allowed words that a message lists before it only counts the rest."""


@dataclass(frozen=True)
class Complaint:
    """One thing wrong, with its path in the data; ``at_key`` if the key itself is meant."""

    loc: Loc
    message: str
    at_key: bool = False
    is_missing: bool = False


def near_match(given: str, allowed: Iterable[str]) -> str | None:
    """Return the allowed word that a given one was probably meant to be, or None."""
    by_folded = {_folded(word): word for word in allowed}
    close = get_close_matches(_folded(given), by_folded, n=1, cutoff=0.6)
    return by_folded[close[0]] if close else None


def did_you_mean(given: str, allowed: Iterable[str]) -> str:
    """Return ``did you mean X?`` where there is a near match, else the allowed words."""
    words = list(allowed)
    close = near_match(given, words)
    return f"did you mean {short(close)}?" if close else f"allowed: {_listed(words)}"


def _listed(words: list[str]) -> str:
    if not words:
        return "nothing"
    return first_few([short(word) for word in words], MOST_WORDS)


def _folded(word: str) -> str:
    return word.casefold().replace("_", " ").replace("-", " ").strip()


def complaints(error: ValidationError, model: type[BaseModel]) -> Iterator[Complaint]:
    """Yield everything a model found wrong, each with its path in the data."""
    details = error.errors(include_url=False)
    holders = {tuple(detail["loc"][:-1]) for detail in details}
    for detail in details:
        tagged: Loc = tuple(detail["loc"])
        if detail["type"] == "too_short" and tagged in holders:
            continue  # what stands in the list is wrong, which is said: it is not missing
        loc = tuple(step for step in tagged if not _is_tag(step))
        yield _complaint(dict(detail), tagged, loc, model)


def _is_tag(step: str | int) -> bool:
    """Return whether a step names a form of a union: those are written <circle>."""
    return isinstance(step, str) and step.startswith("<") and step.endswith(">")


def _complaint(detail: dict[str, Any], tagged: Loc, loc: Loc, model: type[BaseModel]) -> Complaint:
    kind, name = detail["type"], _name(loc)
    if kind == "extra_forbidden":
        allowed = _file_names(_model_at(model, tagged[:-1]))
        key = str(loc[-1])
        return Complaint(
            loc, f"{short(key)}: unknown key, {did_you_mean(key, allowed)}", at_key=True
        )
    if kind == "missing" and isinstance(loc[-1], str):
        field = _field_at(model, tagged)
        what = f" ({field.description})" if field and field.description else ""
        return Complaint(loc[:-1], f"{loc[-1]}: missing{what}", is_missing=True)
    if kind == "missing":
        loc, name = loc[:-1], _name(loc[:-1])
    is_key = loc[-1:] == ("[key]",)
    if is_key:
        loc, name = loc[:-1], _name(loc[:-2])
    if kind in _BLOCKS:
        example = _example(model, tagged)
        how = f"write {example}" if example else _as_written(_model_at(model, tagged))
        text = f"{quoted(detail['input'])} is no block of keys; {how}"
    elif kind in _LISTS:
        example = _example(model, tagged) or "first, second"
        text = f"{quoted(detail['input'])} is no list; write [{example}]"
    else:
        text = _text(kind, detail, _unit_of(model, tagged))
    return Complaint(loc, f"{name}: {text}" if name else text, at_key=is_key)


def _name(loc: Loc) -> str:
    """Return the last key of a path, with the count of an entry below it: ``at[2]``."""
    keys = [i for i, step in enumerate(loc) if isinstance(step, str)]
    if not keys:
        return ""
    return short(str(loc[keys[-1]])) + "".join(f"[{int(step) + 1}]" for step in loc[keys[-1] + 1 :])


def _text(kind: str, detail: dict[str, Any], unit: str) -> str:
    context: dict[str, Any] = detail.get("ctx", {})
    given = quoted(detail["input"])
    if kind in ("value_error", "assertion_error"):
        return _said(context["error"])
    if kind in ("enum", "literal_error"):
        return _not_one_of(detail["input"], given, str(context["expected"]))
    if kind in _BOUNDS:
        phrase, key = _BOUNDS[kind]
        value = detail["input"]
        # A length arrives here in mm already, a quoted number still as its text.
        given = f"{value:g}{unit}" if isinstance(value, int | float) else given
        return f"{given} is not allowed, must be {phrase} {context[key]:g}{unit}"
    for ending, write in _WORDS.items():
        if kind.startswith(ending):
            return write(given, context)
    return f"{given}: {detail['msg'][:1].lower()}{detail['msg'][1:]}"


def _said(error: Any) -> str:
    """Return what an error says; with its place where it slipped out of a project's own code."""
    is_meant = isinstance(error, SalvageNestError) or not isinstance(error, Exception)
    place = "" if is_meant else place_in_own_code(error)
    return f"{place}: {error}" if place else str(error)


_BLOCKS = ("model_type", "model_attributes_type", "dict_type", "dataclass_type")
"""Kinds of complaint about what should be keys with their values."""

_LISTS = ("list_type", "tuple_type", "set_type")
"""Kinds of complaint about what should be a list."""

MOST_KEYS = 6
"""A block with more is not written out."""


def _as_written(model: type[BaseModel] | None) -> str:
    """Return how a block is written: with the keys that it must have, or all where none must."""
    fields = model.model_fields if model else {}
    needed = [info.alias or name for name, info in fields.items() if info.is_required()]
    keys = needed or _file_names(model)
    if not 0 < len(keys) <= MOST_KEYS:
        return "write key: value"
    return f"write {{{', '.join(f'{key}: ...' for key in keys)}}}"


_BOUNDS = {
    "greater_than": ("over", "gt"),
    "greater_than_equal": ("at least", "ge"),
    "less_than": ("below", "lt"),
    "less_than_equal": ("at most", "le"),
    "multiple_of": ("a multiple of", "multiple_of"),
}


def _count(context: Mapping[str, Any], bound: str) -> str:
    wanted, given = context[f"{bound[:3]}_length"], context["actual_length"]
    most_or_least = "at least" if bound == "min" else "at most"
    return f"{given} given, must be {most_or_least} {wanted}"


_WORDS: dict[str, Callable[[str, Mapping[str, Any]], str]] = {
    "missing": lambda given, _: f"{given} is too short a list",
    "int_": lambda given, _: f"{given} is no whole number",
    "float_": lambda given, _: f"{given} is no number",
    "finite_number": lambda given, _: f"{given} is no number",
    "bool_": lambda given, _: f"{given} is neither true nor false",
    "string_type": lambda given, _: f"{given} is no text; put it in quotes if it is meant so",
    "string_too_short": lambda _, __: "must not be empty",
    "string_pattern": lambda given, context: f"{given} does not look like {context['pattern']}",
    "too_short": lambda _, context: _count(context, "min"),
    "too_long": lambda _, context: _count(context, "max"),
}


def _not_one_of(value: Any, given: str, expected: str) -> str:
    allowed = re.findall(r"'([^']*)'", expected) or [expected]
    kind = kind_meant(value) if isinstance(value, str) else None
    if kind in allowed:
        return f"{given} is not known, did you mean {kind}?"
    hint = did_you_mean(value, allowed) if isinstance(value, str) else None
    return f"{given} is not known, {hint or 'allowed: ' + _listed(allowed)}"


def _file_names(model: type[BaseModel] | None) -> list[str]:
    if model is None:
        return []
    return [info.alias or name for name, info in model.model_fields.items()]


def _unit_of(model: type[BaseModel], tagged: Loc) -> str:
    """Return `` mm`` where a path leads to a length: its bounds are in millimetres."""
    keys = [i for i, step in enumerate(tagged) if isinstance(step, str) and not _is_tag(step)]
    owner = _model_at(model, tagged[: keys[-1]]) if keys else None
    if owner is None:
        return ""
    names = {info.alias or name: name for name, info in owner.model_fields.items()}
    name = names.get(str(tagged[keys[-1]]), "")
    return " mm" if name.endswith("_mm") else " deg" if name.endswith("_deg") else ""


def _field_at(model: type[BaseModel], tagged: Loc) -> FieldInfo | None:
    owner = _model_at(model, tagged[:-1])
    if owner is None:
        return None
    fields = owner.model_fields.items()
    return next((info for name, info in fields if (info.alias or name) == tagged[-1]), None)


def _example(model: type[BaseModel], tagged: Loc) -> str:
    """Return how what belongs at a path is written, as its field shows it, if it does."""
    keys = [i for i, step in enumerate(tagged) if isinstance(step, str)]
    field = _field_at(model, tagged[: keys[-1] + 1]) if keys else None
    return str(field.examples[0]) if field and field.examples else ""


def _model_at(model: type[BaseModel], tagged: Loc) -> type[BaseModel] | None:
    """Return the model that a path of keys, indices and forms leads to."""
    current: type[BaseModel] | None = model
    forms: dict[str, type[BaseModel]] = {}
    for step in tagged:
        if isinstance(step, int) or current is None:
            continue
        if _is_tag(step):
            current = forms.get(step, current)
            continue
        field = next(
            (f for name, f in current.model_fields.items() if (f.alias or name) == step), None
        )
        forms = dict(_models_in(field.annotation, field.metadata)) if field else {}
        current = next(iter(forms.values()), None)
    return current


def _models_in(
    annotation: Any, metadata: Iterable[Any] = ()
) -> Iterator[tuple[str, type[BaseModel]]]:
    """Yield the models in an annotation, each under its form's tag or its own name."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        tags = [item.tag for item in metadata if isinstance(item, Tag)]
        yield (tags[0] if tags else annotation.__name__), annotation
        return
    inner = getattr(annotation, "__metadata__", ())
    for argument in get_args(annotation):
        yield from _models_in(argument, inner)
