"""The one registry of part families: every :class:`~parts.part.Family` in ``parts.families``."""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

import parts.families
from parts.part import Family


@cache
def families() -> Mapping[str, type[Family]]:
    """Return every family by its name, in alphabetical order."""
    found: dict[str, type[Family]] = {}
    for module_info in pkgutil.iter_modules(parts.families.__path__):
        module = importlib.import_module(f"parts.families.{module_info.name}")
        for _, member in inspect.getmembers(module, inspect.isclass):
            if issubclass(member, Family) and member.__module__ == module.__name__:
                found[member.family] = member
    return MappingProxyType(dict(sorted(found.items())))
