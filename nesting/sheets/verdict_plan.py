"""A judgement as a picture: what each member is worth beside what its hours cost."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from nesting.sheets.drawing import Anchor, Drawing, Entity, Polyline, Role, Text
from nesting.sheets.lettering import text_width

LETTER_MM, HEADING_MM = 2.5, 5.0
ROW_MM, BAR_MM = 11.0, 3.2
SIDE_MM, TOP_MM, FOOT_MM = 8.0, 26.0, 8.0
BARS_MM, BETWEEN_MM = 110.0, 5.0
HATCH_MM = 2.0


@dataclass(frozen=True)
class VerdictRow:
    """A member in the picture; worth and cost are money."""

    member: str
    verdict: str
    worth: float
    cost: float


def verdict_plan(rows: Sequence[VerdictRow], *, title: str, currency: str) -> Drawing:
    """Return a sheet with a pair of bars for each member: worth filled, cost of hours hatched.

    It is as high as it must be; on paper it is scaled to fit.
    """
    names = max(text_width(row.member, LETTER_MM) for row in rows) + BETWEEN_MM
    verdicts = max(text_width(row.verdict, LETTER_MM) for row in rows) + BETWEEN_MM
    begin = SIDE_MM + names + verdicts
    figures = max(text_width(_figure(row.worth), LETTER_MM) for row in rows) + BETWEEN_MM
    most = max(1.0, *(value for row in rows for value in (row.worth, row.cost)))
    width = begin + BARS_MM + figures + text_width(f"hours {_figure(most)}", LETTER_MM)
    height = TOP_MM + ROW_MM * len(rows) + FOOT_MM
    entities: list[Entity] = [
        Text(title, (SIDE_MM, height - 10.0), HEADING_MM, Role.TITLE),
        Text(_key(currency), (SIDE_MM, height - 18.0), LETTER_MM, Role.NOTE),
    ]
    for place, row in enumerate(rows):
        y = height - TOP_MM - ROW_MM * (place + 1)
        middle = y + ROW_MM / 2 - LETTER_MM / 2
        entities.append(Text(row.member, (SIDE_MM, middle), LETTER_MM, Role.TABLE))
        entities.append(Text(row.verdict, (SIDE_MM + names, middle), LETTER_MM, Role.TABLE))
        entities.extend(_bars(row, begin, y, BARS_MM / most))
        entities.append(Polyline(((SIDE_MM, y), (width - SIDE_MM, y)), Role.GRID))
    corners = ((0.0, 0.0), (width, 0.0), (width, height), (0.0, height))
    entities.append(Polyline(corners, Role.FRAME, is_closed=True))
    return Drawing(title, tuple(entities), (0.0, 0.0, width, height), 1.0, "as large as it is")


def _key(currency: str) -> str:
    money = f", in {currency}" if currency else ""
    return f"Upper bar, full: what its wood saves{money}. Lower bar, hatched: what its hours cost."


def _figure(value: float) -> str:
    return f"{value:.0f}"


def _bars(row: VerdictRow, x: float, y: float, scale: float) -> Iterator[Entity]:
    upper, lower = y + ROW_MM / 2 + 0.6, y + ROW_MM / 2 - 0.6 - BAR_MM
    for value, foot, step in ((row.worth, upper, 0.35), (row.cost, lower, HATCH_MM)):
        end = x + max(value * scale, 0.2)
        corners = ((x, foot), (end, foot), (end, foot + BAR_MM), (x, foot + BAR_MM))
        yield Polyline(corners, Role.PART, is_closed=True)
        at = x + step
        while at < end:
            yield Polyline(((at, foot), (at, foot + BAR_MM)), Role.SECTION)
            at += step
        yield Text(
            _figure(value), (end + 1.5, foot + BAR_MM / 2 - LETTER_MM / 2), LETTER_MM, Role.TABLE,
            Anchor.LEFT,
        )  # fmt: skip
