"""Commands that look and write no plan: ``check``, ``remeasure``, ``strength`` and the lists."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING

from nesting.commands.again import fixed_remarks
from nesting.commands.shared import (
    ALL_PLACED,
    as_planned,
    by_book_now,
    folder_of,
    plan_of,
    read,
    read_told,
    say,
    show,
    told,
    work_shown,
)
from nesting.errors import RefereeError
from nesting.words import counted

if TYPE_CHECKING:
    from parts.registry import Families


def check(given: argparse.Namespace) -> int:
    """Say what a project holds, and what in it is doubtful."""
    from nesting.remarks import GIVEN, SAID, remarks
    from nesting.written_measures import format_area

    project = read(given)
    keep_outs = sum(len(board.keep_outs) for board in project.stock)
    copies = sum(need.quantity for need in project.needs)
    area = format_area(sum(board.area_mm2 for board in project.stock), project.unit)
    now = by_book_now(given, project)
    found = sorted({*remarks(project, SAID), *remarks(now, GIVEN), *fixed_remarks(given, now)})
    to_look_at = f"It can be nested; {counted(len(found), 'thing')} to look at:"
    say(
        f"{project.name}: {counted(len(project.stock), 'board')} ({area}) with "
        f"{counted(keep_outs, 'keep-out')}; "
        f"{counted(len(project.needs), 'line of parts', 'lines of parts')}, "
        f"{counted(copies, 'piece')}. {to_look_at if found else 'Nothing is wrong with the file.'}"
    )
    for remark in found:
        say(f"note: {remark}")
    return ALL_PLACED


def remeasure(given: argparse.Namespace) -> int:
    """Read the written sheets back; refuse them if anything differs from plan and rules."""
    from nesting.read_back.remeasure import remeasured
    from nesting.referee.fault import QUANTITY

    project = as_planned(given, read_told(given))
    with work_shown(given) as tell:
        count, faults = remeasured(project, folder_of(given, project), on_progress=tell)
    for fault in faults:
        say(told(fault, given))
    sheets = counted(count, "sheet")
    if faults:
        found = [f"{counted(len(faults), 'fault')} in {sheets}: do not cut from them"]
        if any(fault.rule == QUANTITY for fault in faults):
            found.append(
                "the plan has another number of pieces than the parts list asks for: if that was "
                "changed since, nest again (--again keeps what may stay)"
            )
        raise RefereeError(found)
    say(f"{sheets} read back: every number agrees with the plan, every rule is kept")
    return ALL_PLACED


def strength(given: argparse.Namespace) -> int:
    """Say what holes, cross grain and drying do to the pieces of the last plan."""
    from nesting.accounts.movement import movements
    from nesting.accounts.strength import strength_of
    from nesting.console import strength_report
    from parts.wood.moisture import INSTALLED_PERCENT

    project = read(given)
    plan = plan_of(given, project)
    pieces = strength_of(plan, project.rules)
    to_percent = INSTALLED_PERCENT if given.moisture is None else given.moisture
    moved = movements(plan, to_percent)
    show(strength_report(pieces, moved, to_percent, project.unit))
    return ALL_PLACED


def families(given: argparse.Namespace) -> int:
    """List the part families, or describe one."""
    from parts.describe import family_list, family_page

    known = _families(given)
    say(family_page(given.family, known) if given.family else family_list(known))
    return ALL_PLACED


def _families(given: argparse.Namespace) -> Families | None:
    """Return all families of the project that is named, None if none is."""
    if given.project is None:
        return None
    from nesting.consent import is_allowed
    from nesting.project.own_families import families_of

    return families_of(given.project, is_allowed)


def schema(given: argparse.Namespace) -> int:
    """Print the JSON Schema of project files, or write it into a file."""
    from nesting.project.schema import project_schema

    text = json.dumps(project_schema(_families(given)), indent=1) + "\n"
    if given.output is None:
        say(text.rstrip("\n"))
        return ALL_PLACED
    from nesting.sheets.whole_file import write_whole

    write_whole(given.output, text.encode(), overwrite=given.overwrite)
    say(f"wrote {given.output}")
    return ALL_PLACED
