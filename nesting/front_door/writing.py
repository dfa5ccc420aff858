"""Files from a script: a plan's cut sheets written, read back and measured again."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from nesting import outputs
from nesting.errors import JobError
from nesting.front_door.judged import account_for, require_sound
from nesting.front_door.packing import Plan
from nesting.front_door.wishing import Wish, wishes_of
from nesting.given import called, made, path_given, several, text, whole, word, yes_or_no
from nesting.need import Need
from nesting.project.file_types import LONGEST_NAME
from nesting.project.letters import LAST_IN_R12
from nesting.rates import Rates
from nesting.read_back import remeasure
from nesting.referee.fault import Fault
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.summary.file import read_summary
from nesting.summary.read_plan import plan_from
from nesting.units import Unit
from nesting.unseen import quoted
from nesting.wishes import NO_WISHES, Wishes
from nesting.work import Tell, untold

Version = Literal["R2010", "R12"]
VERSIONS: tuple[Version, ...] = ("R2010", "R12")


@dataclass(frozen=True)
class ScriptJob:
    """What the sheets of a script's plan say beyond the plan: see :class:`nesting.job.Job`."""

    name: str
    unit: Unit
    rules: Rules
    stock: Sequence[Board]
    needs: Sequence[Need]
    dxf_version: Version
    rates: Rates | None = None
    wishes: Wishes = NO_WISHES
    book_step: int | None = None


def write(
    plan: Plan,
    folder: Path | str,
    *,
    name: str | None = None,
    unit: Unit | str = Unit.MM,
    dxf: Version = "R2010",
    overwrite: bool = False,
    workers: int = 1,
    on_progress: Tell | None = None,
) -> tuple[Path, ...]:
    """Write a plan's cut sheets, overview and summary, and return the files, the summary last.

    The referee is asked first, and every sheet is read back and compared; the files come into the
    folder all at once, or none does.

    Parameters
    ----------
    folder
        Made if it is not there.
    name
        What every sheet is headed with; the folder's name if not given.
    unit
        What figures on the sheets are written in: mm, cm, m, in or ft. Coordinates stay mm.
    dxf
        ``"R2010"``, or ``"R12"`` for old machines.
    overwrite
        Whether files of an earlier plan in the folder may be replaced; others never are.
    workers
        Processes that draw; worth it from some twenty boards on. With more than one a script
        needs ``if __name__ == "__main__":`` around what it does.
    on_progress
        Is told each step: what is done, and how much of it.

    Raises
    ------
    RefereeError
        If the plan breaks a rule, or a written sheet does not agree with it.
    OutputError
        If the folder cannot be written, or holds what may not be replaced.
    JobError
        If the plan is none of ``pack`` or ``read_plan``, or a value cannot be.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> from nesting import Board, Need, pack, part_from_outline, write
    >>> rung = part_from_outline([(0, 0), (500, 0), (500, 40), (0, 40)], 20)
    >>> board = Board.rectangle("D-1", 1200, 120, 26, "teak")
    >>> plan = pack([Need.of("rung", rung, ["teak"])], [board], rounds=0)
    >>> with TemporaryDirectory() as folder:
    ...     [path.name for path in write(plan, folder, name="A ladder")]
    ['board-D-1.dxf', 'overview.dxf', 'summary.json']
    """
    folder = path_given(folder, "the folder")
    called(on_progress, "on_progress")
    overwrite, workers = yes_or_no(overwrite, "overwrite"), whole(workers, "workers", least=1)
    job = _job(plan, folder, name, unit, dxf)
    require_sound(plan)
    return outputs.write_outputs(
        job, plan, account_for(plan, workers=workers), folder,
        seed=plan.seed, overwrite=overwrite, on_progress=on_progress or untold, workers=workers,
    )  # fmt: skip


def read_plan(
    folder: Path | str,
    needs: Sequence[Need],
    boards: Sequence[Board],
    rules: Rules | None = None,
    *,
    wishes: Sequence[Wish] = (),
    groups: Mapping[str, Sequence[str]] | None = None,
    stage: int | None = None,
) -> Plan:
    """Return the plan that was written into a folder.

    Parameters
    ----------
    needs, boards, rules, wishes, groups, stage
        What it was packed from: the files say where parts lie, not what they are.

    Raises
    ------
    OutputError
        If there is no summary, or it does not fit these needs and boards.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> from nesting import Board, Need, pack, part_from_outline, read_plan, write
    >>> rung = part_from_outline([(0, 0), (500, 0), (500, 40), (0, 40)], 20)
    >>> needs = [Need.of("rung", rung, ["teak"])]
    >>> boards = [Board.rectangle("D-1", 1200, 120, 26, "teak")]
    >>> plan = pack(needs, boards, rounds=0)
    >>> with TemporaryDirectory() as folder:
    ...     _ = write(plan, folder)
    ...     read_plan(folder, needs, boards).nests == plan.nests
    True
    """
    given = read_summary(path_given(folder, "the folder"))
    rules = made(Rules() if rules is None else rules, Rules, "rules", "Rules(kerf_mm=3)")
    needs, boards = several(needs, Need, "needs"), several(boards, Board, "boards")
    plan, _ = plan_from(given, needs, boards)
    seed = given.get("seed", 0)
    asked = wishes_of(wishes, needs, boards, groups, stage)
    chance = seed if type(seed) is int and seed >= 0 else 0
    return Plan.of(plan, needs, boards, rules, chance, asked)


def remeasured(
    plan: Plan,
    folder: Path | str,
    *,
    name: str | None = None,
    unit: Unit | str = Unit.MM,
    on_progress: Tell | None = None,
) -> tuple[Fault, ...]:
    """Return every fault in the files of a folder, all of them read back and measured again.

    Parameters
    ----------
    plan
        What it was packed from is taken from this plan; where parts lie, from the files.
    name
        What the sheets should be headed with; what the summary in the folder says if not given.
    unit
        As they were written.

    Raises
    ------
    OutputError
        If the summary cannot be read, or does not fit.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> from nesting import Board, Need, pack, part_from_outline, remeasured, write
    >>> rung = part_from_outline([(0, 0), (500, 0), (500, 40), (0, 40)], 20)
    >>> board = Board.rectangle("D-1", 1200, 120, 26, "teak")
    >>> plan = pack([Need.of("rung", rung, ["teak"])], [board], rounds=0)
    >>> with TemporaryDirectory() as folder:
    ...     _ = write(plan, folder)
    ...     remeasured(plan, folder)
    ()
    """
    folder = path_given(folder, "the folder")
    called(on_progress, "on_progress")
    job = _job(plan, folder, _name_in(folder) if name is None else name, unit, "R2010")
    return remeasure.remeasured(job, folder, on_progress=on_progress or untold)[1]


def _name_in(folder: Path) -> str | None:
    """Return what a folder's summary calls its plan; nothing where it says nothing that can be."""
    said = read_summary(folder).get("project")
    return said if isinstance(said, str) and said.strip() else None


def _job(plan: Plan, folder: Path, name: str | None, unit: Unit | str, dxf: Version) -> ScriptJob:
    if not isinstance(plan, Plan):
        raise JobError("only a Plan, as pack() and read_plan() return it, says what it is made of")
    if not isinstance(dxf, str) or dxf not in VERSIONS:
        raise JobError(f"dxf is {quoted(dxf)}, must be {' or '.join(VERSIONS)}")
    title = text(folder.resolve().name or "plan" if name is None else name, "name")
    if len(title) > LONGEST_NAME:
        raise JobError(
            f"the name {quoted(title)} has {len(title)} characters; at most {LONGEST_NAME} have "
            "room on a sheet: give a shorter name"
        )
    job = ScriptJob(
        title, word(unit, Unit, "unit"), plan.rules, plan.boards, plan.needs, dxf,
        wishes=plan.wishes,
    )  # fmt: skip
    if dxf == "R12":
        _require_letters_of_r12(job)
    return job


def _require_letters_of_r12(job: ScriptJob) -> None:
    for shown in _on_sheets(job):
        if shown and max(shown) > LAST_IN_R12:
            raise JobError(f"{quoted(shown)} holds a letter that R12 cannot hold: write R2010")


def _on_sheets(job: ScriptJob) -> Iterator[str]:
    """Yield every text that sheets may show."""
    yield job.name
    for board in job.stock:
        yield from (board.name, board.species, board.member, board.came_from, board.note)
        yield from (keep_out.note for keep_out in board.keep_outs)
    for need in job.needs:
        yield from (need.part, *need.notes)
