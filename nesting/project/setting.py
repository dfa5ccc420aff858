"""What the entries of one file need to know beyond their own block."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nesting.project.limits import Tally
from nesting.project.wording import did_you_mean
from nesting.units import Unit
from nesting.unseen import quoted, short
from parts.registry import Families, known_families
from parts.wood import timber

if TYPE_CHECKING:
    from parts.boat.boat import Boat


@dataclass(frozen=True)
class Woods:
    """The species that a file, as messages call it, may name: those of the tables, and its own."""

    own: tuple[str, ...] = ()
    file: str = "project file"

    def named(self, given: str) -> str | None:
        """Return a wood as the project or the tables spell it, or None."""
        return _named(self.own, given)

    def unknown(self, given: str) -> str:
        """Return the message for a wood that is not known, or not by that name alone."""
        own = f"(a wood of your own: name it under species: at the top of the {self.file})"
        alike = timber.species_of_kind(given, self.own)
        if len(alike) > 1:
            which = f"{', '.join(alike[:-1])} or {alike[-1]}"
            return f"species: which {short(_folded(given))}? {which}; write one of them {own}"
        hint = did_you_mean(given, (*self.own, *timber.species_names()))
        hint = f"did you mean {alike[0]}?" if alike else hint
        return f"species: {quoted(given)} is not known, {hint} {own}"


@lru_cache(maxsize=1000)
def _named(own: tuple[str, ...], given: str) -> str | None:
    """Look a wood up; thousands of boards are of a few."""
    folded = _folded(given)
    for name in own:
        if _folded(name) == folded:
            return name
    try:
        return timber.species(given).name
    except timber.UnknownSpeciesError:
        return None


def _folded(name: str) -> str:
    return " ".join(name.casefold().split())


@dataclass(frozen=True)
class Setting:
    """Unit, folder, woods, saw, boat and part families of the file that is being read.

    ``boat_is_wrong`` if the file names one that cannot be read: her parts cannot be judged.
    ``tally`` counts what all files together hold.
    """

    unit: Unit
    folder: Path
    woods: Woods
    kerf_mm: float
    boat: Boat | None = None
    boat_is_wrong: bool = False
    tally: Tally = field(default_factory=Tally)
    families: Families = field(default_factory=known_families)

    @property
    def context(self) -> dict[str, Any]:
        """Context for the validation of models: the unit, the folder and the boat."""
        return {"unit": self.unit, "folder": self.folder, "boat": self.boat}
