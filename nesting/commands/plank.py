"""``plank``: how long new planks must be for the parts that the last plan left over."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

from nesting.commands.shared import (
    ALL_PLACED,
    plan_of,
    print_cautions,
    read_told,
    say,
    show,
    work_shown,
)
from nesting.errors import LengthError, OptionError

if TYPE_CHECKING:
    from nesting.accounts.new_timber import NewPlank, SortedOut
    from nesting.project import Project


def plank(given: argparse.Namespace) -> int:
    """Sort the parts left over, say which are for no such plank, search the planks, report."""
    from nesting.accounts.buy_words import notes_before, plank_data, too_narrow
    from nesting.accounts.new_timber import sorted_out
    from nesting.need import Misfit

    project = read_told(given)
    width = _width(given, project)
    left_over = plan_of(given, project).unplaced
    unplaced = tuple(left for left in left_over if left.reason is not Misfit.LATER)
    found = sorted_out(unplaced, project.rules, width_mm=width)
    if found.too_wide and len(found.too_wide) == len(unplaced):
        raise OptionError(too_narrow(found.too_wide, given.width, project.unit))
    for note in [] if given.quiet or given.json else notes_before(found, project.unit):
        say(f"note: {note}", sys.stderr)
    planks = _planks(given, project, found, width)
    if given.json:
        say(json.dumps(plank_data(planks, found), indent=1))
    elif not unplaced:
        say("no part is left over: nothing to buy")
    else:
        from nesting.console.buy_tables import plank_report

        show(plank_report(planks, found, project.unit))
    if not given.json:
        print_cautions()
    return ALL_PLACED


def _width(given: argparse.Namespace, project: Project) -> float:
    """Return the plank's width in mm."""
    from nesting.likely_sizes import WIDEST_MM
    from nesting.stock.board import SMALLEST_MM
    from nesting.units import parse_length

    try:
        width = parse_length(given.width, project.unit)
    except LengthError as error:
        raise OptionError(f"--width: {error}") from error
    if width <= 0:
        raise OptionError(f"--width {given.width} is not over 0: give a plank's width, as 8 in")
    if width < SMALLEST_MM:
        raise OptionError(
            f"--width {given.width} is {width:g} mm, must be {SMALLEST_MM:g} mm or more: is the "
            "unit right?"
        )
    if width > WIDEST_MM:
        raise OptionError(
            f"--width {given.width} is {width:g} mm, and no plank or sheet is sold wider than "
            f"{WIDEST_MM:g} mm: is the unit right? A bare number is read as {project.unit}: "
            "write another unit behind it"
        )
    return width


def _planks(
    given: argparse.Namespace, project: Project, found: SortedOut, width_mm: float
) -> Sequence[NewPlank]:
    """Return the shortest plank found for each wood and thickness, saying how far it is."""
    from nesting.accounts.buy_words import plank_step
    from nesting.accounts.new_timber import new_planks
    from nesting.engine.stop import MaxSeconds

    groups = list(found.groups)
    with work_shown(given) as tell:
        return new_planks(
            found.groups, project.rules, width_mm=width_mm,
            stop=lambda: MaxSeconds(given.seconds), workers=os.cpu_count() or 1,
            on_progress=lambda *at: tell(plank_step(groups, *at, unit=project.unit)),
        )  # fmt: skip
