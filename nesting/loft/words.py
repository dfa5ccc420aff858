"""What the loft says in words and figures: of odd figures, corrections, battens and the book."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from nesting.sheets.batten_pages import Strip
from nesting.sheets.book_pages import BookTable
from nesting.units import MM_PER_INCH, Unit
from nesting.words import counted
from parts.lines import Hull
from parts.lines.battens import Batten
from parts.lines.faired_figures import Corrected, FairedFigure
from parts.lines.mould_book import Book
from parts.lines.notation import written_like

PROPOSAL = "A corrected figure is a proposal: look along the batten before you change the table."


@dataclass(frozen=True)
class Notation:
    """How a table writes its figures: as one of them, a bare number in its unit."""

    sample: str
    unit: Unit

    def text(self, mm: float | None) -> str:
        """Return a length as the table writes it; a dash for none."""
        if mm is None:
            return "-"
        text = written_like(mm, self.sample, self.unit)
        # What rounds to nothing has no sign.
        return text if any(letter in "123456789" for letter in text) else text.lstrip("-")

    @property
    def in_words(self) -> str:
        """Say how to read it."""
        if self.sample.count("-") > 1:
            return "feet-inches-eighths, + a sixteenth more"
        return f"as {self.sample}" if not _is_bare(self.sample) else f"in {self.unit.value}"


def _is_bare(text: str) -> bool:
    return text.replace(".", "").isdigit()


def notation_of(hull: Hull) -> Notation:
    """Return how a hull's table writes its figures."""
    written = [one.written for line in hull.table.lines for one in line.offsets if one is not None]
    # Of 0-9-2 and 0-11-2 the first shows that single figures are written without a nought.
    sample = min(written, key=lambda text: (-text.count("-"), len(text))) if written else "0"
    if sample.count("-") < 2:
        sample = max(written, key=len, default="0")
    return Notation(sample, hull.table.unit)


# ---- odd figures and corrections ----------------------------------------------------------------


def heading(hull: Hull, figures: Sequence[FairedFigure]) -> str:
    """Return what the table is, and whether anything in it is odd."""
    table = hull.table
    name = table.name or table.file
    count = len(hull.odd)
    figures_odd = f"{counted(count, 'figure')} {'is' if count == 1 else 'are'} odd"
    if hull.whole:
        found = f"Something is wrong as a whole{f', and {figures_odd}' if count else ''}:"
    else:
        found = f"{figures_odd}:" if count else "No figure is odd."
    return (
        f"{name}: {counted(len(table.stations), 'station')}, "
        f"{counted(len(table.lines), 'line')}, {counted(len(figures), 'figure')}, to the "
        f"{table.face}. {found}"
    )


def correction_rows(
    corrected: Sequence[Corrected], notation: Notation
) -> Iterator[tuple[str, ...]]:
    """Yield a row a station: where it is, figures, odd ones, middling and largest correction."""
    for one in corrected:
        largest = one.largest
        yield (
            one.station.name,
            notation.text(one.station.x_mm),
            str(one.count),
            str(one.odd) if one.odd else "",
            _small(one.middling_mm, notation.unit),
            _small(largest.corrected_mm, notation.unit) if largest else "",
            largest.line.title if largest else "",
        )


def _small(mm: float, unit: Unit) -> str:
    """Return a correction: in inches to the hundredth, or in mm to a tenth."""
    return f"{mm / MM_PER_INCH:.2f} in" if unit.is_imperial else f"{mm:.1f} mm"


def overall(corrected: Sequence[Corrected], notation: Notation) -> str:
    """Return the largest correction of all, and the middling one of the middling station."""
    worst = max((one.largest for one in corrected if one.largest), key=lambda f: f.corrected_mm)
    middling = sorted(one.middling_mm for one in corrected)[len(corrected) // 2]
    return (
        f"Largest correction {_small(worst.corrected_mm, notation.unit)} (station "
        f"{worst.station.name}, {worst.line.title}), middling {_small(middling, notation.unit)}."
    )


# ---- battens and book ---------------------------------------------------------------------------


def strip_of(batten: Batten, notation: Notation) -> Strip:
    """Return a long line as a strip of the batten pages."""
    at, least = batten.least_radius
    place, radius = notation.text(at), _large(least, notation.unit)
    # Of a line that is nearly straight no radius is told: none would swing it.
    bends = (
        f"bends most {place} from forward, to a radius of {radius}"
        if least < STRAIGHT_MM
        else "nearly straight"
    )
    turns = [notation.text(place) for place in batten.turns]
    note = f"{bends}; {'turns at ' + ', '.join(turns) if turns else 'does not turn'}"
    return Strip(
        batten.title,
        note,
        tuple(zip(batten.x.tolist(), batten.value.tolist(), strict=True)),
        tuple(zip(batten.x.tolist(), batten.bend.tolist(), strict=True)),
        tuple((one.station.x_mm, one.offset.mm, one.is_odd) for one in batten.figures),
    )


def _large(mm: float, unit: Unit) -> str:
    """Return a radius to three figures, in feet or metres."""
    return f"{mm / Unit.FOOT.mm:.3g} ft" if unit.is_imperial else f"{mm / 1000.0:.3g} m"


STRAIGHT_MM = 1e6
"""A line that bends to no smaller radius is called straight."""


def figure_text(figure: float | None, notation: Notation, *, is_angle: bool) -> str:
    """Return a figure of the book: a length as the table writes it, or degrees to a tenth."""
    if figure is None:
        return "-"
    if not is_angle:
        return notation.text(figure)
    return f"{math.floor(figure * 10 + 0.5) / 10 + 0.0:.1f}"


def book_table(book: Book, notation: Notation, name: str) -> BookTable:
    """Return a book as a table of pages: a column a section."""
    rows = list[tuple[str, tuple[str, ...]]]()
    rows.append(("from forward", tuple(notation.text(place.x_mm) for place in book.sections)))
    before = ""
    for row in book.rows:
        if row.heading != before:
            rows.append((row.heading, ()))
            before = row.heading
        texts = (figure_text(one, notation, is_angle=row.is_angle) for one in row.figures)
        rows.append((row.name, tuple(texts)))
    notes = (
        f"To the {book.face}; lengths {notation.in_words}; heights above the base line.",
        "Bevels off square, the gauge held square to the edge; below 0 she draws in going forward.",
    )
    columns = tuple(place.name.removeprefix(f"{book.kind} ") for place in book.sections)
    return BookTable(f"{name}: the mould loft's book, {book.kind}s", notes, columns, tuple(rows))


def book_rows(tables: Sequence[BookTable]) -> Iterator[list[str]]:
    """Yield the rows of tables as a spreadsheet has them."""
    for table in tables:
        yield [table.title]
        yield from ([note] for note in table.notes)
        yield ["", *table.columns]
        for name, cells in table.rows:
            yield [name, *cells]
        yield []
