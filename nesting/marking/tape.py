"""What a tape and a rule can show: figures as they are printed for marking out."""

from __future__ import annotations

from dataclasses import dataclass

from nesting.units import MM_PER_INCH, Unit

HALF_MM, SIXTY_FOURTH_MM = 0.5, MM_PER_INCH / 64
"""How far a marked line may lie from the true one: half a millimetre, or 1/64 in."""

READ_MM, READ_INCHES = 0.5, 1 / 64
"""Steps that figures are printed to, as steel rules are divided (common practice, no source): so
each is off by half of how far a line may lie off at the most."""

FINE_MM, FINE_INCHES = 0.1, 0.005
"""Where those are not enough."""

BORED_MM, BORED_INCHES = 0.05, 1 / 64
"""Steps that bits and compasses are set to."""

ROUND_MM = (1000.0, 500.0, 100.0, 50.0, 10.0, 5.0, 1.0, 0.5)
ROUND_INCHES = (12.0, 6.0, 3.0, 1.0, 1 / 2, 1 / 4, 1 / 8, 1 / 16, 1 / 32)
"""Steps of round figures, the roundest first."""

SAME_MM = 1e-6
"""A foot is 304.8 mm, and twelve times an inch is not to the last digit."""


@dataclass(frozen=True)
class Tape:
    """How lengths are read off in a unit.

    Attributes
    ----------
    within_mm
        How far a line through marked points may lie from the true one.
    step_mm
        What a figure is a multiple of.
    fine_mm
        The step of figures that must be truer still.
    round_mm
        Steps of round figures, the roundest first.
    bored_mm
        The step of diameters.
    """

    within_mm: float
    step_mm: float
    fine_mm: float
    round_mm: tuple[float, ...]
    bored_mm: float

    @classmethod
    def of(cls, unit: Unit) -> Tape:
        """Return the tape of a project's unit."""
        return _TAPES[unit.is_imperial]

    def read(self, mm: float, *, is_fine: bool = False) -> float:
        """Return a length as it is printed, mm.

        >>> Tape.of(Unit.MM).read(120.2), Tape.of(Unit.MM).read(120.4)
        (120.0, 120.5)
        """
        step = self.fine_mm if is_fine else self.step_mm
        return round(mm / step) * step + 0.0

    def bored(self, mm: float) -> float:
        """Return a diameter as it is printed, mm.

        >>> Tape.of(Unit.MM).bored(23.98), Tape.of(Unit.INCH).bored(9.5)
        (24.0, 9.525)
        """
        return round(round(mm / self.bored_mm) * self.bored_mm, 6)

    def roundest(self, low_mm: float, high_mm: float) -> float | None:
        """Return the roundest length in a range, the nearest its middle; None if there is none.

        >>> Tape.of(Unit.MM).roundest(120.0, 170.0)
        150.0
        """
        middle = (low_mm + high_mm) / 2
        for step in self.round_mm:
            found = round(middle / step) * step
            if low_mm - SAME_MM <= found <= high_mm + SAME_MM:
                return min(max(found, low_mm), high_mm)
        return None


_TAPES = {
    False: Tape(HALF_MM, READ_MM, FINE_MM, ROUND_MM, BORED_MM),
    True: Tape(
        SIXTY_FOURTH_MM,
        READ_INCHES * MM_PER_INCH,
        FINE_INCHES * MM_PER_INCH,
        tuple(step * MM_PER_INCH for step in ROUND_INCHES),
        BORED_INCHES * MM_PER_INCH,
    ),
}
