"""``loft``: lay a table of offsets down, say what is odd in it, and write lines and book."""

from __future__ import annotations

import argparse
import math
import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from nesting.commands.shared import ALL_PLACED, folder_in, folder_of, read, say, show, work_shown
from nesting.errors import LengthError, OptionError, ShapeError
from nesting.folders.file_names import stem_of
from nesting.shop.kinds import Paper

if TYPE_CHECKING:
    from nesting.loft.outputs import Lofted
    from parts.lines import Hull
    from parts.lines.heeled import Heeled
    from parts.lines.hydrostatics import Hydrostatics
    from parts.lines.mould_book import Upright
    from parts.lines.trimmed import Trimmed

MOST_ACROSS = 3
"""Waterlines side by side: with what each row is, they have room on eighty columns."""

MOST_STEPS = 40
"""More waterlines, heels or trims in a range are a slip of the pen."""


def loft(given: argparse.Namespace) -> int:
    """Fair a table, say what is odd and what fairing corrects, how she floats; write it all."""
    from nesting.folders.whole_folder import require_free
    from nesting.loft.outputs import FILES, FOLDER, write_loft
    from nesting.work import Step

    with work_shown(given) as tell:
        tell(Step("fairing the lines"))
        hull, frames, folder, paper = _subject(given)
        given.unit = hull.table.unit
        folder = folder_in(folder, FOLDER)
        require_free([folder / name for name in FILES], overwrite=given.overwrite)
        tell(Step("reckoning how she floats"))
        lofted = _lofted(given, hull, frames)
    _report(lofted)
    with work_shown(given) as tell:
        files = write_loft(
            lofted, folder, dxf_version=given.dxf or "R2010", paper=paper,
            overwrite=given.overwrite, on_progress=tell,
        )  # fmt: skip
    say(f"wrote {', '.join(path.name for path in files)} into {folder}")
    return ALL_PLACED


def _subject(given: argparse.Namespace) -> tuple[Hull, tuple[Upright, ...], Path, Paper]:
    """Return the hull, where her frames stand if that is known, the folder and the paper."""
    from parts.lines import hull_of, read_hull
    from parts.lines.mould_book import Upright

    if (given.table is None) == (given.project is None):
        both = "both are given" if given.table else "neither is given"
        raise OptionError(
            f"loft takes a table of offsets, or --project and a project whose boat: names one; "
            f"{both}"
        )
    frames: tuple[Upright, ...] = ()
    paper = Paper(given.paper or Paper.A4)
    if given.project is not None:
        project = read(given)
        if project.boat is None:
            raise OptionError(
                f"{project.path} names no boat: give her table of offsets under boat:, or give the "
                "table itself in place of --project"
            )
        hull, folder = project.boat.hull, folder_of(given, project)
        paper = Paper(given.paper or project.paper)
        places = project.boat.frames_between(*hull.ends)
        frames = tuple(Upright(f"frame {number}", x) for number, x in places)
    else:
        hull = read_hull(given.table)
        folder = given.output or Path("output") / stem_of(given.table.stem)
    if given.keep_odd and not hull.table.keeps_odd:
        hull = hull_of(replace(hull.table, keeps_odd=True))
    return hull, frames, folder, paper


def _lofted(given: argparse.Namespace, hull: Hull, frames: tuple[Upright, ...]) -> Lofted:
    from nesting.loft.floating_words import Water
    from nesting.loft.outputs import Lofted
    from parts.lines.faired_figures import faired_figures
    from parts.lines.hydrostatics import FRESH_KG_M3, SALT_KG_M3

    density = {"salt": SALT_KG_M3, "fresh": FRESH_KG_M3}[given.water]
    floating = _floating(given, hull)
    return Lofted(
        hull,
        faired_figures(hull),
        Water(given.water, density),
        floating,
        tuple(_heeled(given, hull, one) for one in floating),
        tuple(_trimmed(given, hull, one) for one in floating),
        tuple(_both(given, hull, one) for one in floating),
        frames,
    )


def _floating(given: argparse.Namespace, hull: Hull) -> tuple[Hydrostatics, ...]:
    """Return how she floats at every draught asked for, else at every waterline of the table."""
    from parts.lines.hydrostatics import hydrostatics, lowest_rabbet, lowest_sheer
    from parts.lines.table import LineKind

    lowest = lowest_rabbet(hull)
    if given.draught is None:
        lines = hull.table.of_kind(LineKind.WATERLINE)
        levels = sorted({line.origin[1] for line in lines})
        top = lowest_sheer(hull)[1]
        return tuple(hydrostatics(hull, z) for z in levels if lowest + 1.0 < z <= top)
    try:
        return tuple(
            hydrostatics(hull, lowest + mm) for mm in _lengths("--draught", given.draught, hull)
        )
    except ShapeError as error:
        raise OptionError(f"--draught {given.draught}: {error}") from error


def _lengths(option: str, text: str, hull: Hull) -> list[float]:
    """Return the lengths of a range, mm."""
    from nesting.units import parse_length

    try:
        parts = [parse_length(part, hull.table.unit) for part in _range(text)]
    except LengthError as error:
        raise OptionError(f"{option}: {error}") from error
    return _steps(option, text, parts)


def _range(text: str) -> list[str]:
    """Return the texts of a value, or of ``A to B by C``."""
    match = re.fullmatch(r"(.+?)\s+to\s+(.+?)\s+by\s+(.+)", text.strip())
    return list(match.groups()) if match else [text.strip()]


def _steps(option: str, text: str, parts: list[float]) -> list[float]:
    """Return the values of a range."""
    if len(parts) == 1:
        return parts
    first, last, step = parts
    if step <= 0 or last < first or (last - first) / step > MOST_STEPS:
        raise OptionError(
            f"{option} {text!r} is no range: write the least, to, the greatest, by, the step, "
            f"{MOST_STEPS} of them at most"
        )
    return [first + n * step for n in range(int((last - first) / step + 1e-9) + 1)]


def _heels(text: str) -> list[float]:
    """Return the heels of a range, degrees."""
    try:
        parts = [float(part) for part in _range(text)]
        if not all(map(math.isfinite, parts)):
            raise ValueError(text)
    except ValueError:
        raise OptionError(
            f"--heel {text!r} is no heel: write degrees, as 15, or 0 to 30 by 10"
        ) from None
    return _steps("--heel", text, parts)


def _heeled(given: argparse.Namespace, hull: Hull, upright: Hydrostatics) -> tuple[Heeled, ...]:
    from parts.lines.heeled import heeled

    if given.heel is None:
        return ()
    try:
        return tuple(heeled(hull, upright, degrees) for degrees in _heels(given.heel))
    except ShapeError as error:
        raise OptionError(f"--heel {given.heel}: {error}") from error


def _trimmed(given: argparse.Namespace, hull: Hull, upright: Hydrostatics) -> tuple[Trimmed, ...]:
    from parts.lines.trimmed import trimmed

    if given.trim is None:
        return ()
    try:
        return tuple(trimmed(hull, upright, mm) for mm in _lengths("--trim", given.trim, hull))
    except ShapeError as error:
        raise OptionError(f"--trim {given.trim}: {error}") from error


def _both(given: argparse.Namespace, hull: Hull, upright: Hydrostatics) -> tuple[Trimmed, ...]:
    """Return how she floats at every heel of every trim, where both are given."""
    from parts.lines.trimmed import trimmed

    if given.heel is None or given.trim is None:
        return ()
    trims = [mm for mm in _lengths("--trim", given.trim, hull) if mm != 0.0]
    heels = [degrees for degrees in _heels(given.heel) if degrees > 0.0]
    try:
        return tuple(trimmed(hull, upright, mm, degrees) for mm in trims for degrees in heels)
    except ShapeError as error:
        raise OptionError(f"--heel {given.heel} --trim {given.trim}: {error}") from error


def _report(lofted: Lofted) -> None:
    """Print what is odd, what fairing corrects, and how she floats."""
    from nesting.console.bare_tables import bare_table
    from nesting.loft.floating_words import CAUTION, floating_rows
    from nesting.loft.words import PROPOSAL, correction_rows, heading, overall
    from nesting.told import told_in
    from parts.lines.faired_figures import corrections

    hull, notation = lofted.hull, lofted.notation
    say(heading(hull, lofted.figures))
    odd = (*hull.whole, *(one.finding for one in hull.odd))
    for word, findings in (("odd", odd), ("note", hull.notes)):
        for finding in findings:
            message = told_in(finding.message, hull.table.unit)
            say(f"{word}: {replace(finding, message=message)}")
    corrected = corrections(lofted.figures)
    say(f"{overall(corrected, notation)} {PROPOSAL}")
    table = bare_table(
        "What fairing corrects, but for odd figures", "station", "#from forward", "#figures",
        "#odd", "#middling", "#largest", "where",
    )  # fmt: skip
    for row in correction_rows(corrected, notation):
        table.add_row(*row)
    show(table)
    if not lofted.floating:
        return
    for first in range(0, len(lofted.floating), MOST_ACROSS):
        beside = lofted.floating[first : first + MOST_ACROSS]
        levels = [f"#{notation.text(one.level_mm)}" for one in beside]
        table = bare_table("Afloat, by the waterline's height above base", "", *levels)
        for name, texts in floating_rows(beside, notation, lofted.water):
            table.add_row(name, *texts)
        show(table)
    for one in lofted.inclined():
        table = bare_table(one.title, *(f"#{column}" for column in one.columns))
        for row in one.rows:
            table.add_row(*row)
        show(table)
    for words in lofted.how_to_read():
        say(words)
    say(CAUTION)
