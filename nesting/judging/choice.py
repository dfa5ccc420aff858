"""What to save, what to scrap, what to save only if hours are cheap, and why."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property

from nesting.judging.old_boat import OldBoat
from nesting.judging.order import Task, order_of_work, stands_longest
from nesting.judging.programme import Solved, solved
from nesting.judging.question import Question
from nesting.judging.wanted import Wanted
from nesting.judging.ways import Way
from nesting.judging.yields import Yield

CHEAP_SHARE = 0.5
"""Hours are cheap at this share of their price: a friend's help, a winter with nothing else."""

ROUGHLY = 1e-3
"""How near to the best an answer to what-if comes: verdicts that hang on less hang on nothing."""

SOME = 0.05
"""Pieces expected below this number are none."""


class Verdict(StrEnum):
    """What becomes of a member."""

    SAVE = "save"
    IF_CHEAP = "save only if hours are cheap"
    SCRAP = "scrap"


class Why(StrEnum):
    """What decides against a member."""

    WORTH = "what it gives is worth its hours"
    NO_PART = "no part takes its wood in such sizes"
    METAL = "metal leaves no run long enough for any part"
    HOLES = "old holes leave no run long enough for any part"
    BUNGS = (
        "no part that takes bungs can lie across its old holes: they would break its edges, be too "
        "many in a metre, or larger than any bung"
    )
    GLUED = "its pieces are glued to each other, and no way of parting them leaves them whole"
    HOURS = "its hours cost more than what it gives"
    OTHERS = "other members give the same parts for less"
    ABOVE = "what rests on it would have to come off first, and costs more than it gives"
    SPOILED = "it is spoiled so that others can be saved"


@dataclass(frozen=True)
class Judged:
    """One member, with all that speaks for it and against it.

    Attributes
    ----------
    given
        Pieces of each part that it is expected to give in the best choice, by part.
    hours
        For all its joints in the ways chosen, and its handling; where it is not saved, what it
        would take.
    worth
        Of what it gives, in money; where it is not saved, what it would give by itself.
    best
        What it gives in the set of ways that leaves least metal in it; None where all spoil it.
    """

    member: str
    verdict: Verdict
    why: Why
    given: Mapping[str, float]
    hours: float
    worth: float
    best: Yield | None


@dataclass(frozen=True)
class Doubt:
    """An uncertain figure, and whose verdict it changes within what it may be."""

    what: str
    low_net: float
    high_net: float
    changed: tuple[str, ...]


@dataclass(frozen=True)
class Choice:
    """The whole answer: the best choice, what it comes to, and what it hangs on."""

    question: Question
    solved: Solved
    judged: tuple[Judged, ...]
    doubts: tuple[Doubt, ...]

    @property
    def hours(self) -> float:
        """All the work of it."""
        return _hours(self.question, self.solved)

    @property
    def worth(self) -> float:
        """Of all parts that the saved wood is expected to give."""
        return _worth(self.question, self.solved.given)

    @cached_property
    def tasks(self) -> tuple[Task, ...]:
        """The order of work."""
        return order_of_work(self.question, self.solved)

    @property
    def stands_longest(self) -> tuple[str, ...]:
        """Members that hold her up and stay until the end."""
        return stands_longest(self.question, self.solved)


def choose(question: Question) -> Choice:
    """Return the best choice with its reasons and doubts.

    The questions beside the main one are answered in threads: the solver leaves them free.
    """
    hour = question.boat.rates.hour
    doubts = _what_ifs(question)
    others = [(one, hour) for _, pair in doubts for one in pair]
    with ThreadPoolExecutor(os.cpu_count()) as threads:
        main = threads.submit(solved, question, hour=hour)
        rest = [
            threads.submit(solved, one, hour=price, gap=ROUGHLY)
            for one, price in [(question, CHEAP_SHARE * hour), *others]
        ]
        best, (cheap, *answers) = main.result(), [one.result() for one in rest]
    judged = tuple(_judged(question, best, cheap, name) for name in question.boat.by_name)
    pairs = zip(answers[::2], answers[1::2], strict=True)
    told = tuple(_doubt(what, best, pair) for (what, _), pair in zip(doubts, pairs, strict=True))
    return Choice(question, best, judged, told)


def _hours(question: Question, answer: Solved) -> float:
    joints = sum(question.hours(joint, way) for joint, way in answer.ways.items())
    return joints + sum(question.handling_hours(name) for name in answer.off)


def _worth(question: Question, given: Mapping[tuple[str, int], float]) -> float:
    return sum(question.wanted[part].worth * count for (_, part), count in given.items())


def _judged(question: Question, best: Solved, cheap: Solved, name: str) -> Judged:
    given = {(one, part): count for (one, part), count in best.given.items() if one == name}
    gentle = question.yields[name, 0] if question.sets[name] else None
    if name in best.saved and _worth(question, given) > 0.0:
        ways = {joint: best.ways[joint] for joint in question.boat.joints_of[name]}
        kept = question.yields[name, best.sets[name]]
        named = {question.wanted[part].part: count for (_, part), count in given.items()}
        worth = _worth(question, given)
        return Judged(
            name, Verdict.SAVE, Why.WORTH, named, _hours_at(question, name, ways), worth, kept
        )
    alone, worth = _alone(question, name)
    is_cheap = name in cheap.saved and any(one == name for one, _ in cheap.given)
    verdict = Verdict.IF_CHEAP if is_cheap else Verdict.SCRAP
    why = _why(question, best, name, worth, alone)
    return Judged(name, verdict, why, {}, alone, worth, gentle)


def _hours_at(question: Question, name: str, ways: Mapping[int, Way]) -> float:
    joints = sum(question.hours(joint, way) for joint, way in ways.items())
    return joints + question.handling_hours(name)


def _alone(question: Question, name: str) -> tuple[float, float]:
    """Return hours and worth of a member pulled for itself, at the best of its own ways.

    Where all of them spoil it, it is worth nothing in the least hours.
    """
    if not question.sets[name]:
        return question.handling_hours(name) + sum(
            min(question.hours(joint, way) for way in question.possible(joint))
            for joint in question.boat.joints_of[name]
        ), 0.0
    best = (0.0, 0.0)
    most = (False, float("-inf"))
    for number, lefts in enumerate(question.sets[name]):
        hours = question.handling_hours(name)
        for joint, left in zip(question.boat.joints_of[name], lefts, strict=True):
            hours += min(
                question.hours(joint, way)
                for way in question.possible(joint)
                if question.left(joint, way, name) == left
            )
        worth = _most_worth(question, name, number)
        # A way that gives nothing in fewer hours is none to be told beside one that gives.
        merit = (worth > 0.0, worth - question.boat.rates.hour * hours)
        if merit > most:
            most, best = merit, (hours, worth)
    return best


def _most_worth(question: Question, name: str, number: int) -> float:
    """Return the most that one member can give: dearest parts for the wood first."""
    rest, total = 1.0, 0.0
    given = question.gives_of.get(name, {}).get(number, {}).items()
    for part, count in sorted(given, key=lambda pair: -question.wanted[pair[0]].worth * pair[1]):
        wanted = question.wanted[part]
        taken = min(rest * count, wanted.count)
        total += taken * wanted.worth
        rest -= taken / count
        if rest <= 1e-12:
            break
    return total


def _why(question: Question, best: Solved, name: str, worth: float, hours: float) -> Why:
    """Return what decides against a member."""
    member = question.boat.by_name[name]
    takers = [wanted for wanted in question.wanted
              if wanted.takes(member.species, name, member.thickness_mm)
              and wanted.length_mm <= member.length_mm
              and wanted.width_mm <= member.width_mm]  # fmt: skip
    if not takers:
        return Why.NO_PART
    if not question.sets[name]:
        return Why.GLUED
    spoils = any(
        question.left(joint, best.ways[joint], name).is_spoiled
        for joint in question.boat.joints_of[name]
        if joint in best.ways
    )
    if worth <= SOME * min(wanted.worth for wanted in takers):
        return _why_nothing(question, name, [wanted for wanted in takers if wanted.takes_holes])
    if spoils and worth > question.boat.rates.hour * hours:
        return Why.SPOILED
    if worth <= question.boat.rates.hour * hours:
        return Why.HOURS
    return Why.OTHERS if question.boat.above([name]) <= best.off else Why.ABOVE


def _why_nothing(question: Question, name: str, takers: Sequence[Wanted]) -> Why:
    """Return why a member gives nothing though parts take its wood; ``takers`` take holes too."""
    if not takers:
        return Why.HOLES
    sets = range(len(question.sets[name]))
    may_plug = any(question.yields[name, k].may_plug(one) for k in sets for one in takers)
    return Why.METAL if may_plug else Why.BUNGS


def _what_ifs(question: Question) -> list[tuple[str, tuple[Question, Question]]]:
    """Return uncertain figures, each with the worse and the better end of what it may be."""
    boat = question.boat
    return [
        (
            "minutes a fastener, half as much again or half",
            (question.slower(1.5), question.slower(0.5)),
        ),
        (
            "share of fasteners that draw, 0.2 less or more",
            (
                replace(question, boat=_drawing(boat, -0.2)),
                replace(question, boat=_drawing(boat, 0.2)),
            ),
        ),
        (
            "share of sound wood, 0.15 less or more",
            (
                replace(question, boat=_sounder(boat, -0.15)),
                replace(question, boat=_sounder(boat, 0.15)),
            ),
        ),
    ]


def _doubt(what: str, best: Solved, answers: tuple[Solved, Solved]) -> Doubt:
    """Return what an uncertain figure changes."""
    changed = set[str]().union(*(answer.saved ^ best.saved for answer in answers))
    return Doubt(what, answers[0].net, answers[1].net, tuple(sorted(changed)))


def _drawing(boat: OldBoat, more: float) -> OldBoat:
    joints = tuple(replace(joint, state=joint.state.drawing(more)) for joint in boat.joints)
    return replace(boat, joints=joints)


def _sounder(boat: OldBoat, more: float) -> OldBoat:
    return replace(
        boat,
        members=tuple(
            replace(member, sound=min(1.0, max(0.05, member.sound + more)))
            for member in boat.members
        ),
    )
