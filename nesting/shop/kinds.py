"""The outputs that may be asked for beside the cut sheets, their files, and sizes of paper."""

from __future__ import annotations

import re
from collections.abc import Iterable
from enum import StrEnum

from nesting.errors import ShapeError
from nesting.units import MM_PER_INCH
from nesting.unseen import quoted
from nesting.words import counted


class Output(StrEnum):
    """What is written beside cut sheets, overview and summary."""

    PRINT = "print"
    """All sheets as one PDF, to be printed and read at the bench."""
    PAGE = "page"
    """The plan as one HTML file, for a browser."""
    LISTS = "lists"
    """Parts, boards, bungs, offcuts and what to buy, as PDF and CSV."""
    PATTERNS = "patterns"
    """Every part at full size, on tiled pages and on a roll."""
    MACHINE = "machine"
    """The cuts alone, for a machine, a DXF a board."""
    CHANGES = "changes"
    """What differs from the last plan, drawn; where there is none in view, nothing."""


NOTHING = "nothing"
"""What is said in place of outputs where none is wanted."""

USUAL_OUTPUTS: tuple[Output, ...] = (Output.PRINT, Output.PAGE, Output.LISTS)
"""What is written if nothing else is asked for: what a shop needs."""

FILES = {
    Output.PRINT: r"sheets\.pdf",
    Output.PAGE: r"page\.html",
    Output.LISTS: r"lists\.pdf|list-[a-z-]+\.csv",
    Output.PATTERNS: r"patterns\.pdf|pattern-[^/\\]+\.(pdf|svg|dxf)",
    Output.CHANGES: r"changes\.(pdf|svg)",
    Output.MACHINE: r"machine-[^/\\]+\.dxf|machine-corners\.csv",
}
"""Names of the files of each output: nothing else in a folder is taken for one of ours."""


MARGIN_MM = 10.0
"""White round the frame of a page: what printers leave free, and a hand's grip (common practice, no
source)."""


class Paper(StrEnum):
    """Sizes of paper (ISO 216 for A4 and A3; ANSI/ASME Y14.1 for the others, from memory)."""

    A4 = "A4"
    A3 = "A3"
    LETTER = "letter"
    TABLOID = "tabloid"

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height, upright."""
        return SIZES_MM[self]

    @property
    def lying_mm(self) -> tuple[float, float]:
        """Width and height of the frame of a page that lies across, inside its margin."""
        short, long = self.size_mm
        return long - 2 * MARGIN_MM, short - 2 * MARGIN_MM


SIZES_MM = {
    Paper.A4: (210.0, 297.0),
    Paper.A3: (297.0, 420.0),
    Paper.LETTER: (215.9, 279.4),
    Paper.TABLOID: (279.4, 431.8),
}


USUAL_ROLL_MM = 36 * MM_PER_INCH
"""Width of the paper roll: 36 in (common practice, no source)."""

ROLLS_MM = tuple(inches * MM_PER_INCH for inches in (24, 30, 36, 42, 60))
"""Widths that rolls are sold in (common practice, no source)."""


def roll_width(mm: float) -> float:
    """Return the width of a roll of paper, if it can be one.

    Raises
    ------
    ShapeError
        If it is narrower or wider than rolls are sold; says which is next.
    """
    if not ROLLS_MM[0] <= mm <= ROLLS_MM[-1]:
        near = ROLLS_MM[0] if mm < ROLLS_MM[0] else ROLLS_MM[-1]
        raise ShapeError(
            f"a roll is {mm:g} mm wide, must be from {ROLLS_MM[0]:g} mm to {ROLLS_MM[-1]:g} mm: "
            f"the next that is sold is {near:g} mm wide"
        )
    return mm


MOST_CUTTER_MM = 50.0
"""A wider router cutter is a wrong unit."""


def cutter_across(mm: float) -> float:
    """Return the diameter of a machine's cutter, if it can be one.

    Raises
    ------
    ShapeError
        If it is not over 0, or wider than any router's.
    """
    if not 0 < mm <= MOST_CUTTER_MM:
        raise ShapeError(
            f"a cutter is {mm:g} mm across, must be over 0 mm and at most {MOST_CUTTER_MM:g} mm: "
            "is the unit right?"
        )
    return mm


def is_made(name: str, outputs: Iterable[Output] = tuple(Output)) -> bool:
    """Return whether a file's name is one that some of the outputs have.

    >>> is_made("page.html"), is_made("notes.html")
    (True, False)
    """
    return any(re.fullmatch(pattern, name) for pattern in map(FILES.__getitem__, outputs))


MANY_FILES = 3
"""More files of an output than this that differ by their ending alone are counted, not named."""


def in_words(names: Iterable[str], output: Output) -> list[str]:
    """Return the files of an output as they are told: its own ones by name, many by count.

    >>> in_words(["page.html", "list-a.csv", "lists.pdf"], Output.LISTS)
    ['lists.pdf', 'list-a.csv']
    >>> in_words([f"machine-{n}.dxf" for n in range(9)], Output.MACHINE)
    ['9 machine files']
    """
    found = [name for name in names if is_made(name, [output])]
    whole = [name for name in found if not re.match(r"machine-|list-", name)]
    rest = [name for name in found if name not in whole]
    if len(rest) > MANY_FILES:
        kind = {Output.MACHINE: "machine file", Output.LISTS: "CSV list"}[output]
        rest = [counted(len(rest), kind)]
    return [*whole, *rest]


def outputs_named(text: str) -> tuple[Output, ...]:
    """Return the outputs that a list of words names, each once and in their own order.

    Raises
    ------
    ShapeError
        If a word is none of an output.

    Examples
    --------
    >>> outputs_named("print, page") == (Output.PRINT, Output.PAGE)
    True
    """
    words = [word.strip() for word in text.split(",")]
    if words == [NOTHING]:
        return ()
    for word in words:
        if word not in list(Output):
            raise ShapeError(
                f"{quoted(word)} is none of {', '.join(Output)}; give some of them with commas "
                f"between, or {NOTHING}"
            )
    return tuple(output for output in Output if output in words)
