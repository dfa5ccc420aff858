"""What the terminal shows: the account as tables, work and search as a live line.

The only room that knows rich. Nothing here prints by itself: the command line hands in the
consoles.
"""

from nesting.console.live import ProgressLine, live_search, live_work
from nesting.console.plan_report import report
from nesting.console.strength_tables import strength_report
from nesting.console.terminal import cautions, terminal, text_table

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
