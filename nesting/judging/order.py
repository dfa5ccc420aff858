"""In which order members come off, what must stand until last, and what to write down first."""

from __future__ import annotations

from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass

from nesting.judging.old_boat import Member, OldBoat
from nesting.judging.programme import Solved
from nesting.judging.question import Question
from nesting.judging.ways import Way

WRITE_DOWN: Mapping[str, str] = {
    "decking": "where each beam lies from the stem, the camber of three beams, the sheer",
    "deck beam": "each beam's camber, moulding and place, the half-breadth at its ends",
    "house side": "heights of the house at its corners, places of ports and beams",
    "hull planking": "her lines: half-breadths and heights at every third frame, rabbet and sheer; "
    "a lining-off of the strakes at three stations",
    "frame": "places, bevels and sizes of the frames, a template of every fourth",
    "floor": "shape, bolts and place of each floor",
    "keel": "profile of keel and deadwood, ballast bolts",
    "stem": "profile and rabbet of the stem",
    "transom": "shape, rake and crown of the transom",
}
"""What is gone with a member (common practice, no source)."""

SHORE = "shore her first: she is weaker with every piece, and this holds her up or in shape"


@dataclass(frozen=True)
class Task:
    """One member coming off.

    Attributes
    ----------
    ways
        How each joint is parted that is parted in this step, by the joint's number.
    is_saved
        Or only out of the way.
    cautions
        What to mind beforehand.
    write_down
        What to measure while it is still there, if anything.
    """

    member: Member
    ways: Mapping[int, Way]
    hours: float
    is_saved: bool
    cautions: tuple[str, ...]
    write_down: str


def order_of_work(question: Question, answer: Solved) -> tuple[Task, ...]:
    """Return what comes off, first to last: nothing before all that rests on it.

    Of what could come next, what holds her up or in shape waits; what can hurt goes first.
    """
    boat = question.boat
    left, parted, tasks = set(answer.off), set[int](), list[Task]()
    while left:
        ready = [name for name in boat.by_name if name in left
                 and not any(name in boat.by_name[other].rests_on for other in left)]  # fmt: skip
        name = min(ready, key=lambda one: _urgency(boat.by_name[one]))
        joints = [k for k in boat.joints_of[name] if k in answer.ways and k not in parted]
        parted.update(joints)
        left.remove(name)
        tasks.append(_task(question, answer, name, joints))
    return tuple(tasks)


def _urgency(member: Member) -> tuple[bool, bool]:
    return member.holds_her, not member.hazards


def _task(question: Question, answer: Solved, name: str, joints: list[int]) -> Task:
    member = question.boat.by_name[name]
    ways = {joint: answer.ways[joint] for joint in joints}
    hours = question.handling_hours(name) + sum(question.hours(*pair) for pair in ways.items())
    cautions = [f"mind {hazard}" for hazard in member.hazards]
    if member.holds_her:
        cautions.append(SHORE)
    return Task(
        member, ways, hours, name in answer.saved, tuple(cautions), WRITE_DOWN.get(name, "")
    )


def stands_longest(boat: OldBoat, off: AbstractSet[str]) -> tuple[str, ...]:
    """Return the members that hold her and stay: she is braced against them until the end."""
    return tuple(
        member.name for member in boat.members
        if member.holds_her and member.name not in off
    )  # fmt: skip
