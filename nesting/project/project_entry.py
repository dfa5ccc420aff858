"""The top of a project file and of a stock file, and one line of the parts list."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field, field_validator

from nesting.errors import ShapeError
from nesting.fields import FileModel, Size, Slope
from nesting.need import MOST_OF_ONE, Holes
from nesting.project.file_types import Name, Percent, Text, Texts
from nesting.project.rates_entry import RatesEntry
from nesting.project.rules_entry import RulesEntry
from nesting.shop import kinds
from nesting.shop.kinds import (
    USUAL_ROLL_MM,
    Output,
    Paper,
    cutter_across,
    roll_width,
)
from nesting.sources import NO_SOURCE
from nesting.units import Unit


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
        None,
        description="the boat's lines and construction, for parts that say where they stand",
        examples=["{lines: offsets.csv}"],
    )
    book: Text | None = Field(
        None,
        description="stock book, from the folder of the project file: what happened to every "
        "board; with it what is sawn is not nested again (salvage-nest book)",
    )
    stock: tuple[dict[str, Any], ...] = Field(
        min_length=1, description="boards and stock files", examples=["{file: boards.csv}"]
    )
    parts: tuple[dict[str, Any], ...] = Field(
        min_length=1,
        description="parts of the new boat",
        examples=["{part: ..., family: ..., species: ..., shape: {...}}"],
    )
    groups: dict[Name, Texts] = Field(
        default_factory=dict,
        description="names for several boards, for wishes; those that are neighbours stand in a "
        "group as they lay side by side: {port planking: [P-1, P-2, P-3]}",
        examples=["{port planking: [P-1, P-2, P-3]}"],
    )
    wishes: tuple[dict[str, Any], ...] = Field(
        (),
        description="what is wished of a plan: which piece from which board, what stays",
        examples=["{part: ..., from: ...}"],
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
    boards: tuple[dict[str, Any], ...] = Field(
        min_length=1, examples=["{board: ..., species: ..., length: ..., width: ...}"]
    )


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
    shape: dict[str, Any] = Field(
        default_factory=dict,
        description="the family's parameters",
        examples=["{length: ..., width: ...}"],
    )
    quantity: int = Field(1, ge=1, le=MOST_OF_ONE, description="how many; not with at")
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
    face_grain: Literal["along", "either"] = Field(
        "along",
        description="of sheet goods: whether the face grain runs along its own line of grain, or "
        "may lie square to that too (either); solid wood always runs along",
    )
    not_from: Texts = Field((), description="members of the old boat that may not give it")
    notes: Texts = Field((), description="printed with the part")

    @field_validator("moisture_percent")
    @classmethod
    def _rising(cls, given: tuple[float, float] | None) -> tuple[float, float] | None:
        if given is not None and given[0] > given[1]:
            raise ShapeError(f"goes from {given[0]:g} down to {given[1]:g}; low comes first")
        return given
