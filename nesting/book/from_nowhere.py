"""Wood that is in a book and came of no board: summed board by board, from its steps alone."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from nesting.book.effects import Effect, Row, Step
from nesting.book.larger import CUT_SHARE, RECORDED_SHARE
from nesting.book.outlines import area_of, box_of
from nesting.book.rows import IN_STOCK, SOUND
from nesting.book.steps import UNDONE, Pile

TAPED, TAPED_LARGER = "taped", "taped larger"
"""Kinds of steps by which a tape says otherwise; the second where somebody stood by it."""

BY_TAPE = (TAPED, "read")
"""Kinds of steps that may find a board other than it was, and no larger."""

SAYING = ("recorded", *BY_TAPE)
"""Kinds of steps that say what a board is."""


@dataclass
class _Most:
    """The most that was ever said of a board that was recorded: sizes in mm, area in mm2."""

    sizes: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])
    area: float = 0.0
    is_cut: bool = False

    def grow(self, row: Row) -> None:
        """Take what a step says of the board while it is whole."""
        self.widen(row)
        self.area = max(self.area, area_of(row["body"]["wood"]))

    def widen(self, row: Row) -> None:
        """Take the sizes that somebody stands by."""
        self.sizes = list(map(max, self.sizes, _sizes(row)))


def _sizes(row: Row) -> list[float]:
    wood = row["body"]["wood"]
    low_x, low_y, high_x, high_y = box_of(wood)
    return [high_x - low_x, high_y - low_y, wood["thickness_mm"]]


def from_nowhere(steps: Sequence[Step], pile: Pile) -> Iterator[str]:
    """Yield what a book has more of than was ever recorded, in words."""
    most = defaultdict[str, _Most](_Most)
    taken_back = {step.undoes for step in steps}
    for step in steps:
        if step.kind == UNDONE or step.number in taken_back:
            continue
        for effect in step.effects:
            if effect.table == "board" and effect.after is not None:
                yield from _entered(step, effect, most)
    yield from _too_much(pile, most)


def _entered(step: Step, effect: Effect, most: dict[str, _Most]) -> Iterator[str]:
    """Take what a step says of a board; yield it where no tape can be so far off."""
    before, after = effect.before, effect.after
    assert after is not None
    root = after["body"]["root"]
    most[root].is_cut |= bool(after["body"]["frames"])
    if before is None:
        if root == after["name"]:
            most[root].grow(after)
        return
    if step.kind == TAPED_LARGER:
        more = area_of(after["body"]["wood"]) - area_of(before["body"]["wood"])
        most[root].area += max(more, 0.0)
        most[root].widen(after)
    elif step.kind in SAYING and before["parent"] is None and not most[root].is_cut:
        is_more = _is_beyond(_sizes(after), _sizes(before), RECORDED_SHARE)
        if step.kind in BY_TAPE and is_more:
            yield f"step {step.number} ({step.kind}): {after['name']} is far larger than before it"
        else:
            most[root].grow(after)


def _is_beyond(now: Sequence[float], most: Sequence[float], share: float) -> bool:
    long, wide, thick = most
    more = 1.0 + share
    return now[0] > long * more or now[1] > wide * more or now[2] > thick * more


def _too_much(pile: Pile, most: dict[str, _Most]) -> Iterator[str]:
    """Yield each board of which there is more, or anything larger, than it was."""
    boards = pile.rows("board")
    roots = {row["name"]: row["body"]["root"] for row in boards}
    there = defaultdict[str, float](float)
    for row in boards:
        if row["state"] != IN_STOCK:
            continue
        root = roots[row["name"]]
        there[root] += area_of(row["body"]["wood"])
        if _is_beyond(_sizes(row), most[root].sizes, CUT_SHARE):
            yield f"{row['name']} is larger than {root}, which it came of, ever was"
    for row in pile.rows("piece"):
        if row["state"] == SOUND:
            there[roots[row["board"]]] += area_of(row["body"])
    for root, area in there.items():
        if area > most[root].area * (1.0 + CUT_SHARE):
            yield (
                f"of {root} there are {area:.0f} mm2 in stock and in pieces, it never had more "
                f"than {most[root].area:.0f} mm2"
            )
