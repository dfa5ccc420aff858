"""What one of several pieces of a part is called: by its side, or by its number."""

from __future__ import annotations

from collections.abc import Collection, Sequence

STARBOARD, PORT = "starboard", "port"

_MARKS = (('"', '"'), ("'", "'"), ("\u201c", "\u201d"), ("\u2018", "\u2019"))
"""Quotation marks, the first and the last."""


def said(name: str, known: Collection[str]) -> str:
    """Return which name is meant: as it is given, else without quotation marks about it.

    Marks within those that a shell takes away come with the name.

    Examples
    --------
    >>> said('"cleat, 1 of 2"', ["cleat, 1 of 2"]), said('"Nick"', ['"Nick"', "Nick"])
    ('cleat, 1 of 2', '"Nick"')
    """
    bare = name[1:-1].strip() if name[:1] + name[-1:] in map("".join, _MARKS) else name
    return bare if name not in known and bare in known else name


def piece_name(
    part: str,
    copy: int,
    quantity: int,
    hands: Sequence[str] = (),
    mirrored: Sequence[bool] = (),
) -> str:
    """Return the name of one piece, counted from 1.

    Parameters
    ----------
    quantity
        How many are sawn in all.
    hands
        Sides of the boat that the part is wanted for, in the order of its places; as many pieces
        are sawn for each. None where it knows no sides.
    mirrored
        Whether each piece is the outline's mirror image; none if all are as drawn.

    Examples
    --------
    >>> piece_name("knee", 1, 1), piece_name("knee", 2, 4)
    ('knee', 'knee, 2 of 4')
    >>> piece_name("knee", 2, 2, ("starboard", "port")), piece_name("clamp", 3, 4, ("s", "p"))
    ('knee, port', 'clamp, p, 1 of 2')
    >>> piece_name("bracket", 2, 2, mirrored=(False, True))
    'bracket, 2 of 2, mirrored'
    """
    if quantity == 1:
        return part
    each = quantity // len(hands) if hands else 0
    if each and each * len(hands) == quantity:
        place, number = divmod(copy - 1, each)
        if place < len(hands):
            own = f", {number + 1} of {each}" if each > 1 else ""
            return f"{part}, {hands[place]}{own}"
    hand = ", mirrored" if any(mirrored[copy - 1 : copy]) else ""
    return f"{part}, {copy} of {quantity}{hand}"
