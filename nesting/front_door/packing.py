"""Packing from a script."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field, fields
from typing import TypeVar

from nesting.arguments import USUAL_SECONDS
from nesting.engine import pack as engine
from nesting.engine.progress import Progress
from nesting.engine.search.ahead import compile_here
from nesting.errors import JobError
from nesting.foretold import limits
from nesting.front_door.wishing import Wish, lying_in, moving_mm2, require_stays, wishes_of
from nesting.given import called, made, number, several, whole
from nesting.need import Need
from nesting.nest import CuttingPlan
from nesting.project.file_types import LONGEST_NAME
from nesting.project.limits import MOST
from nesting.rules import Rules
from nesting.stock.board import Board
from nesting.unseen import quoted
from nesting.wishes import NO_WISHES, Wishes

T = TypeVar("T")


@dataclass(frozen=True, repr=False)
class Plan(CuttingPlan):
    """A cutting plan that knows what it was made of, as :func:`pack` returns it.

    Attributes
    ----------
    needs, boards, rules
        All that were given, placed and opened or not.
    seed
        Where chance began.
    wishes
        What was wished, every name looked up; the referee asks for them too.
    """

    needs: tuple[Need, ...] = ()
    boards: tuple[Board, ...] = ()
    rules: Rules = field(default_factory=Rules)
    seed: int = 0
    wishes: Wishes = NO_WISHES

    def __post_init__(self) -> None:
        super().__post_init__()
        object.__setattr__(self, "needs", several(self.needs, Need, "needs"))
        object.__setattr__(self, "boards", several(self.boards, Board, "boards"))
        made(self.rules, Rules, "rules", "Rules(kerf_mm=3)")
        made(self.wishes, Wishes, "wishes", "pack() and read_plan() look them up")
        whole(self.seed, "seed", least=0)

    @staticmethod
    def of(
        plan: CuttingPlan,
        needs: Sequence[Need],
        boards: Sequence[Board],
        rules: Rules,
        seed: int = 0,
        wishes: Wishes = NO_WISHES,
    ) -> Plan:
        """Return a plan with what it was made of."""
        own = {each.name: getattr(plan, each.name) for each in fields(CuttingPlan)}
        return Plan(
            **own, needs=tuple(needs), boards=tuple(boards), rules=rules, seed=seed, wishes=wishes
        )


def pack(
    needs: Sequence[Need],
    boards: Sequence[Board],
    rules: Rules | None = None,
    *,
    seconds: float | None = None,
    rounds: int | None = None,
    seed: int = 0,
    workers: int = 1,
    executor: Executor | None = None,
    on_progress: Callable[[Progress], None] | None = None,
    wishes: Sequence[Wish] = (),
    groups: Mapping[str, Sequence[str]] | None = None,
    stage: int | None = None,
    last: CuttingPlan | None = None,
    moving: str | None = None,
) -> Plan:
    """Return the best cutting plan found: the most value placed, then the least wood opened.

    Ctrl-C ends the search with the best plan so far. What finds no room is no error: it stands in
    ``unplaced`` with the reason.

    Parameters
    ----------
    needs
        Parts, each of its own name.
    boards
        Each of its own name. Woods are compared letter by letter.
    rules
        Kerf, trim, clearances and the rest, mm; the usual ones if not given.
    seconds
        What the search takes, about; 30 if neither seconds nor rounds are given. What a machine's
        first run has to compile, some 20 s, is not counted.
    rounds
        Rounds of improvement instead: the same seed then gives the same plan on any machine. 0 is a
        first plan without a search.
    workers
        Processes that search. With more than one a script needs ``if __name__ == "__main__":``
        around what it does, as every program that starts processes in Python.
    executor
        Where to search instead, such as ``distributed.Client(address).get_executor()``.
    on_progress
        Is told where the search stands after the first plan and every few seconds or rounds.
    wishes
        What is wished beyond the rules: musts, which are never broken, and wishes with a price.
    groups
        Boards by a name that wishes use for them, side by side as they lay.
    stage
        Pieces of later stages are not cut yet; wood for them is kept in view. All are cut if not
        given.
    last
        An earlier plan of these needs: its pieces stay where they lie, so far as they still may,
        unless moving them places another part or saves more wood than ``moving`` for each.
    moving
        ``"0.1 m2"`` if not given.

    Raises
    ------
    JobError
        If there are no needs or boards, two have one name, a limit cannot be, or a wish names
        what is not there or cannot be heeded.
    ShapeError
        If a list holds anything else than needs or boards, or a limit is no number.

    Examples
    --------
    >>> from nesting import Board, Need, pack, part_from_outline
    >>> rung = part_from_outline([(0, 0), (500, 0), (500, 40), (0, 40)], 20)
    >>> board = Board.rectangle("D-1", 1200, 120, 26, "teak")
    >>> pack([Need.of("rung", rung, ["teak"], quantity=3)], [board], rounds=0)
    Plan(3 parts on 1 board)

    A nail turns up, and all that need not move stays:

    >>> from dataclasses import replace
    >>> from nesting import circle
    >>> need = Need.of("rung", rung, ["teak"], quantity=3)
    >>> plan = pack([need], [board], rounds=0)
    >>> nailed = replace(board, keep_outs=[circle("metal", 950, 20, 6)])
    >>> again = pack([need], [nailed], rounds=0, last=plan)
    >>> both = set(plan.nests[0].placements) & set(again.nests[0].placements)
    >>> len(both)
    2
    """
    needs, boards = several(needs, Need, "needs"), several(boards, Board, "boards")
    rules = rules_or_usual(rules)
    _require_names(needs, boards)
    _require_limits(seconds, rounds, seed, workers)
    called(on_progress, "on_progress")
    submit = getattr(executor, "submit", None)
    if executor is not None and (isinstance(executor, type) or not callable(submit)):
        raise JobError(f"executor is {quoted(executor)}, must have submit() as executors do")
    asked = wishes_of(wishes, needs, boards, groups, stage)
    if moving is not None and last is None:
        raise JobError("moving goes with last: it is the price of moving a piece of that plan")
    pieces = lying_in(last) if last is not None else ()
    require_stays(asked, pieces, boards, rules, needs)
    compile_here()
    stop, finish = limits(seconds, rounds, usual_seconds=USUAL_SECONDS, begun=time.monotonic())
    plan = engine.pack(
        needs, boards, rules,
        stop=stop, seed=seed, workers=workers, executor=executor, on_progress=on_progress,
        finish=finish, wishes=asked, last=pieces,
        moving_mm2=None if last is None else moving_mm2(moving),
    )  # fmt: skip
    return Plan.of(plan, needs, boards, rules, seed, asked)


def rules_or_usual(given: Rules | None) -> Rules:
    """Return the rules that are given, the usual ones if none are.

    Raises
    ------
    JobError
        If they are no rules.
    """
    if given is None:
        return Rules()
    if not isinstance(given, Rules):
        raise JobError(f"rules are a {type(given).__name__}, must be Rules(kerf_mm=3, ...)")
    return given


def _require_names(needs: Sequence[Need], boards: Sequence[Board]) -> None:
    """Refuse what a project file refuses: nothing there, a name twice, one that no sheet holds."""
    for noun, names in (
        ("need", [need.part for need in needs]),
        ("board", [board.name for board in boards]),
    ):
        if not names:
            raise JobError(f"there is no {noun}: give one or more")
        for name, count in Counter(names).items():
            if count > 1:
                raise JobError(f"{count} {noun}s are called {quoted(name)}: give each its own name")
            if len(name) > LONGEST_NAME:
                raise JobError(
                    f"the name {quoted(name)} has {len(name)} characters; at most {LONGEST_NAME} "
                    "have room on a sheet"
                )
    _require_few(needs, boards)
    _require_woods_alike(
        [wood for need in needs for wood in need.species], [board.species for board in boards]
    )


def _require_few(needs: Sequence[Need], boards: Sequence[Board]) -> None:
    """Refuse more than a project file may hold: nobody waits for it."""
    for what, count in (
        ("boards", len(boards)),
        ("keep-outs", sum(len(board.keep_outs) for board in boards)),
        ("pieces", sum(need.quantity for need in needs)),
    ):
        if count > MOST[what]:
            raise JobError(
                f"there are {count:,} {what}, at most {MOST[what]:,} are packed at once: is a "
                "count right? Else make several plans of it"
            )


def _require_woods_alike(wanted: Iterable[str], there: Iterable[str]) -> None:
    """Refuse one wood in two spellings: they would count as two."""
    spelled: dict[str, str] = {}
    for wood in dict.fromkeys([*there, *wanted]):
        first = spelled.setdefault(" ".join(wood.casefold().split()), wood)
        if first != wood:
            raise JobError(
                f"{quoted(first)} and {quoted(wood)} are one wood in two spellings: write one"
            )


def _require_limits(seconds: float | None, rounds: int | None, seed: int, workers: int) -> None:
    if seconds is not None and not 0 <= number(seconds, "seconds") < 1e9:
        raise JobError(f"seconds are {quoted(seconds)}, must be 0 or more")
    for name, value, least in (("rounds", rounds, 0), ("seed", seed, 0), ("workers", workers, 1)):
        if value is not None and whole(value, name) < least:
            raise JobError(f"{name} is {quoted(value)}, must be {least} or more")
