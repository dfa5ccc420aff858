"""From the parts list of a project file to parts and needs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from nesting.errors import DrawingError, OwnCodeError, PartError, ShapeError
from nesting.need import Need
from nesting.project.boards import title_of
from nesting.project.entry import Entry, Names
from nesting.project.fitted import family_of, fitted_parts
from nesting.project.former import FormerUse
from nesting.project.project_entry import PartEntry
from nesting.project.setting import Setting
from nesting.project.stock import blocks_in
from nesting.sheet_goods import is_sheet_goods
from nesting.units import Unit
from nesting.unseen import short
from parts.butts import shift_remarks
from parts.fitted.fitted import Fitted
from parts.own_code import told_of
from parts.part import Family, Part

NO_WOOD = ("a wood that is not known",)
"""Stands for the species of a part that names none we know, while its shape is looked at."""

Parts = dict[str, tuple[Part, Need]]


def read_parts(
    project: Entry, setting: Setting, *, slope_of_grain: float | None, former: FormerUse
) -> tuple[Parts, dict[str, Entry]]:
    """Return every part of a project with its need, and each one's entry by its name.

    Whatever is wrong is noted.

    Parameters
    ----------
    slope_of_grain
        For parts whose shape does not set it, 1 in this many.
    former
        What the boards were on the old boat, which is what ``not_from`` names.
    """
    found: Parts = {}
    names = Names("part")
    for number, data in blocks_in(project.data, "parts"):
        title = title_of(data, "part", number)
        entry = project.below("parts", number, data=data, title=title)
        setting.tally.add("lines of parts", 1, entry)
        read = entry.validated(PartEntry, setting.context)
        family = family_of(entry, setting.families)
        made = _made(entry, family, setting, slope_of_grain) if family else ()
        names.add_written(entry)
        if read is None:
            continue
        _check_not_from(read, entry, former)
        species = _species(read, entry, setting)
        for own, part in made:
            name = f"{read.part}, {own}" if own else read.part
            if own:
                names.add(name, entry)
            if need := _need(read, species, part, entry, name, unit=setting.unit):
                setting.tally.add("pieces", need.quantity, entry)
                found[name] = (part, need)
    _check_labels([need for _, need in found.values()], names)
    return _with_shift_noted(found), names.used


def _check_labels(needs: Sequence[Need], names: Names) -> None:
    """Note each part with a piece called as another's: no sheet could tell them apart."""
    part_of: dict[str, str] = {}
    for need in needs:
        for number in range(1, need.quantity + 1):
            label = need.called(number)
            other = part_of.setdefault(label, need.part)
            if other != need.part:
                names.used[need.part].note(
                    ("part",),
                    f"{short(label)} would be the name of two pieces, the other one of "
                    f"{short(other)} at {names.used[other].place('part')}; give another name",
                )
                break


def _with_shift_noted(found: Parts) -> Parts:
    """Return parts with a note on each whose butts are too near those of its neighbours."""
    remarks = shift_remarks({name: part for name, (part, _) in found.items()})
    return {
        name: (
            part,
            replace(need, notes=(*need.notes, *remarks[name])) if name in remarks else need,
        )
        for name, (part, need) in found.items()
    }


def _made(
    entry: Entry, family: type[Family], setting: Setting, slope_of_grain: float | None
) -> tuple[tuple[str, Family], ...]:
    """Return the parts of an entry; what fails in a family of somebody's own is noted."""
    try:
        with told_of(family):
            return tuple(_parts(entry, family, setting, slope_of_grain))
    except OwnCodeError as error:
        entry.note(("shape",), str(error), at_key=True)
        return ()


def _parts(
    entry: Entry, family: type[Family], setting: Setting, slope_of_grain: float | None
) -> Iterator[tuple[str, Family]]:
    """Yield the parts of an entry, each with its own name within the entry's, if any."""
    if issubclass(family, Fitted):
        yield from fitted_parts(entry, family, setting, slope_of_grain)
        return
    shape = entry.data.get("shape", {})
    if not isinstance(shape, dict):
        return
    if slope_of_grain is not None and "slope_of_grain" in family.model_fields:
        shape = {"slope_of_grain": slope_of_grain, **shape}
    below = entry.below("shape", data=shape, title=entry.title)
    if (part := below.validated(family, setting.context)) is not None:
        yield "", part


def _need(
    read: PartEntry,
    species: tuple[str, ...],
    part: Family,
    entry: Entry,
    name: str,
    *,
    unit: Unit,
) -> Need | None:
    try:
        with told_of(part):
            need = Need.of(
                name,
                part,
                species or NO_WOOD,
                quantity=read.quantity,
                holes=read.holes,
                run_out=read.run_out,
                unit=unit,
                notes=read.notes,
                plugs_per_metre=read.plugs_per_metre,
                value=read.value,
                moisture_percent=read.moisture_percent,
                heartwood_only=read.heartwood_only,
                not_from=read.not_from,
            )
            part.butted()
        if not species:
            return None
        return _turned_a_quarter(need, entry) if read.face_grain == "either" else need
    except OwnCodeError as error:
        entry.note(("shape",), str(error), at_key=True)
        return None
    except (PartError, ShapeError, DrawingError) as error:
        entry.note(("shape",), f"shape: {error}", at_key=True)
        return None


def _turned_a_quarter(need: Need, entry: Entry) -> Need | None:
    """Return a need that may lie square to the face grain; None, noted, if it is of no sheet."""
    if any(map(is_sheet_goods, need.species)):
        return replace(need, outline=replace(need.outline, may_lie_across=True))
    woods = " or ".join(need.species)
    entry.note(
        ("face_grain",),
        f"face_grain is either, and {woods} is no sheet goods: solid wood is never laid across its "
        "grain; leave it out, or accept a plywood",
    )
    return None


def _species(read: PartEntry, entry: Entry, setting: Setting) -> tuple[str, ...]:
    """Return the accepted species as the tables spell them; empty if one is not known."""
    known = [setting.woods.named(given) for given in read.species]
    for number, (given, name) in enumerate(zip(read.species, known, strict=True)):
        if name is None:
            entry.note(("species", number), setting.woods.unknown(given))
    return () if None in known else tuple(dict.fromkeys(name for name in known if name))


def _check_not_from(read: PartEntry, entry: Entry, former: FormerUse) -> None:
    """Note a former use that no board has: a slip there would permit what it forbids."""
    for number, given in enumerate(read.not_from):
        if (complaint := former.complaint(given)) is not None:
            entry.note(("not_from", number), f"not_from: {complaint}")


def as_mappings(found: Parts) -> tuple[Mapping[str, Part], tuple[Need, ...]]:
    """Return the parts by name, and the needs in the order of the file."""
    return (
        {name: part for name, (part, _) in found.items()},
        tuple(need for _, need in found.values()),
    )
