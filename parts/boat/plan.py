"""What a project file says of the boat: her lines, and what the table of offsets does not have.

These are the figures of the construction plan: where the frames stand, what the keel, the deck
and the clamp measure, by which mould the deck is crowned. All heights are above the base line of
the table, all places from where the table measures its stations.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Self

from pydantic import Field, model_validator

from nesting.errors import PartError
from nesting.fields import Distance, FileModel, Length, Size
from parts.curves import CrownShape


class FramesEntry(FileModel):
    """Where the frames stand, and their size."""

    first_mm: Length = Field(description="from forward to the middle of frame 1")
    spacing_mm: Size = Field(description="from frame to frame, centre to centre", le=3000)
    count: int = Field(description="how many frames there are", ge=1, le=500)
    siding_mm: Size = Field(description="thickness of a frame fore and aft", le=600)
    moulding_mm: Size = Field(
        description="depth of a frame, square to the planking that lies on it", le=600
    )


class KeelEntry(FileModel):
    """The keel, or the hog on it, that the floors stand on."""

    siding_mm: Size = Field(description="its width where the floors stand on it", le=2000)
    top_mm: Size | None = Field(
        None,
        description="from the rabbet up to its top, where the floors stand; by default up to the "
        "inner edge of the planking in the rabbet",
        le=2000,
    )


class ClampEntry(FileModel):
    """The clamp or shelf on the inner faces of the frames, that bears the beams."""

    thickness_mm: Size = Field(description="square to the frames", le=600)
    depth_mm: Size = Field(
        description="from the deck's under side at its edge down to the clamp's lower edge",
        le=1500,
    )
    below_deck_mm: Distance | None = Field(
        None,
        description="from the deck's under side at its edge down to the clamp's upper edge, on "
        "which beams are seated; by default the end moulding of the ordinary beams",
        le=1000,
    )


class MouldEntry(FileModel):
    """The one mould that the beams are marked from."""

    span_mm: Size = Field(description="span of the mould: at least the greatest beam", le=20000)
    camber_mm: Distance = Field(description="rise of the mould over its span", le=5000)
    curve: CrownShape = Field(CrownShape.ARC, description="the curve of the crown")


class DeckCrown(StrEnum):
    """How the beams along the boat get their crown."""

    ONE_MOULD = "one mould"
    CONSTANT_CAMBER = "constant camber"
    STRAIGHT_CENTRELINE = "straight centreline"


class DeckEntry(FileModel):
    """The deck, as far as the beams have to know it."""

    thickness_mm: Distance = Field(
        0.0, description="of the decking, if the sheer is its upper side", le=300
    )
    crown: DeckCrown = Field(
        DeckCrown.ONE_MOULD,
        description="one mould: every beam is cut to length from one arc; constant camber: "
        "every beam rises as much as the mould; straight centreline: the deck's middle runs "
        "straight from the first frame to the last, the crown follows",
    )


class BeamSizeEntry(FileModel):
    """The size of one kind of deck beam."""

    siding_mm: Size = Field(description="thickness fore and aft", le=600)
    moulding_mm: Size = Field(description="depth at the centreline, plumb", le=1000)
    end_moulding_mm: Size | None = Field(
        None, description="depth at the ends; by default as at the centreline", le=1000
    )


class BeamsEntry(FileModel):
    """The sizes of the deck beams by where they stand; a part's own go before these."""

    ordinary: BeamSizeEntry | None = Field(None, description="of whole beams in clear deck")
    main: BeamSizeEntry | None = Field(
        None, description="of beams at the mast and at the ends of openings"
    )
    half: BeamSizeEntry | None = Field(None, description="of half beams beside openings")


class HouseEntry(FileModel):
    """The house on deck, as far as its beams have to know it."""

    half_breadth_mm: Size = Field(
        description="from the centreline to the inside of its sides", le=10000
    )
    height_mm: Size = Field(description="from the deck beside it up to its beams' ends", le=4000)
    camber_mm: Distance = Field(description="rise of its beams over their span", le=2000)


class BoatPlan(FileModel):
    """The boat's lines and construction: parts may then say where they stand."""

    lines: Annotated[str, Field(min_length=1)] = Field(
        description="table of offsets, CSV or YAML, from the folder of the project file",
        examples=["lines/withy_offsets.csv"],
    )
    planking_mm: Size | None = Field(
        None, description="thickness of the planking, if the table does not say", le=300
    )
    frames: FramesEntry
    keel: KeelEntry
    deck: DeckEntry = Field(default_factory=DeckEntry)
    beam_mould: MouldEntry | None = Field(None, description="by default the crown of the table")
    beams: BeamsEntry = Field(default_factory=BeamsEntry)
    clamp: ClampEntry | None = Field(None, description="needed for ceiling up to it")
    house: HouseEntry | None = Field(None, description="needed for house beams")
    sole_mm: Length | None = Field(
        None, description="height of the sole beams' upper edges; needed for sole beams"
    )
    floor_heads_mm: Size | None = Field(
        None,
        description="from the floors' seat up to their heads, where the ceiling begins",
        le=4000,
    )
    transom_mm: Distance = Field(
        0.0, description="thickness of the transom, for quarter knees", le=600
    )

    @model_validator(mode="after")
    def _frames_are_apart(self) -> Self:
        if self.frames.siding_mm >= self.frames.spacing_mm:
            raise PartError(
                f"frames sided {self.frames.siding_mm:g} mm leave no room at a spacing of "
                f"{self.frames.spacing_mm:g} mm: check both"
            )
        return self
