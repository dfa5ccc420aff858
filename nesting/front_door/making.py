"""Parts of the families from a script: parameters as a project file has them, errors in words."""

from __future__ import annotations

import inspect
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from nesting.errors import PartError
from nesting.given import path_given, word
from nesting.project.wording import complaints
from nesting.units import Unit
from parts.describe import family_page, require_known
from parts.own_code import require_usable, told_of
from parts.part import Family
from parts.registry import known_families


@dataclass(frozen=True)
class FamilyMaker:
    """Makes parts of one family; printed, it shows every parameter.

    Attributes
    ----------
    unit
        What a bare number means.
    folder
        From where a family that reads drawings counts their paths.
    """

    kind: type[Family]
    unit: Unit = Unit.MM
    folder: Path = Path()

    def __repr__(self) -> str:
        return f"family({self.kind.family!r})"

    def __str__(self) -> str:
        known = known_families()
        is_known = self.kind in known.plain.values()
        return family_page(self.kind.family, known if is_known else known.with_own([self.kind]))

    def __call__(self, **shape: Any) -> Family:
        """Return a part of the parameters that stand under ``shape:`` in a project file.

        Raises
        ------
        PartError
            With everything that is wrong with them.
        """
        context = {"unit": self.unit, "folder": self.folder, "boat": None}
        try:
            with told_of(self.kind):
                return self.kind.model_validate(shape, context=context)
        except ValidationError as error:
            found = [complaint.message for complaint in complaints(error, self.kind)]
            raise PartError(f"{self.kind.family}: {'; '.join(found)}") from None


def family(
    name: str | type[Family], *, unit: Unit | str = Unit.MM, folder: Path | str = "."
) -> FamilyMaker:
    """Return what makes parts of a family, those of installed packages among them.

    Parameters
    ----------
    name
        As :func:`families` lists it, or a class of one's own. ``print(family("knee"))`` shows its
        parameters.
    unit
        What a bare number means: mm, cm, m, in or ft. Texts may have their own.
    folder
        From where the paths of drawings count.

    Raises
    ------
    PartError
        If there is none of that name, or it is fitted to a boat's lines and needs a project file.
    OwnCodeError
        If a class lacks what a family has.

    Examples
    --------
    >>> plank = family("plank", unit="in")
    >>> plank(length=9, width="1 1/4", end_width="7/8", thickness="19 mm").outline()
    Outline(228.6 x 31.75 mm, 19 mm thick)
    >>> family("plank")(length=300, thickness=-5, width=40)
    Traceback (most recent call last):
    nesting.errors.PartError: plank: thickness: -5 is not over 0; a size here must be
    """
    return FamilyMaker(_kind(name), word(unit, Unit, "unit"), path_given(folder, "the folder"))


def _kind(name: str | type[Family]) -> type[Family]:
    """Return the class of a family; one of one's own as it is."""
    if inspect.isclass(name) and issubclass(name, Family):
        require_usable(name)
        return name
    known = known_families()
    require_known(name, known)
    if name not in known.plain:
        raise PartError(f"{name} takes its shape from a boat's lines: name it in a project file")
    return known.plain[name]


def families() -> tuple[str, ...]:
    """Return the names of all families that can be made of numbers, in alphabetical order.

    Examples
    --------
    >>> "knee" in families(), "clamp" in families()
    (True, False)
    """
    return tuple(known_families().plain)
