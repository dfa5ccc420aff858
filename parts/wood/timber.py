"""Timber species: figures from the printed tables, each row with its source and standing.

The table is ``species.csv`` beside this file. A figure the sources do not print is None, never
a guess; ``status`` says what was read where, and what is from memory.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from difflib import get_close_matches
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from nesting.errors import PartError

LEAST_ENDING = 4
"""Letters of a kind that may end a longer word: cedar in redcedar, but not ash in greasewash."""

_COLUMNS = {
    "species": "name",
    "botanical": "botanical",
    "specific_gravity_12": "specific_gravity",
    "MOR_MPa": "modulus_of_rupture_mpa",
    "MOE_GPa": "modulus_of_elasticity_gpa",
    "comp_parallel_MPa": "compression_along_mpa",
    "shear_MPa": "shear_mpa",
    "side_hardness_N": "side_hardness_n",
    "shrink_radial_pct": "shrinkage_radial_percent",
    "shrink_tangential_pct": "shrinkage_tangential_percent",
    "shrink_volumetric_pct": "shrinkage_volumetric_percent",
    "source": "source",
    "status": "status",
    "shrinkage_source": "shrinkage_source",
    "shrinkage_status": "shrinkage_status",
}
_TEXTS = frozenset(
    {"name", "botanical", "source", "status", "shrinkage_source", "shrinkage_status"}
)

DRY_PERCENT = 12.0
"""Moisture at which the table has its woods, in per cent of the dry weight."""

FIBRE_SATURATION_PERCENT = 30.0
"""Above this wood does not move; up to it shrinkage goes evenly with moisture (USDA Wood Handbook
FPL-GTR-282, 2021, eq. 4-9: 30 unless known)."""

SHRINKAGE_STATUSES = {
    "verified": "read there",
    "second hand": "read in somebody's account of it",
    "from memory": "recalled: check before relying on it",
    "not printed": "no figure found",
}
"""What is known of a wood's shrinkage figures, and what the words mean."""


class UnknownSpeciesError(PartError, LookupError):
    """A species that the table does not hold; the message offers the nearest names."""


@dataclass(frozen=True)
class Species:
    """One species, small clear wood at 12 % moisture.

    Attributes
    ----------
    specific_gravity
        Oven-dry mass over the mass of water of the volume at 12 %; None where only a basic
        (green volume) one is printed.
    modulus_of_rupture_mpa, modulus_of_elasticity_gpa, compression_along_mpa, shear_mpa
        Static bending, bending stiffness, crushing along the grain, shear along the grain.
    side_hardness_n
        Force that sinks an 11.3 mm ball to half its diameter.
    shrinkage_radial_percent, shrinkage_tangential_percent, shrinkage_volumetric_percent
        Green to oven dry, of the green dimension.
    source, status
        Where the strength figures are printed, and how much of them was read there.
    shrinkage_source, shrinkage_status
        Where those of shrinkage stand, and one of :data:`SHRINKAGE_STATUSES`; the source of
        figures from memory says what else was seen, or nothing.
    """

    name: str
    botanical: str
    specific_gravity: float | None
    modulus_of_rupture_mpa: float | None
    modulus_of_elasticity_gpa: float | None
    compression_along_mpa: float | None
    shear_mpa: float | None
    side_hardness_n: float | None
    shrinkage_radial_percent: float | None
    shrinkage_tangential_percent: float | None
    shrinkage_volumetric_percent: float | None
    source: str
    status: str
    shrinkage_source: str
    shrinkage_status: str

    def density_kg_m3(self, moisture_percent: float = DRY_PERCENT) -> float | None:
        """Return its density at some moisture: its dry wood and its water in what they then fill.

        Up to fibre saturation it swells evenly; without figures for that it is taken not to.
        """
        if self.specific_gravity is None:
            return None
        swollen = self._volume(moisture_percent) / self._volume(DRY_PERCENT)
        return 1000 * self.specific_gravity * (1 + moisture_percent / 100) / swollen

    def _volume(self, moisture_percent: float) -> float:
        """Return its volume at some moisture over its green one."""
        dried = max(0.0, 1 - moisture_percent / FIBRE_SATURATION_PERCENT)
        return 1 - (self.shrinkage_volumetric_percent or 0.0) / 100 * dried


@cache
def _table() -> Mapping[str, Species]:
    """Return every species by its name, in the order of the table."""
    lines = files("parts.wood").joinpath("species.csv").read_text(encoding="utf-8").splitlines()
    rows = [_species(row) for row in csv.DictReader(lines)]
    return MappingProxyType({row.name: row for row in rows})


def _species(row: Mapping[str, str]) -> Species:
    values = {_COLUMNS[column]: text for column, text in row.items()}
    assert set(values) == {field.name for field in fields(Species)}, "species.csv has other columns"
    figures = {
        name: float(text) if text else None for name, text in values.items() if name not in _TEXTS
    }
    return Species(**{name: values[name] for name in _TEXTS}, **figures)  # type: ignore[arg-type]


@cache
def _names() -> Mapping[str, str]:
    """Return the table's names by every spelling: as printed, and without what is in brackets."""
    spellings = {name.partition(" (")[0].casefold(): name for name in _table()}
    return spellings | {name.casefold(): name for name in _table()}


def species_names() -> tuple[str, ...]:
    """Return the name of every species of the table, in its order."""
    return tuple(_table())


def species_of_kind(kind: str, names: Iterable[str] = ()) -> tuple[str, ...]:
    """Return the species that a bare kind of wood may mean; empty if it is no such kind.

    Parameters
    ----------
    names
        Of species that the table does not hold, to be asked as well.

    Examples
    --------
    >>> species_of_kind("oak")
    ('white oak', 'live oak', 'European oak')
    >>> species_of_kind("cedar")[:2]
    ('western redcedar', 'northern white cedar')
    """
    asked = " ".join(kind.split()).casefold()
    if not asked:
        return ()
    return tuple(
        name
        for name in (*names, *_table())
        if any(
            word == asked or (len(asked) >= LEAST_ENDING and word.endswith(asked))
            for word in re.split(r"[\s-]+", name.partition(" (")[0].casefold())
        )
    )


def species(name: str) -> Species:
    """Return a species by its name, in any case, with or without the part in brackets.

    Raises
    ------
    UnknownSpeciesError
        If the table does not hold it; with the nearest names.

    Examples
    --------
    >>> species("Hard maple").botanical
    'Acer saccharum'
    """
    spelling = " ".join(name.split()).casefold()
    if spelling in _names():
        return _table()[_names()[spelling]]
    matches = (_names()[match] for match in get_close_matches(spelling, _names(), n=3))
    near = dict.fromkeys(species_of_kind(spelling) or matches)
    hint = f"did you mean {' or '.join(near)}?" if near else "see species_names() for all of them"
    raise UnknownSpeciesError(f"no figures for the species {name!r}: {hint}")


def density_kg_m3(name: str, moisture_percent: float | None = None) -> float | None:
    """Return the density of a wood; None if the table lacks the wood or it.

    Of wood whose moisture nobody took it is that at 12 %.

    >>> density_kg_m3("teak") is None or 500 < density_kg_m3("teak") < 900
    True
    >>> density_kg_m3("moon wood")
    """
    moisture = DRY_PERCENT if moisture_percent is None else moisture_percent
    try:
        return species(name).density_kg_m3(moisture)
    except UnknownSpeciesError:
        return None
