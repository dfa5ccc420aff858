"""The plan as one HTML file: for a browser in the shop, without server or network.

All that it shows is in it: figures as text made here, drawings as points that its scripts draw.
Its own policy lets no other script run in it and nothing be fetched.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Iterator
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from nesting.shop.folio import Folio
from nesting.shop.page_boat import boat_data
from nesting.shop.page_data import plan_data
from nesting.shop.page_tables import page_tables
from nesting.unseen import shown

if TYPE_CHECKING:
    from jinja2 import Environment

FILE = "page.html"

SCRIPTS = (
    "vendored/drawing-libraries.min.js",
    "plan.js",
    "drawing.js",
    "views.js",
    "vendored/boat-libraries.min.js",
    "boat.js",
    "begin.js",
)
"""In the order in which they run; each is a file below ``page_parts``."""

STYLE = "page.css"

HARMLESS = str.maketrans({"<": "\\u003c", ">": "\\u003e", "&": "\\u0026"})
"""Letters that might end the element that data stands in, as JSON may write them."""


def made(folio: Folio) -> Iterator[tuple[str, bytes]]:
    """Yield the page."""
    yield FILE, page(folio).encode()


def page(folio: Folio) -> str:
    """Return the page of a plan."""
    plan = plan_data(folio)
    boat = boat_data(folio, plan)
    scripts = [_part(name) for name in SCRIPTS]
    style = _part(STYLE)
    return (
        _templates()
        .get_template("page.html")
        .render(
            plan=plan,
            tables=page_tables(folio),
            stand=folio.stand,
            data=_as_json({**plan, "boat": boat}),
            scripts=scripts,
            style=style,
            policy=policy(scripts, style),
            licences=_part("vendored/LICENCES.txt"),
            has_boat=boat is not None,
        )
    )


def policy(scripts: list[str], style: str) -> str:
    """Return what a browser may do with the page: run just these scripts, fetch nothing."""
    allowed = " ".join(map(_digest, scripts))
    return (
        f"default-src 'none'; script-src {allowed}; style-src {_digest(style)}; "
        "img-src data:; connect-src 'none'; form-action 'none'; base-uri 'none'"
    )


def _digest(content: str) -> str:
    """Return the name of a content in a policy (W3C, Content Security Policy level 3)."""
    digest = hashlib.sha256(content.encode()).digest()
    return f"'sha256-{base64.b64encode(digest).decode()}'"


@cache
def _part(name: str) -> str:
    text = files("nesting.shop").joinpath("page_parts", name).read_text(encoding="utf-8")
    assert "</script" not in text and "<!--" not in text, f"{name} would end its element"
    return text


@cache
def _templates() -> Environment:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    folder = str(files("nesting.shop").joinpath("page_parts"))
    return Environment(
        loader=FileSystemLoader(folder),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_finalized,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _finalized(value: Any) -> Any:
    """Return what a template writes; what nobody sees is written out."""
    is_plain = isinstance(value, str) and not hasattr(value, "__html__")
    return shown(value) if is_plain else value


def _as_json(data: Any) -> str:
    """Return data as JSON that can stand in a script element, whatever names are in it."""
    text = json.dumps(_all_shown(data), separators=(",", ":"), ensure_ascii=True)
    return text.translate(HARMLESS)


def _all_shown(data: Any) -> Any:
    if isinstance(data, str):
        return shown(data)
    if isinstance(data, dict):
        return {key: _all_shown(value) for key, value in data.items()}
    if isinstance(data, list | tuple):
        return [_all_shown(value) for value in data]
    return data
