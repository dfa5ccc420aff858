"""The registry of part families: every :class:`~parts.part.Family` of two packages.

``parts.families`` holds those whose shape is given by numbers, ``parts.fitted`` those fitted to
the boat's lines; a family of both has one name, and a part's ``at`` says which is meant. With
them stand those of installed packages, and those of a file beside a project: :class:`Families`.
"""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache, cached_property
from types import MappingProxyType, ModuleType
from typing import TypeVar

import parts.families
import parts.fitted
from nesting.errors import OwnCodeError
from parts.fitted.fitted import Fitted
from parts.own_code import installed
from parts.part import Family

FamilyT = TypeVar("FamilyT", bound=Family)


@dataclass(frozen=True)
class Families:
    """All families that a project may name.

    Attributes
    ----------
    plain, fitted
        Those given by numbers, and those fitted to the boat's lines, by name.
    unusable
        Why an installed one cannot be used, by name.
    is_all
        False where a file of the project's own could not be read: others may be meant.
    """

    plain: Mapping[str, type[Family]]
    fitted: Mapping[str, type[Fitted]]
    unusable: Mapping[str, OwnCodeError] = field(default_factory=dict)
    is_all: bool = True

    @cached_property
    def names(self) -> tuple[str, ...]:
        """The names of all that can be used, in alphabetical order."""
        return tuple(sorted({*self.plain, *self.fitted}))

    def with_own(self, own: Iterable[type[Family]]) -> Families:
        """Return these and a project's own, in alphabetical order.

        Raises
        ------
        OwnCodeError
            If a name is taken.
        """
        plain, fitted = dict(self.plain), dict(self.fitted)
        for family in own:
            book = fitted if issubclass(family, Fitted) else plain
            if family.family in (*book, *families(), *fitted_families()):
                raise OwnCodeError(
                    f"cannot be used: there is a family {family.family} already; call the class "
                    f"{family.__name__} something else in family"
                )
            book[family.family] = family  # type: ignore[assignment]
        return Families(_sorted(plain), _sorted(fitted), self.unusable, self.is_all)


@cache
def known_families() -> Families:
    """Return the families that come with this package and with installed ones."""
    found = Families(families(), fitted_families())
    unusable = dict[str, OwnCodeError]()
    for name, family in installed().items():
        try:
            if isinstance(family, OwnCodeError):
                raise family
            found = found.with_own([family])
        except OwnCodeError as error:
            unusable[name] = error
    return Families(found.plain, found.fitted, MappingProxyType(unusable))


def _sorted(given: dict[str, type[FamilyT]]) -> Mapping[str, type[FamilyT]]:
    return MappingProxyType(dict(sorted(given.items())))


@cache
def families() -> Mapping[str, type[Family]]:
    """Return every family given by numbers, by its name, in alphabetical order."""
    return MappingProxyType(dict(_found(parts.families)))


@cache
def fitted_families() -> Mapping[str, type[Fitted]]:
    """Return every family fitted to the boat's lines, by its name, in alphabetical order."""
    found = _found(parts.fitted)
    return MappingProxyType({name: kind for name, kind in found if issubclass(kind, Fitted)})


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
