"""The rules of a project file: what the saw takes, what is kept clear of, what new timber is."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import Field, field_validator

from nesting.fields import Distance, FileModel, Size, Slope
from nesting.new_timber_rules import (
    MOST_ALLOWANCE_MM,
    MOST_AT_END_MM,
    MOST_DEFECTS_PERCENT,
    NewTimberRules,
    usual_in,
)
from nesting.project.file_types import at_most
from nesting.rules import (
    LARGEST_BLADE_MM,
    LARGEST_PLUG_MM,
    USUAL_CLEARANCES_MM,
    USUAL_SOURCES,
    WIDEST_KERF_MM,
    Breaking,
    Handy,
    LeastOffcut,
    Rules,
    not_of_metal,
    usual_rules,
)
from nesting.sources import NO_SOURCE, USUAL_SLOPE
from nesting.stock.keep_out import KeepOutKind
from nesting.units import Unit
from nesting.written_measures import exact_length

_USUAL, _USUAL_INCHES = Rules(), usual_rules(Unit.INCH)
_OFFCUT = LeastOffcut()
_HANDY = Handy()

SawCut = Annotated[Distance, at_most(WIDEST_KERF_MM)]
"""A kerf."""

Allowance = Annotated[Distance, at_most(MOST_ALLOWANCE_MM)]
"""A clearance or an allowance."""

PlugSize = Annotated[Size, at_most(LARGEST_PLUG_MM)]
"""Diameter of a bung."""


def _rule(name: str, description: str, unit: str = " mm") -> Any:
    """Return a field that falls back on the usual rule, and says what that is."""
    usual, inches = getattr(_USUAL, name), getattr(_USUAL_INCHES, name)
    said = f"{usual:g}{unit}"
    if inches != usual:
        said += f", where the unit is in or ft {exact_length(inches, Unit.INCH)},"
    return Field(
        default_factory=lambda: usual,
        description=f"{description}; {said} if not given ({USUAL_SOURCES[name]})",
    )


def _new_timber(name: str, description: str, unit: str = " mm", **more: Any) -> Any:
    """Return a field that falls back on the usual rule for new timber, and says what that is."""
    usual = getattr(NewTimberRules(), name)
    text = f"{description}; {usual:g}{unit} if not given"
    return Field(default_factory=lambda: usual, description=text, **more)


def _usual_clearances() -> str:
    return ", ".join(f"{kind} {mm:g} mm" for kind, mm in USUAL_CLEARANCES_MM.items())


class OffcutEntry(FileModel):
    """The smallest rectangle worth keeping."""

    length_mm: Size = Field(description="along the grain")
    width_mm: Size = Field(description="across")


class HandyEntry(FileModel):
    """The largest piece that one person can handle."""

    length_mm: Size = Field(_HANDY.length_mm, description="longest; 2400 mm if not given")
    weight_kg: float = Field(
        _HANDY.weight_kg,
        alias="weight",
        gt=0,
        le=1000,
        description="heaviest in kg, where the wood's density is known; 25 kg if not given",
    )


class NewTimberEntry(FileModel):
    """What new timber is sold as, and what is lost on it; the rules above are for salvage."""

    thicknesses: tuple[Size, ...] | None = Field(
        None,
        min_length=1,
        description="rough thicknesses as sold; 4/4, 5/4, 6/4, 8/4, 10/4, 12/4 and 16/4 in if not "
        "given, or the sawn sizes of European yards where the unit is metric",
    )
    planing_mm: Allowance = _new_timber("planing_mm", "taken off each face")
    edge_mm: Allowance = _new_timber("edge_mm", "taken off each edge")
    end_mm: Annotated[Distance, at_most(MOST_AT_END_MM)] = _new_timber(
        "end_mm", "taken off each end"
    )
    defects_percent: float = _new_timber(
        "defects_percent",
        "bought on top for knots, sapwood and splits",
        " %",
        alias="defects",
        ge=0,
        le=MOST_DEFECTS_PERCENT,
    )

    def rules(self, unit: Unit) -> NewTimberRules:
        """Return the rules; a thickness over all that are sold is sawn to order in usual steps."""
        usual = usual_in(unit)
        return NewTimberRules(
            self.thicknesses or usual.thicknesses_mm,
            self.planing_mm,
            self.edge_mm,
            self.end_mm,
            self.defects_percent,
            usual.steps,
        )


class RulesEntry(FileModel):
    """What the saw takes, what it keeps clear of, what may be plugged."""

    kerf_mm: SawCut = _rule("kerf_mm", "width of the saw's cut")
    trim_mm: Allowance = _rule("trim_mm", "left on around every part, to plane to the line")
    blade_clearance_mm: Allowance = _rule("blade_clearance_mm", "from any cut to metal")
    clearances: dict[KeepOutKind, Allowance] = Field(
        default_factory=dict,
        description="from a part to keep-outs of other kinds, 0 for none; "
        f"{_usual_clearances()}, others 0 if not given ({USUAL_SOURCES['clearances_mm']})",
    )
    cleaning_loss_mm: Allowance = _rule("cleaning_loss_mm", "taken off each face")
    least_offcut: OffcutEntry = Field(
        default_factory=lambda: OffcutEntry(length_mm=_OFFCUT.length_mm, width_mm=_OFFCUT.width_mm),
        description="smallest piece worth keeping; "
        f"{_OFFCUT.length_mm:g} x {_OFFCUT.width_mm:g} mm if not given "
        f"({USUAL_SOURCES['least_offcut']})",
    )
    plugs: tuple[PlugSize, ...] = Field(
        default_factory=lambda: _USUAL.plug_sizes_mm,
        description="bungs that can be made, by diameter; 3/8, 1/2, 5/8, 3/4 in if not given "
        f"({USUAL_SOURCES['plug_sizes_mm']})",
    )
    reaming_mm: Allowance = _rule("reaming_mm", "added to a hole's diameter before plugging")
    plug_edge_mm: Allowance = _rule("plug_edge_mm", "from a bung to a cut edge")
    plugs_per_metre: int = Field(
        default_factory=lambda: _USUAL.plugs_per_metre,
        ge=0,
        le=100,
        description=f"most bungs in a metre of a part; {_USUAL.plugs_per_metre} if not given "
        f"({USUAL_SOURCES['plugs_per_metre']})",
    )
    surface_check_mm: Allowance = _rule("surface_check_mm", "deepest split of a hidden face")
    saw_blade_mm: Annotated[Size, at_most(LARGEST_BLADE_MM)] = _rule(
        "saw_blade_mm", "diameter of the hand-held circular saw's blade"
    )
    handy: HandyEntry = Field(
        default_factory=HandyEntry,
        description="largest piece that one person can handle: break-down cuts take ends off until "
        f"pieces are no larger; {_HANDY.length_mm:g} mm and {_HANDY.weight_kg:g} kg if not given "
        f"({USUAL_SOURCES['handy']})",
    )
    break_down: Breaking = Field(
        Breaking.IGNORED,
        description="preferred: boards are laid anew where more parts then come free by straight "
        "cuts, no more wood being opened; ignored if not given "
        f"({USUAL_SOURCES['break_down']})",
    )
    slope_of_grain: Slope | None = Field(
        None,
        description="for every part that does not say otherwise: how far its grain line may lean "
        "from the board's; a part's own curve comes on top, see run_out; "
        f"1 in {USUAL_SLOPE:g} if not given ({NO_SOURCE})",
    )
    new_timber: NewTimberEntry = Field(
        default_factory=NewTimberEntry,
        description="new timber for the parts left over; what each rule says, if not given "
        f"({NO_SOURCE} but where it names one)",
    )

    @field_validator("clearances")
    @classmethod
    def _not_metal(cls, given: dict[KeepOutKind, float]) -> dict[KeepOutKind, float]:
        return not_of_metal(given)

    def rules(self, unit: Unit) -> Rules:
        """Return the rules, in the vocabulary of the nest.

        A unit says how timber is sold, and what is usual where nothing is given.
        """
        usual = usual_rules(unit)

        def given(name: str) -> float:
            return float(getattr(self if name in self.model_fields_set else usual, name))

        return Rules(
            kerf_mm=given("kerf_mm"),
            trim_mm=given("trim_mm"),
            blade_clearance_mm=given("blade_clearance_mm"),
            cleaning_loss_mm=given("cleaning_loss_mm"),
            clearances_mm=self.clearances,
            least_offcut=LeastOffcut(self.least_offcut.length_mm, self.least_offcut.width_mm),
            plug_sizes_mm=self.plugs,
            reaming_mm=self.reaming_mm,
            plug_edge_mm=self.plug_edge_mm,
            plugs_per_metre=self.plugs_per_metre,
            surface_check_mm=self.surface_check_mm,
            saw_blade_mm=self.saw_blade_mm,
            handy=Handy(self.handy.length_mm, self.handy.weight_kg),
            break_down=self.break_down,
            new_timber=self.new_timber.rules(unit),
        )
