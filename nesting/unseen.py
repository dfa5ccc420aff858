r"""Characters that nobody sees, and that change what is seen: one rule for all of them.

Control codes, marks of direction, joiners of no width, odd spaces and halves of characters are
refused wherever a file is read, with the place. What comes from elsewhere (a drawing, a summary,
a path) is shown with each of them written out, as ``\u202e``. So none reaches a terminal, a
sheet or a summary.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping

LONGEST_SHOWN = 80
"""Characters of a text that a message repeats: a line; more tells nobody anything."""

MOST_SHOWN = 6
"""Items of a list that a message repeats."""


_BLANK = re.compile(
    "[\u034f\u115f\u1160\u17b4\u17b5\u180b-\u180f\u2800\u3164\ufe00-\ufe0f\uffa0"
    "\U000e0100-\U000e01ef]"
)
"""What counts as printed and shows nothing: fillers, joiners, selectors of variants (the property
Default_Ignorable_Code_Point of the Unicode standard, from memory), and the blank of Braille."""


def is_seen(text: str) -> bool:
    """Return whether all of a text is printed, or a plain space.

    What is not printed are the classes of the Unicode standard other and separator (control,
    format, surrogate, private use, unassigned, every space but U+0020), and ``_BLANK``.
    """
    return text.isprintable() and (text.isascii() or _BLANK.search(text) is None)


def is_unseen(letter: str) -> bool:
    """Return whether a character is none that is printed, nor a plain space."""
    return not is_seen(letter)


def unseen_in(text: str) -> str | None:
    r"""Return what the first such character in a text is, in words, or None.

    >>> unseen_in("deck plank 7"), unseen_in("deck\u202eplank")
    (None, 'U+202E (right-to-left override)')
    """
    if is_seen(text):
        return None
    letter = next(letter for letter in text if is_unseen(letter))
    usual = _CONTROLS.get(letter) or _CLASSES.get(unicodedata.category(letter), "")
    return f"U+{ord(letter):04X} ({unicodedata.name(letter, usual).casefold()})"


def same_letters(text: str) -> str:
    r"""Return a text with every letter written the one way (Unicode, normalization form C).

    An accented letter may be one character or two that look the same: names are compared so.

    >>> same_letters("be\u0301a") == "b\u00e9a"
    True
    """
    return text if text.isascii() else unicodedata.normalize("NFC", text)


def looked_up(name: str) -> str:
    r"""Return what a name is looked up by where capitals do not matter: same letters, small ones.

    >>> looked_up("NA\u0308GEL") == looked_up("n\u00e4gel")
    True
    """
    return same_letters(name).casefold()


_CONTROLS = {"\n": "line break", "\r": "line break", "\t": "tab", "\x1b": "escape"}
_CLASSES = {
    "Cc": "control code",
    "Cs": "half a character",
    "Co": "private use",
    "Cn": "not assigned",
}


def shown(text: str) -> str:
    r"""Return a text with what nobody sees written out; line breaks stay.

    >>> shown("deck\u202eplank\x1b[31m\n7")
    'deck\\u202eplank\\x1b[31m\n7'
    """
    if is_seen(text):
        return text
    return "".join(
        code_of(letter) if is_unseen(letter) and letter != "\n" else letter for letter in text
    )


def code_of(letter: str) -> str:
    r"""Return a character written out by its code in Unicode.

    >>> print(code_of("\u202e"), code_of("\u0e1a"))
    \u202e \u0e1a
    """
    return letter.encode("unicode_escape").decode("ascii")


def one_line(text: str) -> str:
    r"""Return a text as a message names something by it: short, and on one line.

    >>> one_line("BLO\nCK")
    'BLO\\nCK'
    """
    return short(shown(text).replace("\n", r"\n"))


def short(text: str) -> str:
    """Return a text no longer than a message has room for.

    >>> short("keel " * 40)
    'keel keel keel keel keel keel keel kee...eel keel keel keel keel keel keel keel '
    """
    if len(text) <= LONGEST_SHOWN:
        return text
    half = (LONGEST_SHOWN - 3) // 2
    return f"{text[:half]}...{text[half + 3 - LONGEST_SHOWN :]}"


def quoted(given: object) -> str:
    """Return what was given as a message repeats it: text in quotes, no longer than a line.

    >>> quoted("keel"), quoted(True), quoted(None), quoted({"keel": None})
    ("'keel'", 'true', 'nothing', 'a block of keys')
    >>> quoted([1, None, "keel"])
    "[1, nothing, 'keel']"
    """
    if given is None:
        return "nothing"
    if isinstance(given, bool):
        return str(given).lower()
    if isinstance(given, Mapping):
        return "a block of keys"
    if isinstance(given, list | tuple):
        more = [", ..."] if len(given) > MOST_SHOWN else []
        return short(f"[{', '.join(map(quoted, given[:MOST_SHOWN]))}{''.join(more)}]")
    if type(given).__repr__ is object.__repr__:  # It says but where in memory it lies.
        return f"a thing of the kind {type(given).__name__}"
    return short(shown(repr(given)))
