"""The command line's words: commands, options, and what help says of them.

Building the parser imports nothing heavy and changes nothing.
"""

from nesting.arguments.of_plans import AGAIN_SECONDS, USUAL_SECONDS
from nesting.arguments.parser import make_parser

__all__ = ["AGAIN_SECONDS", "USUAL_SECONDS", "make_parser"]
