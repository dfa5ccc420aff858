"""How she floats, in words and figures: displacement, centres, coefficients, heels."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from nesting.loft.words import Notation
from nesting.units import MM_PER_INCH, Unit
from parts.lines.heeled import Heeled
from parts.lines.hydrostatics import Hydrostatics
from parts.lines.trimmed import Trimmed

POUND_KG = 0.45359237
"""Exact by definition (international yard and pound agreement of 1959)."""

CAUTION = (
    "These figures are of the planked hull alone, on an even keel unless trimmed, without what "
    "lies below the rabbet and without any weight in her. They do not say that she is safe: "
    "stability and freeboard are for licensed practice, a designer's or surveyor's word."
)


@dataclass(frozen=True)
class Water:
    """What she floats in."""

    name: str
    density_kg_m3: float


def floating_rows(
    found: Sequence[Hydrostatics], notation: Notation, water: Water
) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Yield what each row of the hydrostatics is, and its figure at every waterline."""
    unit, density = notation.unit, water.density_kg_m3
    small = MM_PER_INCH if unit.is_imperial else 10.0
    step = "1 in" if unit.is_imperial else "1 cm"
    length = notation.text
    weights = [one.displacement_kg(density) for one in found]
    sinking = [one.to_sink_kg(small, density) for one in found]
    trimming = [one.to_trim_kg_mm(small, density) for one in found]
    along = [one.metacentre_along_mm for one in found]
    rows = (
        ("draught to the lowest rabbet", [length(one.draught_mm) for one in found]),
        (f"displacement, {water.name} water", [mass(kg, unit) for kg in weights]),
        ("volume", [volume(one.volume_mm3, unit) for one in found]),
        ("volume by Simpson's rule", [volume(one.by_sections_mm3, unit) for one in found]),
        ("centre of buoyancy from forward", [length(one.centre_mm) for one in found]),
        ("centre of buoyancy above base", [length(one.height_mm) for one in found]),
        ("centre of flotation from forward", [length(one.flotation_mm) for one in found]),
        ("length on the waterline", [length(one.length_mm) for one in found]),
        ("breadth on the waterline", [length(one.breadth_mm) for one in found]),
        ("waterplane", [area(one.waterplane_mm2, unit) for one in found]),
        ("largest section", [area(one.midship_mm2, unit) for one in found]),
        ("wetted surface", [area(one.water.wetted_mm2, unit) for one in found]),
        ("block coefficient", [f"{one.block:.3f}" for one in found]),
        ("prismatic coefficient", [f"{one.prismatic:.3f}" for one in found]),
        ("waterplane coefficient", [f"{one.waterplane:.3f}" for one in found]),
        ("largest section coefficient", [f"{one.midship:.3f}" for one in found]),
        ("metacentre above buoyancy", [length(one.metacentre_across_mm) for one in found]),
        ("metacentre above base", [length(one.metacentre_height_mm) for one in found]),
        ("lengthwise metacentre above buoyancy", [length(mm) for mm in along]),
        (f"weight to sink her {step}", [mass(kg, unit) for kg in sinking]),
        (f"moment to trim her {step}", [moment(one, unit) for one in trimming]),
    )  # fmt: skip
    for name, texts in rows:
        yield name, tuple(texts)


def heeled_row(found: Heeled, notation: Notation) -> tuple[str, ...]:
    """Return heel, arm from the foot of the centreline, buoyancy, waterplane, wetted, freeboard."""
    heel, unit = f"{found.heel_deg:g}", notation.unit
    if found.freeboard_mm < 0.0:
        return (heel, "", "", "", "", "the sheer is under water")
    return (
        heel,
        notation.text(found.arm_mm),
        notation.text(found.water.centre[0]),
        area(found.water.waterplane_mm2, unit),
        area(found.water.wetted_mm2, unit),
        notation.text(found.freeboard_mm),
    )


HEELED = ("heel", "arm", "buoyancy", "waterplane", "wetted", "freeboard")
"""Columns of the table of heels: degrees; how far the centre of buoyancy lies out, level, from the
foot of the centreline at the base line; from forward; areas; from the water up to the sheer."""

ARM = (
    "The arm goes from the foot of the centreline, at the base line, out to the centre of "
    "buoyancy; the righting arm is that less the height of her weight above base times the sine "
    "of the heel."
)


TRIMMED = ("trim", "forward", "aft", "buoyancy", "above base", "wetted", "freeboard")
"""Columns of the table of trims: by how much she draws more aft than forward; draughts forward and
aft; centre of buoyancy from forward and above the base line; wetted surface; from the water up to
the sheer."""

TRIM = (
    "Trim is by the stern, below 0 by the bow, over the length that the waterline has on an even "
    "keel; at its ends draughts are measured, from the height of the lowest rabbet. Her weight "
    "must lie plumb over the centre of buoyancy: higher than that, forward of it by as much of "
    "the height as the trim is of that length."
)


def trimmed_row(found: Trimmed, notation: Notation) -> tuple[str, ...]:
    """Return trim, draughts forward and aft, the centre of buoyancy, wetted, freeboard."""
    texts = [
        notation.text(mm)
        for mm in (
            found.trim_mm,
            found.fore_mm,
            found.aft_mm,
            found.centre_mm,
            found.height_mm,
        )
    ]  # fmt: skip
    if found.freeboard_mm < 0.0:
        return (texts[0], "", "", "", "", "", "the sheer is under water")
    wetted = area(found.water.wetted_mm2, notation.unit)
    return (*texts, wetted, notation.text(found.freeboard_mm))


HEELED_AND_TRIMMED = ("heel", "trim", "forward", "aft", "arm", "buoyancy", "wetted", "freeboard")
"""Columns of the table of heels at a trim: as those of heels and of trims."""

BOTH = (
    "Heeled at a trim, a level held square across her shows the heel, and draughts are those on "
    "the centreline. The arm goes from the base line where it lies under the centre of buoyancy; "
    "what is taken off it for her weight is to be divided by the cosine of the trim's angle."
)


def both_row(found: Trimmed, notation: Notation) -> tuple[str, ...]:
    """Return heel, trim, draughts forward and aft, arm, buoyancy, wetted, freeboard."""
    heel, trim = f"{found.heel_deg:g}", notation.text(found.trim_mm)
    if found.freeboard_mm < 0.0:
        return (heel, trim, "", "", "", "", "", "the sheer is under water")
    lengths = (found.fore_mm, found.aft_mm, found.arm_mm, found.centre_mm)
    wetted = area(found.water.wetted_mm2, notation.unit)
    texts = (notation.text(mm) for mm in lengths)
    return (heel, trim, *texts, wetted, notation.text(found.freeboard_mm))


@dataclass(frozen=True)
class Inclined:
    """A table of how she floats heeled, or trimmed, with as much water as on an even keel."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def inclined_tables(
    floating: Sequence[Hydrostatics],
    heels: Sequence[Sequence[Heeled]],
    trims: Sequence[Sequence[Trimmed]],
    both: Sequence[Sequence[Trimmed]],
    notation: Notation,
) -> Iterator[Inclined]:
    """Yield a table for each waterline: of heels, then of trims, then of heels at a trim."""
    for upright, of_one in zip(floating, heels, strict=False):
        if of_one:
            title = f"Heeled, as much water as upright at {notation.text(upright.level_mm)}"
            yield Inclined(title, HEELED, tuple(heeled_row(heel, notation) for heel in of_one))
    for upright, at_one in zip(floating, trims, strict=False):
        if at_one:
            title = f"Trimmed, as much water as level at {notation.text(upright.level_mm)}"
            yield Inclined(title, TRIMMED, tuple(trimmed_row(trim, notation) for trim in at_one))
    for upright, of_both in zip(floating, both, strict=False):
        if of_both:
            level = notation.text(upright.level_mm)
            title = f"Heeled and trimmed, as much water as upright and level at {level}"
            rows = tuple(both_row(one, notation) for one in of_both)
            yield Inclined(title, HEELED_AND_TRIMMED, rows)


def mass(kg: float, unit: Unit) -> str:
    """Return a weight in pounds or kilograms."""
    return f"{kg / POUND_KG:,.0f} lb" if unit.is_imperial else f"{kg:,.0f} kg"


def moment(kg_mm: float, unit: Unit) -> str:
    """Return a moment in foot-pounds or kilogram-metres."""
    if unit.is_imperial:
        return f"{kg_mm / POUND_KG / Unit.FOOT.mm:,.0f} ft lb"
    return f"{kg_mm / 1000.0:,.1f} kg m"


def area(mm2: float, unit: Unit) -> str:
    """Return an area to three figures behind the point, or two in square feet."""
    if unit.is_imperial:
        return f"{mm2 / Unit.FOOT.mm**2:,.2f} sq ft"
    return f"{mm2 * 1e-6:,.3f}" + " m2"


def volume(mm3: float, unit: Unit) -> str:
    """Return a volume in cubic feet or cubic metres."""
    if unit.is_imperial:
        return f"{mm3 / Unit.FOOT.mm**3:,.2f} cu ft"
    return f"{mm3 * 1e-9:,.4f}" + " m3"
