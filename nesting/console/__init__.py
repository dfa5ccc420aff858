"""What the terminal shows: the account as tables, work and search as a live line.

The only room that knows rich. Nothing here prints by itself: the command line hands in the
consoles.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from nesting.console.terminal import cautions, terminal, text_table

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
    "ProgressLine": "live", "live_search": "live", "live_work": "live",
    "report": "plan_report", "strength_report": "strength_tables",
}  # fmt: skip

if not TYPE_CHECKING:  # A type checker would take any name for one of these.

    def __getattr__(name: str) -> Any:
        """Load what is asked for: a table of words is shown without all that reports a plan."""
        if name not in _HOMES:
            raise AttributeError(f"module 'nesting.console' has no attribute {name!r}")
        found = getattr(import_module(f"nesting.console.{_HOMES[name]}"), name)
        globals()[name] = found
        return found
