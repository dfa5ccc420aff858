"""Project files drawn by lot: boards, keep-outs, plain families, awkward names and rules.

And what a builder adds to one: wishes, sheet goods, prices, a drawing, how deep old holes go.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

WOODS = ("teak", "white oak", "Honduras mahogany", "European larch", "iroko")
NAMES = (
    "part", "knee [port]", 'Überlänge "x"', "a/b: c", "木の板", "x" * 70, "1", "-o", "yes",
    "board & <b>", "100 %", "C:\\D",
)  # fmt: skip
KINDS = ("metal", "hole", "recess", "groove", "rot", "split", "knot", "stain", "worn edge")

Length = Callable[[float], float]
Block = dict[str, Any]


def random_job(rng: random.Random) -> Block:
    """Return a project file's content."""
    unit = rng.choice(["mm", "in"])

    def given(mm: float) -> float:
        """Return a length as somebody would write it: to 0.1 mm, or to a sixteenth."""
        return round(mm, 1) if unit == "mm" else round(mm / 25.4 * 16) / 16

    job: Block = {
        "version": 1,
        "name": rng.choice(NAMES),
        "unit": unit,
        "rules": _rules(rng, given),
        "stock": [_board(rng, given, number) for number in range(rng.randint(1, 8))],
        "parts": [_part(rng, given, number) for number in range(rng.randint(1, 7))],
    }
    if rng.random() < 0.3:
        paper = rng.choice(["A4", "A3", "letter", "tabloid"])
        job["outputs"] = {"dxf": rng.choice(["R12", "R2010"]), "paper": paper}
    return job


def with_more(job: Block, rng: random.Random, folder: Path) -> Block:
    """Return a project with wishes, sheet goods, prices, a drawing in its folder, deep holes."""
    job["species"] = ["birch plywood", "MDF"]
    for board in job["stock"]:
        for keep_out in board["keep_outs"]:
            _put(rng, keep_out, (0.3, "depth", rng.choice([0.125, 0.25]) * board["thickness"]))
        _put(
            rng, board, (0.15, "species", rng.choice(["birch plywood", "MDF"])),
            (0.15, "member", "decking"), (0.15, "note", rng.choice(NAMES)),
        )  # fmt: skip
    for part in job["parts"]:
        _put(
            rng, part, (0.2, "species", [*part["species"], "birch plywood"]),
            (0.2, "plugs_per_metre", rng.randint(0, 6)),
            (0.2, "moisture", [8, rng.randint(10, 25)]), (0.2, "notes", rng.sample(NAMES, 2)),
        )  # fmt: skip
    if rng.random() < 0.3:
        job["parts"].append(_drawn(rng, folder))
    wood = [{"species": "teak", "price": rng.choice([4, 90]), "per": "board foot"}]
    rates = {"currency": rng.choice(["€", "$"]), "wood": wood, "hour": rng.choice([0, 35])}
    _put(rng, job, (0.4, "rates", rates), (0.3, "stage", rng.choice([1, 2])))
    job["wishes"] = [_wish(rng, job) for _ in range(rng.randint(0, 4))]
    return job


def _put(rng: random.Random, block: Block, *what: tuple[float, str, Any]) -> None:
    """Put keys with their values into a block, each by its own chance."""
    block.update((key, value) for chance, key, value in what if rng.random() < chance)


def _drawn(rng: random.Random, folder: Path) -> Block:
    """Return a part with two curved sides, drawn as an SVG."""
    long, high = rng.uniform(120, 500), rng.uniform(60, 160)
    curves = f"M0 0 Q{long / 2} {rng.uniform(0, 0.3) * high} {long} 0 L{long} {high} "
    curves += f"Q{long / 2} {rng.uniform(0.8, 1) * high} 0 {high} Z"
    (folder / "drawn.svg").write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{long}mm" height="{high}mm" '
        f'viewBox="0 0 {long} {high}"><path d="{curves}"/></svg>'
    )
    return {
        "part": "drawn", "family": "drawn outline", "quantity": rng.randint(1, 3),
        "species": ["teak"], "holes": "plugged",
        "shape": {"file": "drawn.svg", "siding": f"{rng.choice([12, 16])} mm"},
    }  # fmt: skip


def _wish(rng: random.Random, job: Block) -> Block:
    part, board = rng.choice(job["parts"]), rng.choice(job["stock"])["board"]
    name, count = part["part"], part["quantity"]
    single = rng.random() < 0.4 and count > 1
    piece = [f"{name}, {rng.randint(1, count)} of {count}" if single else name]
    if rng.random() < 0.2:
        return {"part": piece, "stage": rng.choice([1, 2])}
    use = rng.choice(["held back", "kept whole", "first"])
    wish: Block = rng.choice(
        [
            {"part": piece, "from": board},
            {"part": piece, "not_from": board},
            {"board": board, "use": use},
            {"match": name, "how": rng.choice(["one board", "neighbouring boards", "mirrored"])},
        ]
    )
    return wish | rng.choice([{}, {"price": "0.1 m2"}])


def _rules(rng: random.Random, given: Length) -> Block:
    rules: Block = {
        "kerf": given(rng.choice([1.6, 2.0, 3.2, 4.0])),
        "trim": given(rng.choice([0.0, 1.6, 3.2])),
        "blade_clearance": given(rng.choice([5.0, 6.4, 10.0])),
        "plugs": [given(10), given(13), given(16)],
        "least_offcut": {"length": given(300), "width": given(60)},
    }
    if rng.random() < 0.4:
        rules["break_down"] = "preferred"
    if rng.random() < 0.3:
        rules["clearances"] = {"rot": given(rng.choice([0, 10, 30])), "split": given(8)}
    return rules


def _name(rng: random.Random, number: int) -> str:
    return f"{rng.choice(NAMES)} {number}" if rng.random() < 0.3 else f"{rng.choice('ABC')}{number}"


def _board(rng: random.Random, given: Length, number: int) -> Block:
    length, width = rng.uniform(500, rng.choice([1500, 4000, 11000])), rng.uniform(70, 380)
    board: Block = {
        "board": _name(rng, number),
        "species": rng.choice(WOODS[:3]),
        "thickness": given(rng.choice([22, 32, 45, 65])),
        **_outline(rng, given, length, width),
        "keep_outs": [_keep_out(rng, given, length, width) for _ in range(rng.randint(0, 9))],
    }
    if rng.random() < 0.5:
        row = {
            "from": [given(60), given(0.3 * width)],
            "to": [given(0.9 * length), given(0.3 * width)],
        }
        board["keep_outs"].append(
            {
                "kind": rng.choice(["hole", "metal"]),
                "diameter": given(6.4),
                "row": {**row, "spacing": given(rng.choice([150, 300]))},
            }
        )
    if rng.random() < 0.3:
        middle = rng.uniform(0.3, 0.7)
        line = [
            [given(length * share), given(width * (middle + rng.uniform(-0.3, 0.3)))]
            for share in (0.0, 0.3, 0.6, 1.0)
        ]
        board["grain"] = line if rng.random() < 0.6 else round(rng.uniform(-4, 4), 1)
    for chance, key, value in (
        (0.2, "resaw", 2 if board["thickness"] >= given(45) else 1),
        (0.2, "count", rng.randint(1, 3)),
        (0.3, "heartwood", rng.random() < 0.5),
        (0.3, "moisture", rng.randint(8, 30)),
        (0.3, "came_from", rng.choice(NAMES)),
    ):
        if rng.random() < chance:
            board[key] = value
    return board


def _outline(rng: random.Random, given: Length, length: float, width: float) -> Block:
    """Return a rectangle, widths at stations, or offsets from a string."""
    kind = rng.random()
    if kind < 0.4:
        return {"length": given(length), "width": given(width)}
    count = rng.randint(3, 9)
    at = [given(length * place / (count - 1)) for place in range(count)]
    if kind < 0.7:
        return {"widths": {"at": at, "width": [given(width * rng.uniform(0.8, 1.1)) for _ in at]}}
    bow = rng.uniform(-0.15, 0.15) * width
    low = [bow * 4 * share * (1 - share) for share in (n / (count - 1) for n in range(count))]
    high = [given(y + width * rng.uniform(0.85, 1.0)) for y in low]
    return {"string": {"at": at, "lower": [given(y) for y in low], "upper": high}}


def _keep_out(rng: random.Random, given: Length, length: float, width: float) -> Block:
    kind, how = rng.choice(KINDS), rng.random()
    x, y = rng.uniform(0.05, 0.95) * length, rng.uniform(0.25, 0.75) * width
    if kind in ("split", "groove") or how < 0.15:
        end = [given(min(0.98 * length, x + rng.uniform(20, 200))), given(y + rng.uniform(-5, 5))]
        return {
            "kind": kind,
            "from": [given(x), given(y)],
            "to": end,
            "width": given(rng.choice([4, 8])),
        }
    if kind in ("rot", "stain", "worn edge") and how < 0.7:
        reach, count = rng.uniform(10, 50), rng.randint(3, 9)
        turns = [2 * math.pi * corner / count for corner in range(count)]
        ring = [
            [given(x + reach * math.cos(turn)), given(y + 0.6 * reach * math.sin(turn))]
            for turn in turns
        ]
        return {"kind": kind, "outline": ring}
    return {"kind": kind, "diameter": given(rng.choice([5, 8, 10, 14])), "at": [given(x), given(y)]}


def _part(rng: random.Random, given: Length, number: int) -> Block:
    thick = given(rng.choice([12, 16, 20, 28]))
    family = rng.choices([*SHAPES], [9, 3, 3, 3, 2])[0]
    shape = SHAPES[family](rng, given, thick)
    if rng.random() < 0.3:
        shape["slope_of_grain"] = f"1 in {rng.choice([8, 15, 25])}"
    part: Block = {
        "part": _name(rng, number),
        "family": family,
        "quantity": rng.randint(1, 5),
        "species": rng.sample(WOODS, rng.randint(1, 3)),
        "holes": rng.choice(["clear", "plugged", "hidden"]),
        "shape": shape,
    }
    for chance, key, value in (
        (0.2, "heartwood_only", True),
        (0.2, "run_out", f"1 in {rng.choice([6, 12])}"),
        (0.2, "value", rng.choice([0.5, 3, 10])),
    ):
        if rng.random() < chance:
            part[key] = value
    return part


def _plank(rng: random.Random, given: Length, thick: float) -> Block:
    length, width = rng.uniform(120, 1600), rng.uniform(30, 160)
    shape: Block = {"length": given(length), "thickness": thick}
    kind = rng.random()
    if kind < 0.6:
        shape["width"] = given(width)
        shape |= {"end_width": given(width * rng.uniform(0.5, 0.95))} if kind < 0.2 else {}
    else:
        count = rng.randint(3, 7)
        shape["widths"] = [
            [given(length * place / (count - 1)), given(width * rng.uniform(0.75, 1))]
            for place in range(count)
        ]
    for key, value in (
        ("right_cut", rng.randint(2, 25)),
        ("right_bevel", rng.randint(2, 20)),
        ("bearing", given(30)),
    ):
        shape |= {key: value} if rng.random() < 0.3 else {}
    return shape


def _beam(rng: random.Random, given: Length, thick: float) -> Block:
    span = rng.uniform(500, 2200)
    return {
        "span": given(span), "siding": thick, "moulding": given(rng.uniform(35, 70)),
        "camber": given(span * rng.uniform(0, 0.05)), "bearing": given(40),
        **({"half_from": given(0.1 * span)} if rng.random() < 0.3 else {}),
    }  # fmt: skip


def _knee(rng: random.Random, given: Length, thick: float) -> Block:
    beam, side = rng.uniform(120, 350), rng.uniform(120, 350)
    return {
        "kind": rng.choice(["hanging", "lodging", "quarter"]), "siding": thick,
        "beam_arm": given(beam), "side_arm": given(side), "tip_moulding": given(25.4),
        "throat": given(0.35 * min(beam, side) + 10), "angle": rng.randint(75, 115),
        "hand": rng.choice(["as drawn", "mirrored"]), "bolts": 1, "bolt": given(3.2),
        "bevel": rng.randint(-12, 15), "grain": rng.choice(["straight", "grown"]),
    }  # fmt: skip


def _floor(rng: random.Random, given: Length, thick: float) -> Block:
    half = rng.uniform(200, 600)
    return {
        "siding": thick, "moulding": given(rng.uniform(60, 110)), "half_span": given(half),
        "tip_moulding": given(35), "seat": given(40), "deadrise": rng.randint(0, 25),
        "frame_lap": given(0.4 * half), "limber_width": given(rng.choice([0, 20])),
        "keel_bolt": given(3.2), "frame_bolt": given(3.2), "bevel": rng.randint(0, 6),
        "grain": rng.choice(["straight", "grown"]),
    }  # fmt: skip


def _strake(rng: random.Random, given: Length, thick: float) -> Block:
    length = rng.uniform(400, 1600)
    return {
        "length": given(length), "width": given(rng.uniform(50, 160)), "thickness": thick,
        "spring": given(rng.uniform(0, 0.04) * length), "frame_spacing": given(250),
        "first_frame": given(60),
    }  # fmt: skip


SHAPES: dict[str, Callable[[random.Random, Length, float], Block]] = {
    "plank": _plank,
    "deck beam": _beam,
    "knee": _knee,
    "floor timber": _floor,
    "ceiling strake": _strake,
}
