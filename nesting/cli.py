"""The command line: which command runs, and how errors leave.

With :mod:`nesting.commands` the only module that prints. Nothing heavy is imported before a command
needs it, so that help comes at once.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Sequence

from nesting.arguments import make_parser
from nesting.commands.again import changes
from nesting.commands.book import book
from nesting.commands.forms import forms
from nesting.commands.judge import judge
from nesting.commands.loft import loft
from nesting.commands.looks import check, families, remeasure, schema, strength
from nesting.commands.model import boat, solids
from nesting.commands.nest import nest
from nesting.commands.own_code import ask_about_code
from nesting.commands.pattern import pattern
from nesting.commands.photo import marks, photo
from nesting.commands.plank import plank
from nesting.commands.shared import (
    ALL_PLACED,
    NO_FILE,
    PARTS_LEFT,
    PROJECT_WRONG,
    REFEREE_SAYS_NO,
    STOPPED,
    UNREAD,
    USAGE,
    say,
    told,
)
from nesting.errors import (
    ClusterError,
    DrawingError,
    OptionError,
    OutputError,
    ProjectFileError,
    RefereeError,
    SalvageNestError,
)
from nesting.processes.garbage import look_rarely
from nesting.processes.interrupt import Stage, Stopped, signals_answered, signals_end_quietly
from nesting.processes.leaving import leave
from nesting.streams import make_safe
from nesting.words import counted

__all__ = [
    "ALL_PLACED",
    "NO_FILE",
    "PARTS_LEFT",
    "PROJECT_WRONG",
    "REFEREE_SAYS_NO",
    "STOPPED",
    "UNREAD",
    "USAGE",
    "main",
    "run",
]


def main(arguments: Sequence[str] | None = None, *, begun: float | None = None) -> int:
    """Run one command and return its exit code.

    ``begun`` is the clock's time (``time.monotonic``) from which its seconds count, if not from
    now.
    """
    words = sys.argv[1:] if arguments is None else arguments
    parser = make_parser(words)
    given = parser.parse_args(words)
    given.unit = None
    given.begun = time.monotonic() if begun is None else begun
    if given.version:
        return _print_version()
    if given.command is None:
        parser.print_help()
        return USAGE
    try:
        with signals_answered(Stage.NO_PLAN):
            ask_about_code(given)
            return COMMANDS[given.command](given)
    except Stopped as stop:
        say(f"salvage-nest: {stop}", sys.stderr)
        return stop.code
    except SalvageNestError as error:
        if given.debug:
            raise
        say(f"salvage-nest: {told(_headline(error), given)}", sys.stderr)
        return _exit_code(error)
    except ImportError as error:
        if given.debug:
            raise
        return _told_library(error, given.command)


def _told_library(error: ImportError, command: str) -> int:
    """Say which library a command lacks; what the package itself lacks is a fault of its own."""
    library = (error.name or "").partition(".")[0].replace("vtkmodules", "vtk")
    if library in ("", "nesting", "parts"):
        raise error
    why = "is not installed" if isinstance(error, ModuleNotFoundError) else f"fails ({error})"
    text = f"{command} needs the library {library}, which {why} here: install salvage-nest anew"
    say(f"salvage-nest: {text}", sys.stderr)
    return NO_FILE


def _headline(error: SalvageNestError) -> str:
    if isinstance(error, ProjectFileError):
        more = "" if error.is_all else " and more"
        things = f"{counted(len(error.findings), 'thing')}{more}"
        return f"{things} to put right; nothing was written\n{error}"
    if isinstance(error, RefereeError):
        return f"the referee refused the plan, so nothing was written\n{error}"
    return str(error)


def _exit_code(error: SalvageNestError) -> int:
    if isinstance(error, RefereeError):
        return REFEREE_SAYS_NO
    if isinstance(error, OptionError):
        return USAGE
    is_out_of_reach = isinstance(error, OutputError | DrawingError | ClusterError)
    return NO_FILE if is_out_of_reach else PROJECT_WRONG


def _print_version() -> int:
    from importlib.metadata import version

    say(f"salvage-nest {version('salvage-nest')}")
    return ALL_PLACED


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "nest": nest,
    "check": check,
    "remeasure": remeasure,
    "plank": plank,
    "strength": strength,
    "families": families,
    "schema": schema,
    "solids": solids,
    "boat": boat,
    "changes": changes,
    "pattern": pattern,
    "loft": loft,
    "forms": forms,
    "marks": marks,
    "photo": photo,
    "judge": judge,
    "book": book,
}


def run() -> None:
    """Run as a program: a closed pipe ends it quietly, as it ends any other."""
    make_safe()
    look_rarely()
    try:
        code = _ended()
        sys.stdout.flush()
    except BrokenPipeError:
        code = UNREAD
    except OutputError as error:
        say(f"salvage-nest: {error}", sys.stderr)
        code = NO_FILE
    except KeyboardInterrupt:
        code = STOPPED
    signals_end_quietly()
    leave(code)


def _ended() -> int:
    """Return the exit code of a command, or of help: that leaves in a way of its own."""
    # What Python itself took to load counts too.
    begun = time.monotonic() - time.process_time()
    try:
        return main(begun=begun)
    except SystemExit as ended:
        return ended.code if isinstance(ended.code, int) else USAGE
