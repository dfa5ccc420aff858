"""Where a project stands: parts done, nested, to buy; wood left; scrap so far; day by day."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from nesting.boat_systems import SYSTEMS, system_of
from nesting.book.days import rising
from nesting.book.effects import Row
from nesting.book.pieces import copies_of, sound_pieces
from nesting.book.renamed import names_of
from nesting.book.still_given import still_given
from nesting.book.store import Book, time_here
from nesting.book.wood import as_json
from nesting.need import Misfit

Wants = Mapping[str, Row]
"""What the book has of each line of a parts list."""


@dataclass(frozen=True)
class SystemStanding:
    """Pieces of one system of the boat, of one project."""

    project: str
    system: str
    wanted: int
    done: int
    nested: int
    left_over: int
    spoiled: int

    @property
    def not_planned(self) -> int:
        """How many the reserved plan has not, or its boards give no more."""
        return self.wanted - self.done - self.nested - self.left_over


@dataclass(frozen=True)
class WoodLeft:
    """Boards in stock of one wood and thickness."""

    species: str
    thickness_mm: float
    boards: int
    offcuts: int
    area_mm2: float
    volume_mm3: float
    reserved: Mapping[str, int]
    unchecked: int


@dataclass(frozen=True)
class Day:
    """What stood at the end of a day: areas of wood, all in all."""

    date: str
    stock_mm2: float
    parts_mm2: float
    lost_mm2: float


@dataclass(frozen=True)
class Standing:
    """All of it.

    Attributes
    ----------
    to_buy
        Part, how many, why, of each project's reserved plan.
    bungs, bolts
        Diameter, and how many pieces that are still to be sawn want.
    scrap_percent
        Of all wood sawn so far, offcuts that came back taken off; None before anything was.
    planned_percent
        What each project's reserved plan reckons with.
    odd
        Project, piece, the board that gave it and why it does not count, of each piece that was
        sawn and is not what the parts list asks for; lengths in mm.
    """

    systems: tuple[SystemStanding, ...]
    wood: tuple[WoodLeft, ...]
    to_buy: tuple[tuple[str, str, int, str], ...]
    bungs: Mapping[float, int]
    bolts: Mapping[float, int]
    scrap_percent: float | None
    planned_percent: Mapping[str, float]
    days: tuple[Day, ...]
    odd: tuple[tuple[str, str, str, str], ...]


def standing(book: Book, project: str | None = None, plan: Row | None = None) -> Standing:
    """Return where a project stands, or all projects of a book.

    ``plan`` is one of that project to go by, in place of the one that is reserved.
    """
    names = [name for (name,) in book.asked("SELECT name FROM project ORDER BY name")]
    names = [name for name in names if project in (None, name)]
    plans = {row["project"]: row["body"] for row in book.rows("plan") if row["project"] in names}
    if project is not None and plan is not None:
        plans[project] = plan
    wants = {name: _wants(book, name) for name in names}
    sawn = {name: _sawn(book, name, plans.get(name, {}), wants[name]) for name in names}
    bought = {name: _to_buy(plans.get(name, {}), wants[name], sawn[name]) for name in names}
    systems = [
        one for name in names for one in _systems(book, name, wants[name], sawn[name], bought[name])
    ]
    to_buy = [(name, *one) for name in names for one in bought[name]]
    planned = {
        name: plan["scrap_percent"] for name, plan in plans.items() if "scrap_percent" in plan
    }
    return Standing(
        tuple(systems), tuple(_wood(book)), tuple(to_buy), _bungs(plans, sawn),
        _bolts(wants, sawn), _scrap(book, project), planned, tuple(_days(book)),
        tuple((name, *one) for name in names for one in sawn[name].odd),
    )  # fmt: skip


@dataclass(frozen=True)
class _Sawn:
    """What a project has sawn: copies of each part that count, what its plan still gives, odd ones.

    ``planned`` are labels of pieces that are not sawn yet; ``odd`` has label, board and what speaks
    against it.
    """

    copies: Mapping[str, set[int]]
    planned: set[str]
    odd: tuple[tuple[str, str, str], ...]


def _wants(book: Book, project: str) -> Wants:
    return {row["part"]: row["body"] for row in book.rows("want", "project = ?", project)}


def _sawn(book: Book, project: str, plan: Row, wants: Wants) -> _Sawn:
    pieces, odd = sound_pieces(book, project, wants=wants)
    copies = copies_of(row for row in pieces if row["number"] not in odd)
    return _Sawn(
        copies,
        still_given(book, project, plan, wants) - _labels(wants, copies),
        tuple(
            (row["body"]["label"], row["board"], odd[row["number"]])
            for row in pieces if row["number"] in odd
        ),
    )  # fmt: skip


def _labels(wants: Wants, copies: Mapping[str, set[int]]) -> set[str]:
    """Return what copies of parts are called."""
    return {
        label
        for part, own in copies.items()
        for copy, label in enumerate(wants[part]["labels"], start=1)
        if copy in own
    }


def _still(wants: Wants, part: str, found: _Sawn) -> list[str]:
    """Return the labels of a part's pieces that are not sawn yet."""
    done = found.copies.get(part, set())
    labels = enumerate(wants[part]["labels"], start=1)
    return [label for copy, label in labels if copy not in done]


def _to_buy(plan: Row, wants: Wants, found: _Sawn) -> list[tuple[str, int, str]]:
    """Return part, how many and why of what a plan leaves to be bought, of what is still wanted.

    What is of a later stage, and has wood in view, is not bought.
    """
    missing = Counter[str]()
    for part in wants:
        missing[part] = sum(label not in found.planned for label in _still(wants, part, found))
    rows = list[tuple[str, int, str]]()
    for part, count, reason in plan.get("left_over", []):
        own = min(count, missing[part])
        if own > 0 and reason != Misfit.LATER:
            rows.append((part, own, reason))
            missing[part] -= own
    return rows


def _systems(
    book: Book, project: str, wants: Wants, found: _Sawn, bought: Sequence[tuple[str, int, str]]
) -> list[SystemStanding]:
    left = Counter[str]()
    for part, count, _ in bought:
        left[part] += count
    spoiled = Counter(
        part for (part,) in book.asked(
            "SELECT part FROM piece WHERE project = ? AND state = 'spoiled'", project
        )
    )  # fmt: skip
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    for part, body in wants.items():
        of = counts[system_of(body["family"])]
        of["wanted"] += body["quantity"]
        of["done"] += len(found.copies.get(part, ()))
        of["nested"] += sum(label in found.planned for label in _still(wants, part, found))
        of["left"] += left[part]
        of["spoiled"] += spoiled[part]
    keys = ("wanted", "done", "nested", "left", "spoiled")
    order = [*SYSTEMS, *(name for name in counts if name not in SYSTEMS)]
    return [
        SystemStanding(
            project, name, *(counts[name][key] for key in keys)
        )
        for name in order if name in counts
    ]  # fmt: skip


def _wood(book: Book) -> list[WoodLeft]:
    rows = book.asked(
        "SELECT species, thickness_mm, held_by, count(*), "
        "total(json_extract(body, '$.came') <> 'recorded'), total(area_mm2), total(volume_mm3), "
        "total(json_extract(body, '$.checked') = '') "
        "FROM board WHERE state = 'in stock' GROUP BY 1, 2, 3 ORDER BY 1, 2"
    )
    groups: dict[tuple[str, float], list[Sequence[float | str | None]]] = defaultdict(list)
    for species, thick, *rest in rows:
        groups[species, thick].append(rest)
    return [
        WoodLeft(
            species, thick, int(_total(some, 1)), int(_total(some, 2)),
            _total(some, 3), _total(some, 4),
            {str(row[0]): int(str(row[1])) for row in some if row[0] is not None},
            int(_total(some, 5)),
        )
        for (species, thick), some in groups.items()
    ]  # fmt: skip


def _total(rows: Sequence[Sequence[float | str | None]], at: int) -> float:
    return sum(float(row[at] or 0) for row in rows)


def _bungs(plans: Mapping[str, Row], sawn: Mapping[str, _Sawn]) -> dict[float, int]:
    """Return the bungs that pieces of reserved plans still want."""
    found = Counter[float]()
    for name, plan in plans.items():
        for label, diameter in plan.get("bungs", []):
            found[diameter] += label in sawn[name].planned
    return {size: count for size, count in sorted(found.items()) if count}


def _bolts(wants: Mapping[str, Wants], sawn: Mapping[str, _Sawn]) -> dict[float, int]:
    """Return the bolts that pieces still to be sawn are bored for."""
    found = Counter[float]()
    for name, own in wants.items():
        for part, body in own.items():
            still = body["quantity"] - len(sawn[name].copies.get(part, ()))
            for diameter in body.get("bolts", []):
                found[diameter] += still
    return {size: count for size, count in sorted(found.items()) if count}


def _scrap(book: Book, project: str | None) -> float | None:
    """Return how much of all wood that was sawn is neither in a part nor back in stock.

    An offcut that was sawn itself counts by what came of that, one that another project sawed as
    what it was to this one: wood that came back.
    """
    given = () if project is None else (as_json(names_of(book, project)),)
    own = "1" if project is None else "{} IN (SELECT value FROM json_each(?1))"
    parts, lost = book.asked(
        "SELECT total(parts_mm2), total(lost_mm2) FROM step WHERE kind IN ('cut', 'spoiled', "
        "'used') AND number NOT IN (SELECT undoes FROM step WHERE undoes IS NOT NULL) AND "
        + own.format("project"), *given,
    )[0]  # fmt: skip
    whose = own.format("json_extract(board.body, '$.by')")
    back = book.asked(
        "WITH RECURSIVE back (name) AS (SELECT name FROM board WHERE "
        f"json_extract(body, '$.came') IN ('offcut', 'returned') AND {whose} UNION "
        f"SELECT board.name FROM board JOIN back ON board.parent = back.name WHERE {whose}) "
        "SELECT total(area_mm2) FROM board WHERE name IN (SELECT name FROM back) AND "
        "(state <> 'sawn up' OR name NOT IN (SELECT board FROM piece WHERE "
        f"{own.format('project')}))", *given,
    )[0][0]  # fmt: skip
    sawn = parts + lost + back
    return 100.0 * lost / sawn if sawn > 0 else None


def _days(book: Book) -> list[Day]:
    """Return what stood at the end of each day, by the calendar of whoever reads it."""
    rows = book.asked("SELECT at, stock_mm2, parts_mm2, lost_mm2 FROM step ORDER BY number")
    dates = rising([time_here(at)[:10] for at, *_ in rows])
    days, sums = dict[str, Day](), (0.0, 0.0, 0.0)
    for date, (_, *more) in zip(dates, rows, strict=True):
        sums = sums[0] + more[0], sums[1] + more[1], sums[2] + more[2]
        days[date] = Day(date, *sums)
    return list(days.values())
