"""The form of an old boat's file."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field

from nesting.errors import LengthError
from nesting.fields import Distance, FileModel, Size
from nesting.judging.old_boat import Fastener
from nesting.judging.usual_build import Build
from nesting.judging.ways import Way
from nesting.project.file_types import Name, Text, Texts
from nesting.units import Unit

Share = Annotated[float, Field(ge=0, le=100)]
"""A share in percent."""


def _no_fraction(given: float) -> float:
    """Refuse nine tenths written as 0.9: it would be read as not one in a hundred."""
    if 0.0 < given <= 1.0:
        raise LengthError(f"{given:g} is a share in %, 90 for nine tenths and 100 for all")
    return given


PlainShare = Annotated[Share, AfterValidator(_no_fraction)]
"""A share in percent that is hardly ever below one."""

Price = Annotated[float, Field(ge=0, le=1e6)]


class RatesEntry(FileModel):
    """What work and new wood cost."""

    hour: Price = Field(description="an hour's work; 0 if it costs nothing")
    board_foot: Price = Field(description="a board foot of new wood that by_wood does not name")
    by_wood: dict[Text, Price] = Field(default_factory=dict, description="a board foot, by wood")
    currency: Text | None = Field(None, description="what prices are in, as 'crowns'")


Effort = Annotated[float, Field(ge=0, le=1000)]
"""Minutes or hours."""


class KindEntry(FileModel):
    """Figures of one's own for a way of parting joints, or for one kind of fastener in it."""

    minutes: Effort | None = Field(None, description="a fastener that comes as it should")
    stubborn_minutes: Effort | None = Field(
        None, description="one that breaks or spins; for a cut, to punch the rod out"
    )
    success: PlainShare | None = Field(
        None, description="of those, what comes out all the same, in %"
    )


class WayEntry(KindEntry):
    """Figures of one's own for a way of parting joints."""

    fixed_hours: Effort | None = Field(None, description="to set up, whatever the number")
    by_fastener: dict[Fastener, KindEntry] = Field(
        default_factory=dict, description="the first three for one kind of fastener"
    )


class MemberEntry(FileModel):
    """Pieces of the old boat that are much alike."""

    member: Name = Field(description="name, unique; the usual ones bring their usual joints")
    species: Name = Field(description="wood")
    count: int = Field(1, ge=1, le=5000, description="how many pieces")
    length_mm: Size = Field(description="usual length of a piece")
    width_mm: Size = Field(description="usual width")
    thickness_mm: Size = Field(description="usual thickness")
    sound: PlainShare = Field(100.0, gt=0, description="sound wood, in % of the length")
    sweep_mm: Distance = Field(0.0, description="how far a piece bows edgewise over its length")
    rests_on: Texts | None = Field(None, description="members that carry it and come off after it")
    holds_her: bool | None = Field(None, description="whether it holds her up or in shape")
    hazards: Texts = Field((), description="what can hurt: old paint, lead, asbestos")


class StateEntry(FileModel):
    """What becomes of fasteners that somebody tries to draw, in %; together 100."""

    draws: Share
    breaks: Share = 0.0
    spins: Share = 0.0


class JointEntry(FileModel):
    """Fasteners that go through one member into another."""

    of: Name = Field(description="member that is pierced first")
    to: Name = Field(description="member that holds")
    fastener: Fastener | None = Field(None, description="what holds it; the usual if not given")
    diameter_mm: Size | None = Field(None, description="of the shank; the usual if not given")
    spacing_mm: Size | None = Field(None, description="from one place to the next along 'of'")
    each: int | None = Field(None, ge=1, le=5000, description="in place of spacing: to a piece")
    rows: int | None = Field(None, ge=1, le=20, description="side by side at each place")
    from_edge_mm: Distance | None = Field(None, description="outer rows from the edge")
    bung_mm: Distance | None = Field(None, description="counterbore over the heads, 0 for none")
    state: StateEntry | None = Field(None, description="what is usual of the fastener if not given")
    glued: bool = Field(False, description="whether no blade parts it")
    at_ends: bool | None = Field(
        None, description="whether they stand at a piece's ends alone, half of 'each' at either"
    )
    open_behind: bool | None = Field(None, description="whether points can be got at from inside")
    none: bool = Field(False, description="there is no such joint, usual as it may be")


class OldBoatEntry(FileModel):
    """An old boat, to be judged before she is taken apart."""

    version: Literal[1] = Field(description="form of this file: 1")
    name: Name = Field(description="what she is called")
    unit: Unit = Field(description="what a bare number means: mm, cm, m, in or ft")
    build: Build = Field(Build.OTHER, description="carvel or clinker, for the usual joints")
    frame_spacing_mm: Size | None = Field(None, description="middle to middle")
    beam_spacing_mm: Size | None = Field(None, description="middle to middle")
    rates: RatesEntry
    ways: dict[Way, WayEntry] = Field(default_factory=dict, description="figures of one's own")
    species: Texts = Field((), description="woods of hers that the tables do not know")
    members: tuple[dict[str, Any], ...]
    joints: tuple[dict[str, Any], ...] = ()
