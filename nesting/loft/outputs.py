"""Write what the loft makes of a table, all files at once: lines, fair figures, battens, book."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from nesting.folders.whole_folder import replaced_whole, require_free
from nesting.loft.floating_words import (
    ARM,
    BOTH,
    CAUTION,
    TRIM,
    Inclined,
    Water,
    floating_rows,
    inclined_tables,
)
from nesting.loft.words import (
    Notation,
    book_rows,
    book_table,
    notation_of,
    overall,
    strip_of,
)
from nesting.sheets.batten_pages import batten_pages
from nesting.sheets.book_pages import book_pages
from nesting.sheets.drawing import Drawing
from nesting.sheets.dxf import write_dxf
from nesting.sheets.dxf_terms import Version
from nesting.sheets.loft_plan import loft_plan
from nesting.sheets.pdf import write_pdf
from nesting.sheets.svg import write_svg
from nesting.sheets.whole_file import write_whole
from nesting.shop.kinds import Paper
from nesting.spreadsheet import spreadsheet
from nesting.work import Step, Tell, untold
from parts.lines import Hull
from parts.lines.battens import battens
from parts.lines.faired_figures import FairedFigure, corrections, faired_table
from parts.lines.heeled import Heeled
from parts.lines.hydrostatics import Hydrostatics
from parts.lines.mould_book import Book, Upright, book_of
from parts.lines.table import Face
from parts.lines.trimmed import Trimmed
from parts.lines.views import views

FOLDER = "loft"
"""Within the project's folder, beside its cut sheets."""

FILES = (
    "lines.dxf", "lines.svg", "lines.pdf", "faired.csv", "battens.pdf", "hydrostatics.csv",
    "book.csv", "book.pdf",
)  # fmt: skip


@dataclass(frozen=True)
class Lofted:
    """All that is laid down of one hull.

    Attributes
    ----------
    frames
        Where her frames stand, if a project says.
    floating, heeled, trimmed, both
        At each waterline, and what she is heeled, trimmed, and heeled at a trim there.
    """

    hull: Hull
    figures: tuple[FairedFigure, ...]
    water: Water
    floating: tuple[Hydrostatics, ...] = ()
    heeled: tuple[tuple[Heeled, ...], ...] = ()
    trimmed: tuple[tuple[Trimmed, ...], ...] = ()
    both: tuple[tuple[Trimmed, ...], ...] = ()
    frames: tuple[Upright, ...] = ()

    @property
    def name(self) -> str:
        """What she is called."""
        return self.hull.table.name or Path(self.hull.table.file).stem

    @property
    def notation(self) -> Notation:
        """How her table writes its figures."""
        return notation_of(self.hull)

    def inclined(self) -> tuple[Inclined, ...]:
        """Return the tables of how she floats heeled and trimmed."""
        return tuple(
            inclined_tables(self.floating, self.heeled, self.trimmed, self.both, self.notation)
        )

    def how_to_read(self) -> tuple[str, ...]:
        """Return what the figures of heels and of trims mean, if there are any."""
        said = ((ARM, self.heeled), (TRIM, self.trimmed), (BOTH, self.both))
        return tuple(words for words, found in said if any(found))

    def books(self) -> tuple[Book, ...]:
        """Return the mould loft's book: of her stations, and of her frames if they are known."""
        low, high = self.hull.ends
        table = self.hull.table
        stations = [
            Upright(f"station {one.name}", one.x_mm)
            for one in table.stations
            if low - 1e-6 <= one.x_mm <= high + 1e-6
        ]
        found = [book_of(self.hull, "station", stations, table.face)]
        if self.frames:
            found.append(book_of(self.hull, "frame", self.frames, Face.INSIDE))
        return tuple(found)


def write_loft(
    lofted: Lofted,
    folder: Path,
    *,
    dxf_version: Version = "R2010",
    paper: Paper = Paper.A4,
    overwrite: bool = False,
    on_progress: Tell = untold,
) -> tuple[Path, ...]:
    """Write everything into a folder, all of it or nothing, and return the files.

    Raises
    ------
    OutputError
        If a file is there and may not be overwritten, or the folder cannot be written.
    """
    paths = [folder / name for name in FILES]
    require_free(paths, overwrite=overwrite)
    notation = lofted.notation
    with replaced_whole(folder) as fresh:
        on_progress(Step("drawing the lines"))
        drawing = lines_drawing(lofted, paper)
        write_dxf(drawing, fresh / "lines.dxf", version=dxf_version)
        write_svg(drawing, fresh / "lines.svg")
        write_pdf([drawing], fresh / "lines.pdf")
        write_whole(fresh / "faired.csv", faired_table(lofted.hull, lofted.figures).encode())
        on_progress(Step("looking along the battens"))
        write_pdf(batten_drawings(lofted, paper), fresh / "battens.pdf")
        write_whole(fresh / "hydrostatics.csv", spreadsheet(hydrostatics_rows(lofted)))
        on_progress(Step("writing the book"))
        tables = [book_table(book, notation, lofted.name) for book in lofted.books()]
        write_whole(fresh / "book.csv", spreadsheet(book_rows(tables)))
        write_pdf(book_pages(tables, paper), fresh / "book.pdf")
    return tuple(paths)


def lines_drawing(lofted: Lofted, paper: Paper) -> Drawing:
    """Return the lines drawing, on a larger paper than the shop's where she is too small there."""
    hull, drawn = lofted.hull, views(lofted.hull)
    return loft_plan(
        drawn.body,
        drawn.profile,
        drawn.half_breadth,
        name=lofted.name,
        paper=paper,
        notes=(
            f"To the {hull.table.face}; figures {lofted.notation.in_words}.",
            overall(corrections(lofted.figures), lofted.notation),
        ),
    )


def batten_drawings(lofted: Lofted, paper: Paper) -> tuple[Drawing, ...]:
    """Return the pages of the battens."""
    hull = lofted.hull
    strips = [strip_of(batten, lofted.notation) for batten in battens(hull, lofted.figures)]
    stations = [(station.name, station.x_mm) for station in hull.table.stations]
    return batten_pages(strips, stations, hull.ends, name=lofted.name, paper=paper)


def hydrostatics_rows(lofted: Lofted) -> Iterable[Sequence[str]]:
    """Yield the hydrostatics as a spreadsheet has them."""
    notation, found = lofted.notation, lofted.floating
    yield [CAUTION]
    yield [f"Lengths {notation.in_words}; heights above the base line.", *lofted.how_to_read()]
    yield ["waterline above base", *(notation.text(one.level_mm) for one in found)]
    for name, texts in floating_rows(found, notation, lofted.water):
        yield [name, *texts]
    for table in lofted.inclined():
        yield []
        yield [table.title]
        yield table.columns
        yield from table.rows
