"""What the entries of one file need to know beyond their own block."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from nesting.project.wording import did_you_mean
from nesting.units import Unit


@dataclass(frozen=True)
class Woods:
    """The species that a project may name."""

    names: tuple[str, ...]

    @classmethod
    def of(cls, *groups: Iterable[str]) -> Woods:
        """Return the woods of several lists, each once."""
        return cls(tuple(dict.fromkeys(name for group in groups for name in group)))

    def named(self, given: str) -> str | None:
        """Return a wood as the tables spell it, or None."""
        folded = " ".join(given.casefold().split())
        return next((name for name in self.names if name.casefold() == folded), None)

    def unknown(self, given: str) -> str:
        """Return the message for a wood that is not known."""
        return (
            f"species: {given!r} is not known, {did_you_mean(given, self.names)} A wood of your "
            "own goes under species: at the top of the project file"
        )


@dataclass(frozen=True)
class Setting:
    """Unit, folder, woods and saw of the file that is being read."""

    unit: Unit
    folder: Path
    woods: Woods
    kerf_mm: float

    @property
    def context(self) -> dict[str, Any]:
        """Context for the validation of models: the unit and the folder."""
        return {"unit": self.unit, "folder": self.folder}
