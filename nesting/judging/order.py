"""In which order members come off, what must stand until last, and what to write down first."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass

from nesting.judging.old_boat import Joint, Member
from nesting.judging.programme import Solved
from nesting.judging.question import Question
from nesting.judging.ways import Way, split_by

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

SHORE = "shore her first"


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
    holding
        What held her up or in shape: the member itself, or what this splits.
    together
        What rests on a member that this splits, and so comes off in the same go.
    """

    member: Member
    ways: Mapping[int, Way]
    hours: float
    is_saved: bool
    cautions: tuple[str, ...]
    write_down: str
    holding: tuple[str, ...] = ()
    together: frozenset[str] = frozenset()


def order_of_work(question: Question, answer: Solved) -> tuple[Task, ...]:
    """Return what comes off, first to last: nothing before all that rests on it.

    Of what could come next, what splits a member on which something rests still waits (two that
    split the same one come off together: the task says so), then what holds her up or in shape, or
    splits what does; what can hurt goes first.
    """
    boat, left, tasks = question.boat, set(answer.off), list[Task]()
    while left:
        ready = [name for name in boat.by_name if name in left and not boat.resting_on[name] & left]
        next_off = [_task(question, answer, name, left) for name in ready]
        task = min(next_off, key=_urgency)
        left.remove(task.member.name)
        tasks.append(task)
    return tuple(tasks)


def _urgency(task: Task) -> tuple[bool, bool, bool]:
    return bool(task.together), bool(task.holding), not task.member.hazards


def _task(question: Question, answer: Solved, name: str, left: AbstractSet[str]) -> Task:
    """Return the task of a member coming off while others are left."""
    boat = question.boat
    member = boat.by_name[name]
    ways = {
        joint: answer.ways[joint] for joint in boat.joints_of[name]
        if joint in answer.ways and not _is_parted(boat.joints[joint], name, answer.off, left)
    }  # fmt: skip
    hours = question.handling_hours(name) + sum(question.hours(*pair) for pair in ways.items())
    split = filter(None, (split_by(way, boat.joints[joint]) for joint, way in ways.items()))
    names = dict.fromkeys((name, *split))
    holding = tuple(one for one in names if boat.by_name[one].holds_her)
    first = (question.first_off(*pair) for pair in ways.items())
    together = frozenset[str]().union(*first) & left - {name}
    cautions = tuple(_cautions(member, holding, together))
    return Task(
        member, ways, hours, name in answer.saved, cautions, WRITE_DOWN.get(name, ""), holding,
        together,
    )  # fmt: skip


def _is_parted(joint: Joint, name: str, off: AbstractSet[str], left: AbstractSet[str]) -> bool:
    """Return whether a joint of a member was parted when the other member came off."""
    other = joint.other(name)
    return other in off and other not in left


def _cautions(member: Member, holding: Sequence[str], together: AbstractSet[str]) -> Iterator[str]:
    """Yield what to mind before a member comes off."""
    yield from (f"mind {hazard}" for hazard in member.hazards)
    if member.holds_her:
        yield f"{SHORE}: she is weaker with every piece, and this holds her up or in shape"
    elif holding:
        yield f"{SHORE}: this splits {', '.join(holding)}, which held her up or in shape"
    if together:
        others = ", ".join(sorted(together))
        yield f"{others} comes off together with it: both rest on what is split"


def stands_longest(question: Question, answer: Solved) -> tuple[str, ...]:
    """Return the members that hold her and stay whole: she is braced against them until the end."""
    joints = question.boat.joints
    split = {split_by(way, joints[k]) for k, way in answer.ways.items()}
    return tuple(
        member.name for member in question.boat.members
        if member.holds_her and member.name not in answer.off | split
    )  # fmt: skip
