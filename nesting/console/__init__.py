"""What the terminal shows: the account as tables, work and search as a live line.

The only room that knows rich. Nothing here prints by itself: the command line hands in the
consoles.
"""

from typing import TYPE_CHECKING

from nesting.console.terminal import cautions, terminal, text_table
from nesting.late_names import late_names

if TYPE_CHECKING:
    from nesting.console.live import ProgressLine, live_search, live_work
    from nesting.console.plan_report import report
    from nesting.console.strength_tables import strength_report

__all__ = [
    "ProgressLine",
    "cautions",
    "live_search",
    "live_work",
    "report",
    "strength_report",
    "terminal",
    "text_table",
]

_HOMES = {
    "ProgressLine": "nesting.console.live",
    "live_search": "nesting.console.live",
    "live_work": "nesting.console.live",
    "report": "nesting.console.plan_report",
    "strength_report": "nesting.console.strength_tables",
}
"""Loaded when asked for: a table of words is shown without all that reports a plan."""

if not TYPE_CHECKING:  # A type checker would take any name for one of these.
    __getattr__ = late_names(__name__, _HOMES)
