"""Projects of parts fitted to a boat's lines, drawn by lot: construction, places and sizes."""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

Block = dict[str, Any]
Shape = Callable[[Callable[[float], float]], Block]

BOARDS = (("A", 75), ("B", 32))


def random_boat(rng: random.Random, lines: Path, from_mm: float, to_mm: float) -> Block:
    """Return a project's content; the lines' figures go from one place to another."""
    size = rng.choice([0.5, 0.8, 1.0, 1.5])
    spacing = rng.choice([200, 250, 300, 400])
    count = max(2, int((to_mm - from_mm) / spacing))

    def given(mm: float) -> float:
        return max(3, round(mm * size * rng.choice([0.6, 0.8, 1.0, 1.2, 1.6])))

    families = rng.choices([*SHAPES], k=rng.randint(3, 8))
    return {
        "version": 1,
        "name": "any boat",
        "unit": "mm",
        "boat": {
            "lines": str(lines),
            "frames": {
                "first": round(from_mm + rng.choice([20, 60, 150, 300])), "spacing": spacing,
                "count": count, "siding": rng.choice([15, 25, 40]),
                "moulding": rng.choice([20, 32, 50]),
            },
            **_construction(rng, given),
        },
        "stock": [
            {
                "board": name, "species": "white oak", "thickness": thick, "length": 4000,
                "width": 400, "count": 3,
            }
            for name, thick in BOARDS
        ],
        "parts": [
            {
                "part": f"{family} {number}",
                "family": family,
                "at": _place(rng, family, count, from_mm),
                "species": ["white oak"],
                "shape": SHAPES[family](given),
            }
            for number, family in enumerate(families)
        ],
    }  # fmt: skip


def _construction(rng: random.Random, given: Callable[[float], float]) -> Block:
    beam = lambda: {"siding": given(30), "moulding": given(55), "end_moulding": given(30)}  # noqa: E731
    plan: Block = {
        "keel": {"siding": rng.choice([40, 90, 140])},
        "deck": {"thickness": rng.choice([6, 14, 25])},
        "beam_mould": {"span": 2600, "camber": rng.choice([0, 40, 90])},
        "beams": {"ordinary": beam(), "main": beam(), "half": beam()},
        "clamp": {"thickness": rng.choice([12, 20, 40]), "depth": given(110)},
        "floor_heads": given(120),
        "transom": 22,
        "sole": rng.randint(100, 600),
    }
    if rng.random() < 0.3:
        plan["house"] = {"half_breadth": given(400), "height": given(250), "camber": given(30)}
    if rng.random() < 0.3:
        plan["deck"]["crown"] = rng.choice(["one mould", "constant camber", "straight centreline"])
    return plan


def _place(rng: random.Random, family: str, count: int, from_mm: float) -> str:
    if family in ("clamp", "ceiling strake", "carlin"):
        first = rng.randint(1, count - 1)
        return f"frames {first} to {rng.randint(first + 1, count)}"
    if family == "breasthook":
        return f"{from_mm + rng.choice([30, 200]):.0f}"
    return "transom" if family == "quarter knee" else f"frame {rng.randint(1, count)}"


def _knee(given: Callable[[float], float]) -> Block:
    return {
        "siding": given(30), "beam_arm": given(200), "side_arm": given(250), "throat": given(90),
        "tip_moulding": given(30), "bolt": 6,
    }  # fmt: skip


def _floor(given: Callable[[float], float]) -> Block:
    return {"siding": given(40), "moulding": given(90), "arm": given(280)}


SHAPES: dict[str, Shape] = {
    "floor timber": _floor,
    "floor plate": lambda given: {**_floor(given), "flange": given(8)},
    "deck beam": lambda given: {"bearing": given(30)},
    "half beam": lambda given: {"inner_end": given(350), "bearing": given(25)},
    "sole beam": lambda given: {"siding": given(25), "moulding": given(60)},
    "house beam": lambda given: {"siding": given(25), "moulding": given(50)},
    "clamp": lambda _: {},
    "ceiling strake": lambda given: {"thickness": given(12), "of": 5, "strakes": [1, 2]},
    "carlin": lambda given: {
        "inner_face": given(200), "siding": given(30), "moulding": given(45)
    },
    "hanging knee": _knee,
    "lodging knee": _knee,
    "quarter knee": _knee,
    "breasthook": lambda given: {
        "siding": given(30), "arm": given(250), "throat": given(90), "tip_moulding": given(30)
    },
}  # fmt: skip
"""What each family that is fitted to the lines needs to be told beside its place."""
