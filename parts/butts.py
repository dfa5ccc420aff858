"""Shift of butts: how far the butts of strakes that lie near each other keep apart."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations

from parts.part import Butted, Part

APART_SPACES = 3
"""Butts of neighbouring strakes keep so many frame spaces apart."""

STRAKES_BETWEEN = 3
"""Between two butts on one frame so many whole strakes lie."""

SOURCE = "US Army TB 55-1900-201-45-1, para 2-13"
"""For planking. That it holds for ceiling as well: Great Lakes underwriters' rules of 1866, which
have the same three strakes, and five feet between neighbours for ships."""


@dataclass(frozen=True)
class _Clash:
    """Two butts that are too near each other: strake and frame of each."""

    strakes: tuple[int, int]
    frames: tuple[int, int]

    def __str__(self) -> str:
        (one, other), (here, there) = self.strakes, self.frames
        between = other - one - 1
        if not between:
            spaces = abs(here - there)
            places = f"both on frame {here}" if not spaces else f"on frames {here} and {there}"
            apart = f"{spaces} frame space{'' if spaces == 1 else 's'} apart"
            return (
                f"shift of butts: neighbouring strakes {one} and {other} are butted {places}, "
                f"{apart}; they keep {APART_SPACES} apart at least ({SOURCE})"
            )
        return (
            f"shift of butts: strakes {one} and {other} are both butted on frame {here} with "
            f"{between} between them; {STRAKES_BETWEEN} lie between at least ({SOURCE})"
        )


def shift_remarks(parts: Mapping[str, Part]) -> dict[str, tuple[str, ...]]:
    """Return what breaks the shift of butts, for every part one of whose butts is in it."""
    found: dict[str, dict[str, None]] = defaultdict(dict)
    for strakes in _ranges(parts):
        butts = {number: _frames(lengths) for number, lengths in strakes.items()}
        for clash in _clashes(butts):
            for strake, frame in zip(clash.strakes, clash.frames, strict=True):
                for name, one in strakes[strake].items():
                    if frame in one.ends:
                        found[name][str(clash)] = None
    return {name: tuple(told) for name, told in found.items()}


def _ranges(parts: Mapping[str, Part]) -> Iterator[Mapping[int, Mapping[str, Butted]]]:
    """Yield the butted lengths of each strake, by name, for each range of strakes of a side."""
    ranges: dict[tuple[str, int], dict[int, dict[str, Butted]]] = {}
    for name, part in parts.items():
        if (one := part.butted()) is None:
            continue
        for side in one.sides:
            strakes = ranges.setdefault((side, one.of), {})
            strakes.setdefault(one.strake, {})[name] = one
    yield from ranges.values()


def _frames(lengths: Mapping[str, Butted]) -> list[int]:
    return sorted({frame for one in lengths.values() for frame in one.ends})


def _clashes(butts: Mapping[int, list[int]]) -> Iterator[_Clash]:
    for one, other in combinations(sorted(butts), 2):
        for here in butts[one]:
            for there in butts[other]:
                is_near = other - one == 1 and abs(here - there) < APART_SPACES
                is_on_one = other - one <= STRAKES_BETWEEN and here == there
                if is_near or is_on_one:
                    yield _Clash((one, other), (here, there))
