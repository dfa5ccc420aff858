"""The protocol every part follows, and the base of the families that come with the package.

A family is one class in one file of ``parts.families``: its fields are its parameters, each
with a unit, a range and a description, and the class docstring says what it is. The registry
finds it by its ``family`` name; a project file gives its parameters by their file names.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Protocol, runtime_checkable

from nesting.fields import FileModel
from nesting.outline import Outline
from nesting.units import Unit
from parts.position import Position

if TYPE_CHECKING:
    import cadquery as cq


@dataclass(frozen=True)
class Butted:
    """One length of a strake, among the strakes of a range that lie side by side.

    ``strake`` counts from 1 to ``of``; ``ends`` are the frames on which this length is butted,
    ``sides`` the sides of the boat that it is wanted for.
    """

    of: int
    strake: int
    ends: tuple[int, ...]
    sides: tuple[str, ...]


@runtime_checkable
class Part(Protocol):
    """One piece of the new boat."""

    def outline(self) -> Outline:
        """Return the flat shape to be sawn, with grain, bearing zones and marks."""
        ...

    def solid(self) -> cq.Workplane:
        """Return the finished piece as a solid in the outline's frame, z from the marked face.

        Bevels are cut, bolt holes are not: those are bored in place. A part that knows its
        place in the boat hangs below its marked face, down to z = -siding.
        """
        ...

    def positions(self) -> tuple[Position, ...]:
        """Return where each copy stands in the boat; empty if the part does not know."""
        ...

    def butted(self) -> Butted | None:
        """Return which length of which strake it is, if it is one whose neighbours are known."""
        ...


class Family(FileModel, ABC):
    """Base of a part family: parameters as fields, checked at birth."""

    family: ClassVar[str]
    """Name in a project file, in the trade's words: ``floor timber``."""

    caution: ClassVar[str] = ""
    """What can hurt whoever makes it, beyond what every plan tells; from ``nesting.cautions``."""
    is_plank: ClassVar[bool] = False
    """Whether it is fastened all along, so that cross grain at its edges is nothing to weigh."""

    @abstractmethod
    def outline(self) -> Outline:
        """Return the flat shape to be sawn."""

    @abstractmethod
    def solid(self) -> cq.Workplane:
        """Return the finished solid; its face on z = 0 is the marked face."""

    def positions(self) -> tuple[Position, ...]:
        """Return where each copy stands in the boat; a shape given by numbers has no place."""
        return ()

    def hands(self) -> tuple[str, ...]:
        """Return the side of the boat of each place, where they are port and starboard."""
        return ()

    def butted(self) -> Butted | None:
        """Return which length of which strake it is; None if it is none, or does not know."""
        return None

    def solid_in_place(self) -> cq.Workplane:
        """Return the finished piece bent as it is in the boat, in the part's frame.

        Only a bent plank differs from :meth:`solid`, which is flat as it is sawn.
        """
        return self.solid()

    def pieces(self) -> int:
        """Return how many of the outline one finished part is made of: lamellae, if glued up."""
        return 1

    def remarks(self, unit: Unit) -> tuple[str, ...]:
        """Return what the hand that makes it should read beside it, lengths in a unit."""
        return (self.caution,) if self.caution else ()
