"""The top of a project file and of a stock file, the rules, and one line of the parts list."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, field_validator

from nesting.errors import ShapeError
from nesting.fields import Distance, FileModel, Size, Slope
from nesting.need import Holes
from nesting.new_timber_rules import NewTimberRules, usual_in
from nesting.project.file_types import Name, Percent, Text, Texts, at_most
from nesting.project.rates_entry import RatesEntry
from nesting.rules import (
    USUAL_CLEARANCES_MM,
    USUAL_SOURCES,
    Breaking,
    Handy,
    LeastOffcut,
    Rules,
    usual_rules,
)
from nesting.shop import kinds
from nesting.shop.kinds import (
    USUAL_ROLL_MM,
    Output,
    Paper,
    cutter_across,
    roll_width,
)
from nesting.sources import NO_SOURCE, USUAL_SLOPE
from nesting.stock.keep_out import KeepOutKind
from nesting.units import Unit, exact_length

_USUAL, _USUAL_INCHES = Rules(), usual_rules(Unit.INCH)
_OFFCUT = LeastOffcut()
_HANDY = Handy()

SawCut = Annotated[Distance, at_most(12.0)]
"""A kerf; the widest saw, a chain saw's, takes 6 mm or a little more."""

Allowance = Annotated[Distance, at_most(50.0)]
"""A clearance or an allowance; more than 50 mm is a wrong unit."""

PlugSize = Annotated[Size, at_most(100.0)]
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
    end_mm: Annotated[Distance, at_most(600.0)] = _new_timber("end_mm", "taken off each end")
    defects_percent: float = _new_timber(
        "defects_percent",
        "bought on top for knots, sapwood and splits",
        " %",
        alias="defects",
        ge=0,
        le=200,
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
    saw_blade_mm: Annotated[Size, at_most(600.0)] = _rule(
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
        if KeepOutKind.METAL in given:
            raise ShapeError("metal is kept clear of by blade_clearance; set that instead")
        return given

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


class OutputsEntry(FileModel):
    """Where cut sheets go, and in which DXF."""

    folder: Text | None = Field(
        None,
        description="from the folder of the project file; output/ and the project's name, from "
        "where the command is given, if not given",
    )
    dxf: Literal["R2010", "R12"] = Field("R2010", description="R12 for old machines")
    write: tuple[Output, ...] = Field(
        default_factory=lambda: kinds.USUAL_OUTPUTS,
        description="what is written beside cut sheets, overview and summary: "
        f"{', '.join(Output)}; [] for nothing; {', '.join(kinds.USUAL_OUTPUTS)} if not given",
    )
    paper: Paper = Field(Paper.A4, description="what is printed on")
    roll_mm: Size = Field(
        USUAL_ROLL_MM,
        description=f"width of the paper roll for patterns; {USUAL_ROLL_MM:g} mm, 36 in, if not "
        f"given ({NO_SOURCE})",
    )
    cutter_mm: Size | None = Field(
        None,
        description="diameter of the router's cutter for machine files; the kerf if not given, "
        "since the plan is packed for a cut so wide",
    )

    @field_validator("roll_mm")
    @classmethod
    def _is_roll(cls, given: float) -> float:
        return roll_width(given)

    @field_validator("cutter_mm")
    @classmethod
    def _is_cutter(cls, given: float | None) -> float | None:
        return given if given is None else cutter_across(given)


class ProjectHead(FileModel):
    """A project file, but for what is inside its stock and parts."""

    version: Literal[1] = Field(description="form of this file: 1")
    name: Name = Field(description="what the project is called")
    unit: Unit = Field(description="what a bare number means: mm, cm, m, in or ft")
    species: Texts = Field((), description="woods of this project that the tables do not know")
    rules: RulesEntry = Field(default_factory=RulesEntry)
    families: Texts = Field(
        (),
        description="Python files with part families of the project's own, from the folder of the "
        "project file; their code runs only where somebody has allowed it",
    )
    boat: dict[str, Any] | None = Field(
        None, description="the boat's lines and construction, for parts that say where they stand"
    )
    book: Text | None = Field(
        None,
        description="stock book, from the folder of the project file: what happened to every "
        "board; with it what is sawn is not nested again (salvage-nest book)",
    )
    stock: tuple[dict[str, Any], ...] = Field(min_length=1, description="boards and stock files")
    parts: tuple[dict[str, Any], ...] = Field(min_length=1, description="parts of the new boat")
    groups: dict[Name, Texts] = Field(
        default_factory=dict,
        description="names for several boards, for wishes; those that are neighbours stand in a "
        "group as they lay side by side: {port planking: [P-1, P-2, P-3]}",
    )
    wishes: tuple[dict[str, Any], ...] = Field(
        (), description="what is wished of a plan: which piece from which board, what stays"
    )
    stage: int | None = Field(
        None,
        ge=1,
        le=99,
        description="the stage of the work that is nested: pieces that a wish puts in a later one "
        "are not cut yet, wood for them is kept in view; all are nested if not given",
    )
    outputs: OutputsEntry = Field(default_factory=OutputsEntry)
    rates: RatesEntry | None = Field(
        None, description="what wood and work cost; without it the lists show no money and no hours"
    )


class StockFileEntry(FileModel):
    """A stock file, named in a project's stock."""

    file: Text = Field(
        description="stock file (.yaml, .csv, .xlsx), from the folder of the project file"
    )
    sheet: Text | None = Field(
        None, description="sheet of an .xlsx; every one that holds anything if not given"
    )


class StockHead(FileModel):
    """A stock file, but for what is inside its boards."""

    version: Literal[1] = Field(1, description="form of this file: 1")
    unit: Unit = Field(description="what a bare number means: mm, cm, m, in or ft")
    defaults: dict[str, Any] = Field(
        default_factory=dict,
        description="keys of a board that hold for every board here that does not say otherwise; "
        "keep_outs here come before a board's own",
    )
    boards: tuple[dict[str, Any], ...] = Field(min_length=1)


class PartEntry(FileModel):
    """One line of the parts list."""

    part: Name = Field(description="name, unique in the project")
    family: Name = Field(description="part family")
    at: Any = Field(
        None,
        description="where it stands in the boat, in place of its shape by numbers: frame 8, "
        "station 5 or a length from forward; frames 2 to 14 by 3, or a list, for one part each",
    )
    side: Literal["both", "starboard", "port"] | None = Field(
        None, description="with at: which side of the boat; both if not given"
    )
    shape: dict[str, Any] = Field(default_factory=dict, description="the family's parameters")
    quantity: int = Field(1, ge=1, le=10_000, description="how many; not with at")
    species: Texts = Field(min_length=1, description="woods it accepts, best first")
    holes: Holes = Field(Holes.CLEAR, description="what it tolerates: clear, plugged or hidden")
    plugs_per_metre: int | None = Field(None, ge=0, le=100, description="if not the rules' number")
    value: float | None = Field(None, ge=0, description="worth of one; its board feet if not given")
    moisture_percent: tuple[Percent, Percent] | None = Field(
        None,
        alias="moisture",
        description="accepted range in percent, [low, high]; a board never measured passes",
    )
    heartwood_only: bool = Field(
        False, description="whether sapwood is refused; a board never looked at passes"
    )
    run_out: Slope | None = Field(
        None,
        description="steepest that grain may run out of the piece as it lies: off its long edges, "
        "its own curve included, or off the sweep of a grown one; no limit if not given",
    )
    not_from: Texts = Field((), description="members of the old boat that may not give it")
    notes: Texts = Field((), description="printed with the part")

    @field_validator("moisture_percent")
    @classmethod
    def _rising(cls, given: tuple[float, float] | None) -> tuple[float, float] | None:
        if given is not None and given[0] > given[1]:
            raise ShapeError(f"goes from {given[0]:g} down to {given[1]:g}; low comes first")
        return given
