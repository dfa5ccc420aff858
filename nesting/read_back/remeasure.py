"""Read a written plan back, all of it, and hold it against the project: the referee's last look.

Cuts, keep-outs, bungs and offcuts are measured from the sheets alone. Then all is reckoned and
drawn again from the project and from where the summary says that parts and offcuts lie; every
entity of every file and every figure of the summary must be what comes out.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from shapely.geometry import Polygon, box

from nesting.accounts.account import Account, BoardAccount, account_board
from nesting.accounts.buying import buy_list
from nesting.break_down.as_data import cuts_from
from nesting.break_down.cuts import BreakDownCut
from nesting.errors import DrawingError
from nesting.folders.file_names import ENDING, PREFIX
from nesting.job import Job
from nesting.nest import CuttingPlan, Nest
from nesting.offcuts import offcut_at
from nesting.outputs import OVERVIEW, sheet_files
from nesting.plain_file import LARGEST_BYTES, plain_bytes
from nesting.read_back.drawing import check_drawing
from nesting.read_back.figures import check_summary
from nesting.read_back.sheet import check_sheet
from nesting.referee.break_down import check_break_down
from nesting.referee.check import check_plan
from nesting.referee.fault import Fault
from nesting.referee.offcuts import check_offcuts, check_scrap
from nesting.referee.wishes import check_wishes
from nesting.rules import Rules
from nesting.sheets.cut_sheet import cut_sheet
from nesting.sheets.dxf_terms import APP_ID, LAYOUT_NAME
from nesting.sheets.overview import overview
from nesting.sheets.read_back import read_back
from nesting.sheets.written import Written, read_written
from nesting.shop.kinds import Paper
from nesting.shop.makers import digests, made_files
from nesting.summary.file import read_summary
from nesting.summary.of_plan import summary
from nesting.summary.read_plan import Rectangle, kept_from, plan_from, scrap_from
from nesting.work import Step, Tell, untold


@dataclass(frozen=True)
class _Sheet:
    """What one sheet came to; no account where plan or offcuts are too wrong to draw again."""

    faults: tuple[Fault, ...]
    account: BoardAccount | None
    version: str = ""
    paper: str = ""


def remeasured(
    project: Job, folder: Path, *, on_progress: Tell = untold
) -> tuple[int, tuple[Fault, ...]]:
    """Return how many sheets a folder should hold and every fault in it.

    Raises
    ------
    OutputError
        If the summary cannot be read, or does not fit the project.
    """
    given = read_summary(folder)
    plan, stated = plan_from(given, project.needs, project.stock)
    files = sheet_files(project, plan)
    faults = (
        *check_plan(plan, project.needs, project.rules),
        *check_wishes(plan, project.wishes, plan.fixed),
    )
    unsound = {fault.board for fault in faults}
    sheets = list(_sheets(project, plan, folder, files, given, unsound, on_progress))
    accounts = [sheet.account for sheet in sheets if sheet.account is not None]
    versions = {sheet.version for sheet in sheets if sheet.version}
    papers = {sheet.paper for sheet in sheets if sheet.paper}
    found = [*faults, *_check_files(files, stated, folder)]
    found += [fault for sheet in sheets for fault in sheet.faults]
    if len(accounts) == len(plan.nests):
        on_progress(Step("reading the overview and the summary back"))
        account = Account(tuple(accounts), buy_list(plan.unplaced, project.rules))
        found += _check_overview(project, plan, account, folder / OVERVIEW, given, versions, papers)
        again = summary(
            plan, account, project_name=project.name, seed=_seed(given), files=files,
            made=digests(folder, _plain_files(folder)),
            book_step=project.book_step,
        )  # fmt: skip
        found += check_summary(given, again)
    return len(plan.nests), tuple(found)


def _plain_files(folder: Path) -> list[str]:
    """Return the files made beside the sheets; a folder or a pipe of such a name is none."""
    return [name for name in made_files(folder) if (folder / name).is_file()]


def _seed(given: Mapping[str, Any]) -> int:
    """Return the seed that a summary states; 0 where it is none."""
    try:
        return int(str(given.get("seed", 0)))
    except ValueError:
        return 0


def _check_files(
    files: Mapping[str, str], stated: Mapping[str, str], folder: Path
) -> Iterator[Fault]:
    """Check that the folder holds each sheet once, the overview, and no sheet of another plan."""
    for board, name in files.items():
        if stated.get(board) != name:
            yield Fault("files", board, f"the summary calls its sheet {stated.get(board)!r}")
    wanted = {*files.values(), OVERVIEW}
    there = {path.name for path in folder.iterdir() if path.is_file()}
    for name in sorted(wanted - there):
        yield Fault("files", "", f"{name} is not there")
    for name in sorted(there - wanted):
        if name.lower().endswith(ENDING) and _is_sheet(folder / name):
            yield Fault("files", "", f"{name} is a sheet of another plan: take it away")


_TAGGED = re.compile(rb"1001\r?\n\s*" + APP_ID.encode())


def _is_sheet(path: Path) -> bool:
    """Return whether a file passes for a sheet of ours, by its name or by what it holds."""
    if path.name.lower().startswith(PREFIX):
        return True
    try:
        return bool(_TAGGED.search(plain_bytes(path, LARGEST_BYTES)))
    except OSError:
        return False


def _sheets(
    project: Job,
    plan: CuttingPlan,
    folder: Path,
    files: Mapping[str, str],
    given: Mapping[str, Any],
    unsound: set[str],
    tell: Tell,
) -> Iterator[_Sheet]:
    """Yield what each sheet comes to, telling how many are read."""
    kept, scrap, cuts = kept_from(given), scrap_from(given), cuts_from(given)
    what, count = "reading cut sheets back", len(plan.nests)
    tell(Step(what, 0, count))
    for number, nest in enumerate(plan.nests, start=1):
        name = nest.board.name
        path = folder / files[name]
        account = None
        if name not in unsound:
            account = _account(nest, kept[name], cuts[name], project.rules)
        yield _sheet(project, nest, path, (kept[name], cuts[name]), scrap[name], account)
        tell(Step(what, number, count))


def _account(
    nest: Nest, kept: Sequence[Rectangle], cuts: Sequence[BreakDownCut], rules: Rules
) -> BoardAccount | None:
    """Return the account of a board with what is stated of it, None if that may not be."""
    shapes = _shapes(kept)
    if check_offcuts(shapes, nest, rules) or check_break_down(cuts, shapes, nest, rules):
        return None
    offcuts = tuple(offcut_at(shape.bounds, nest.board, rules) for shape in shapes)
    return account_board(nest, rules, offcuts, cuts)


def _shapes(kept: Sequence[Rectangle]) -> list[Polygon]:
    return [box(x, y, x + length, y + width) for x, y, length, width in kept]


def _sheet(
    project: Job,
    nest: Nest,
    path: Path,
    stated: tuple[Sequence[Rectangle], Sequence[BreakDownCut]],
    scrap_percent: float,
    account: BoardAccount | None,
) -> _Sheet:
    """Return what one sheet comes to: measured first, and if it is sound held against a drawing."""
    name, rules, (kept, cuts) = nest.board.name, project.rules, stated
    if not path.is_file():
        return _Sheet((), account)
    try:
        record = read_back(path)
    except DrawingError as error:
        return _Sheet((Fault("sheet", name, str(error)),), account)
    faults = (
        *check_sheet(record, nest, rules, _shapes(kept), cuts),
        *check_offcuts(record.offcuts, nest, rules),
        *check_break_down(record.break_down, record.offcuts, nest, rules),
        *check_scrap(record.offcuts, nest, scrap_percent),
    )
    if not faults and account is not None:
        paper = _paper_of(record.written)
        drawing = cut_sheet(
            nest, account, rules, project_name=project.name, unit=project.unit, paper=paper
        )
        faults = check_drawing(record.written, drawing, name)
    version = str(record.written.header.get("$ACADVER"))
    return _Sheet(faults, account, version, _paper_said(record.written))


def _paper_said(written: Written) -> str:
    """Return the paper that a sheet is laid on; nothing where it is laid on none."""
    return str(written.layout[0]).removeprefix(LAYOUT_NAME) if written.layout else ""


def _paper_of(written: Written) -> Paper:
    """Return the paper that a sheet is laid on; one of ours whatever it says, to be compared."""
    said = _paper_said(written)
    return Paper(said) if said in list(Paper) else Paper.A4


def _check_overview(
    project: Job,
    plan: CuttingPlan,
    account: Account,
    path: Path,
    given: Mapping[str, Any],
    versions: set[str],
    papers: set[str],
) -> Iterator[Fault]:
    if not path.is_file():
        return
    try:
        written = read_written(path)
    except DrawingError as error:
        yield Fault("overview", "", str(error))
        return
    drawing = overview(
        plan,
        account.boards,
        project_name=project.name,
        unit=project.unit,
        seed=_seed(given),
    )
    yield from check_drawing(written, drawing)
    found = sorted(papers)
    if len(found) > 1:
        yield Fault("files", "", f"they are laid on {' and '.join(found)}, must all be on one")
    found = sorted({*versions, str(written.header.get("$ACADVER"))})
    if len(found) > 1:
        yield Fault("files", "", f"they are DXF {' and '.join(found)}, must all be of one version")
