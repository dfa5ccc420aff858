"""The registry of part families: every :class:`~parts.part.Family` of two packages.

``parts.families`` holds those whose shape is given by numbers, ``parts.fitted`` those fitted to
the boat's lines; a family of both has one name, and a part's ``at`` says which is meant.
"""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from collections.abc import Mapping
from functools import cache
from types import MappingProxyType, ModuleType

import parts.families
import parts.fitted
from parts.fitted.fitted import Fitted
from parts.part import Family


@cache
def families() -> Mapping[str, type[Family]]:
    """Return every family given by numbers, by its name, in alphabetical order."""
    return MappingProxyType(dict(_found(parts.families)))


@cache
def fitted_families() -> Mapping[str, type[Fitted]]:
    """Return every family fitted to the boat's lines, by its name, in alphabetical order."""
    found = _found(parts.fitted)
    return MappingProxyType({name: kind for name, kind in found if issubclass(kind, Fitted)})


def family_names() -> tuple[str, ...]:
    """Return the names of all families, in alphabetical order."""
    return tuple(sorted({*families(), *fitted_families()}))


def _found(package: ModuleType) -> list[tuple[str, type[Family]]]:
    found: dict[str, type[Family]] = {}
    for module_info in pkgutil.iter_modules(package.__path__):
        module = importlib.import_module(f"{package.__name__}.{module_info.name}")
        for _, member in inspect.getmembers(module, inspect.isclass):
            if member.__module__ != module.__name__ or "family" not in vars(member):
                continue
            if issubclass(member, Family):
                found[member.family] = member
    return sorted(found.items())
