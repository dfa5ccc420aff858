"""What differs from the last plan, on paper: ``changes.pdf``, made where there is a last plan."""

from __future__ import annotations

from collections.abc import Iterator

from nesting.changes import changes_between, plan_as_last
from nesting.sheets.changes_view import changes_drawing
from nesting.sheets.pdf import pdf_content
from nesting.sheets.svg import svg_text
from nesting.shop.folio import Folio


def made(folio: Folio) -> Iterator[tuple[str, bytes]]:
    """Yield the drawing of what differs, for paper and for a browser."""
    if folio.last is None:
        return
    found = changes_between(folio.last, plan_as_last(folio.plan), folio.job.stock)
    title = f"{folio.job.name}: what differs from the last plan"
    drawing = changes_drawing(found, folio.job.stock, folio.job.needs, title=title)
    yield "changes.pdf", pdf_content([drawing])
    yield "changes.svg", svg_text(drawing).encode()
