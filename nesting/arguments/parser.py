"""The command line's words: commands, options, and what help says of them."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NoReturn

from nesting.arguments.of_boards import add_forms, add_marks, add_photo
from nesting.arguments.of_boats import add_boat, add_judge, add_loft
from nesting.arguments.of_book import add_book
from nesting.arguments.of_parts import add_families, add_schema, add_solids
from nesting.arguments.of_patterns import add_pattern
from nesting.arguments.of_plans import (
    add_changes,
    add_check,
    add_nest,
    add_plank,
    add_remeasure,
    add_strength,
)
from nesting.cautions import IN_BRIEF
from nesting.unseen import shown

PURPOSE = "Find which salvaged board gives which part of a new boat, and draw the cut sheets."

EXAMPLES = f"""examples:
  salvage-nest nest demo_projects/first_cut/project.yaml --seconds 10
  salvage-nest check my-boat.yaml

exit codes: 0 done, a plan written, parts left over or not; 2 wrong command; 3 project file wrong;
4 written, but parts are left over and --must-place-all was given; 5 cannot read or write; 6 the
referee refused; 130, 143, 129 stopped by Ctrl-C, SIGTERM, SIGHUP: from the first plan on the best
is written, and once more while it is written leaves the folder as it was; 141 what reads the
output has ended, as head does.

{IN_BRIEF}"""


COMMANDS: Mapping[str, Callable[[Any], None]] = {
    "nest": add_nest,
    "check": add_check,
    "remeasure": add_remeasure,
    "plank": add_plank,
    "strength": add_strength,
    "families": add_families,
    "schema": add_schema,
    "solids": add_solids,
    "boat": add_boat,
    "changes": add_changes,
    "pattern": add_pattern,
    "loft": add_loft,
    "judge": add_judge,
    "forms": add_forms,
    "marks": add_marks,
    "photo": add_photo,
    "book": add_book,
}
"""What adds each command, in the order in which help tells them."""


class _Parser(argparse.ArgumentParser):
    """A parser that repeats nothing on the terminal that cannot be seen.

    What a command does not know it says itself, with its own usage, not that of all commands.
    """

    def error(self, message: str) -> NoReturn:
        super().error(shown(message))

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> Any:
        """Parse as always; a word that is not known is an error here already."""
        given, unknown = super().parse_known_args(args, namespace)
        if unknown:
            self.error(f"not known here: {' '.join(unknown)}{self._near(unknown)}")
        return given, unknown

    def _near(self, unknown: Sequence[str]) -> str:
        """Return which options may be meant."""
        from difflib import get_close_matches

        options = [name for name in self._option_string_actions if name.startswith("--")]
        words = [word.partition("=")[0] for word in unknown if word.startswith("-")]
        near = [get_close_matches(word, options, n=1, cutoff=0.6) for word in words]
        found = list(dict.fromkeys(name for some in near for name in some))
        return f"; did you mean {', '.join(found)}?" if found else ""


def make_parser(arguments: Sequence[str] = ()) -> argparse.ArgumentParser:
    """Return the parser, with all commands or the one that the arguments begin with.

    Building it imports nothing and changes nothing; all commands take a hundredth of a second.
    """
    parser = _Parser(
        prog="salvage-nest",
        description=PURPOSE,
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("-V", "--version", action="store_true", help="print the version")
    parser.add_argument("--debug", action="store_true", help="show where an error arose")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")
    first = next((word for word in arguments if not word.startswith("-")), "")
    for add in [COMMANDS[first]] if first in COMMANDS else COMMANDS.values():
        add(commands)
    return parser
