"""From the wishes of a project file to wishes of pieces and boards, every name looked up."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType

from nesting.need import Need
from nesting.project.entry import Entry
from nesting.project.setting import Setting
from nesting.project.stock import blocks_in
from nesting.project.wish_entry import WishEntry
from nesting.project.wording import did_you_mean, near_match
from nesting.stock.board import Board
from nesting.unseen import quoted, same_letters, short
from nesting.wishes import (
    Fixed,
    FromBoards,
    Later,
    Matched,
    Matching,
    Piece,
    Used,
    Wish,
    Wishes,
    name_of,
    names_of,
    pieces_of,
)
from nesting.yaml_file.scalars import as_written

LEAF = re.compile(r"(.*)/\d+")
"""Name of a leaf of a board that is resawn."""


def read_wishes(
    top: Entry,
    setting: Setting,
    *,
    stock: Sequence[Board],
    needs: Sequence[Need],
    part_entries: Mapping[str, Entry],
    stage: int | None = None,
    known: Mapping[str, str] = MappingProxyType({}),
) -> tuple[Wishes, dict[str, Entry]]:
    """Return a project's wishes, and each one's entry by its title; what is wrong is noted.

    Parameters
    ----------
    known
        Boards that a wish may name beside the stock, each with what it was on the old boat: those
        of the stock book.
    """
    told = {board.name: board.member for board in stock}
    boards = {**told, **{name: known[name] for name in known if name not in told}}
    names = _Names(top, boards, needs, part_entries)
    rows = names.groups()
    found: list[Wish | Later] = []
    entries: dict[str, Entry] = {}
    for number, data in blocks_in(top.data, "wishes"):
        title = f"wish {number + 1}"
        entry = top.below("wishes", number, data=data, title=title)
        setting.tally.add("wishes", 1, entry)
        read = entry.validated(WishEntry, setting.context)
        if read is not None:
            entries[title] = entry
            found.extend(_wishes_of(read, entry, title, names))
    _note_contradictions(found, entries, names)
    wishes = Wishes(
        fixed=tuple(wish for wish in found if isinstance(wish, Fixed)),
        from_boards=tuple(wish for wish in found if isinstance(wish, FromBoards)),
        used=tuple(wish for wish in found if isinstance(wish, Used)),
        matched=tuple(wish for wish in found if isinstance(wish, Matched)),
        later=tuple(wish for wish in found if isinstance(wish, Later)),
        rows=rows,
        leaves=names.leaves,
        stage=stage,
    )
    if needs and len(wishes.not_yet) == sum(need.quantity for need in needs):
        what = f"no piece is needed in stage {stage}: all are of later ones"
        top.note(("stage",), f"stage: {what}")
    return wishes, entries


def _wishes_of(read: WishEntry, entry: Entry, title: str, names: _Names) -> Iterator[Wish | Later]:
    """Yield the wish of an entry; nothing where a name in it is wrong."""
    if read.fixed:
        pieces = names.pieces(entry, "fixed", read.fixed)
        if pieces:
            yield Fixed(title, pieces, price_mm2=read.price)
    elif read.match:
        pieces = names.pieces(entry, "match", read.match)
        if pieces and names.may_match(entry, pieces, read.how):
            yield Matched(title, pieces, read.how, price_mm2=read.price)
    elif read.board:
        boards = names.boards(entry, "board", read.board)
        if boards and read.use is not None:
            yield Used(title, boards, read.use, price_mm2=read.price)
    else:
        yield from _of_part(read, entry, title, names)


def _of_part(read: WishEntry, entry: Entry, title: str, names: _Names) -> Iterator[Wish | Later]:
    pieces = names.pieces(entry, "part", read.part)
    if read.stage is not None:
        if pieces:
            yield Later(title, pieces, read.stage)
        return
    key, given = ("not_from", read.not_from) if read.not_from else ("from", read.from_)
    boards = names.boards(entry, key, given)
    if pieces and boards:
        yield FromBoards(title, pieces, boards, is_off=key == "not_from", price_mm2=read.price)


def _note_contradictions(
    found: Sequence[Wish | Later], entries: Mapping[str, Entry], names: _Names
) -> None:
    """Note pieces that are in two stages, fixed twice, or wished from one board and from two, and
    boards used in two ways.
    """
    for kind, key in ((Later, "part"), (Fixed, "fixed")):
        first: dict[Piece, str] = {}
        for wish in found:
            if isinstance(wish, kind):
                for piece in wish.pieces:
                    title = first.setdefault(piece, wish.title)
                    if title != wish.title:
                        called = name_of(piece, names.needs)
                        what = f"{called} is in {title} already; name it once"
                        entries[wish.title].note((key,), f"{key}: {what}")
    _note_one_and_two(found, entries, names)
    of_board: dict[str, str] = {}
    for wish in found:
        if isinstance(wish, Used):
            for board in wish.boards:
                title = of_board.setdefault(board, wish.title)
                if title != wish.title:
                    what = f"{board} is used as {title} says already; say it once"
                    entries[wish.title].note(("board",), f"board: {what}")


def _note_one_and_two(
    found: Sequence[Wish | Later], entries: Mapping[str, Entry], names: _Names
) -> None:
    """Note mirrored pieces that must come from one board too: they lie on two leaves."""
    matched = [wish for wish in found if isinstance(wish, Matched)]
    ones = [wish for wish in matched if wish.is_must and wish.how is Matching.ONE]
    alone = {piece: wish.title for wish in ones for piece in wish.pieces}
    for wish in matched:
        both = [piece for piece in wish.pieces if piece in alone]
        if wish.how is Matching.MIRRORED and both:
            what = f"mirrored pieces lie on two leaves, and {alone[both[0]]} wants "
            what += f"{name_of(both[0], names.needs)} from one board: leave one of both out"
            entries[wish.title].note(("match",), f"match: {what}")


@dataclass
class _Names:
    """All that a wish may name; ``stock`` has what each board was on the old boat."""

    top: Entry
    stock: Mapping[str, str]
    needs_given: Sequence[Need]
    part_entries: Mapping[str, Entry]
    _groups: dict[str, tuple[str, ...]] = field(default_factory=dict)

    @cached_property
    def needs(self) -> dict[str, Need]:
        """Needs by their parts' names."""
        return {need.part: need for need in self.needs_given}

    @cached_property
    def _labels(self) -> dict[str, Piece]:
        pieces = (piece for need in self.needs_given for piece in pieces_of(need))
        return {name_of(piece, self.needs): piece for piece in pieces}

    @cached_property
    def leaves(self) -> tuple[tuple[str, ...], ...]:
        """The leaves of each board that is resawn, from its recorded face."""
        rows: dict[str, list[str]] = {}
        for board in self.stock:
            if leaf := LEAF.fullmatch(board):
                rows.setdefault(leaf[1], []).append(board)
        return tuple(tuple(row) for row in rows.values() if len(row) > 1)

    def groups(self) -> tuple[tuple[str, ...], ...]:
        """Read the groups of boards and return the boards of each."""
        given = self.top.data.get("groups")
        for name, members in (given if isinstance(given, dict) else {}).items():
            is_list = isinstance(members, list)
            listed = members if is_list else [members]
            entry = self.top.below("groups", name, data=listed, title=f"group {short(str(name))}")
            called = same_letters(str(as_written(name)))
            if called in self.stock or called in self._members:
                entry.note((), f"{quoted(name)} is the name of a board or member; give another")
            if not listed:
                entry.note((), "it holds no board: name some, or leave it out")
            self._groups[called] = tuple(
                dict.fromkeys(
                    board
                    for number, one in enumerate(listed)
                    for board in self._boards(
                        entry,
                        (number,) if is_list else (),
                        str(as_written(one)),
                        "",
                    )
                )
            )
        return tuple(row for row in self._groups.values() if len(row) > 1)

    @cached_property
    def _members(self) -> dict[str, tuple[str, ...]]:
        found: dict[str, list[str]] = {}
        for board, member in self.stock.items():
            if member:
                found.setdefault(same_letters(member), []).append(board)
        return {member: tuple(names) for member, names in found.items()}

    def boards(self, entry: Entry, key: str, given: Sequence[str]) -> tuple[str, ...]:
        """Return the boards that names stand for: boards, those made of one, groups, members."""
        found = [
            board
            for number, name in enumerate(given)
            for board in self._boards(entry, (key, number), name, f"{key}: ")
        ]
        return tuple(dict.fromkeys(found))

    def _boards(
        self, entry: Entry, loc: tuple[str | int, ...], name: str, before: str
    ) -> tuple[str, ...]:
        name = same_letters(name.strip())
        if name in self._groups:
            return self._groups[name]
        if name in self.stock:
            return (name,)
        copies = re.compile(re.escape(name) + r"(-\d+)?(/\d+)?")
        made = tuple(board for board in self.stock if copies.fullmatch(board))
        if made or name in self._members:
            return made or self._members[name]
        allowed = (*self.stock, *self._groups, *self._members)
        what = f"{quoted(name)} is no board, group or member"
        entry.note(_where(entry, loc), f"{before}{what}, {did_you_mean(name, allowed)}")
        return ()

    def pieces(self, entry: Entry, key: str, given: Sequence[str]) -> tuple[Piece, ...]:
        """Return the pieces that names stand for: parts, those of one line, single pieces."""
        found = list[Piece]()
        for number, name in enumerate(map(same_letters, given)):
            if name in self.needs:
                found += pieces_of(self.needs[name])
            elif name in self._labels:
                found.append(self._labels[name])
            elif name in self.part_entries:
                line = self.part_entries[name]
                of_line = (n for n in self.needs_given if self.part_entries.get(n.part) is line)
                found += [piece for need in of_line for piece in pieces_of(need)]
            else:
                self._note_piece(entry, key, number, name)
        return tuple(dict.fromkeys(found))

    def _note_piece(self, entry: Entry, key: str, number: int, name: str) -> None:
        allowed = (*self.needs, *(label for label in self._labels if label not in self.needs))
        hint = did_you_mean(name, allowed if near_match(name, allowed) else self.needs)
        if re.fullmatch(r"\d+ of \d+.*|port.*|starboard.*|mirrored", name):
            hint = 'a name with a comma in it stands in quotation marks: ["knee, 2 of 4"]'
        what = f"{key}: {quoted(name)} is no part or piece, {hint}"
        entry.note(_where(entry, (key, number)), what)

    def may_match(self, entry: Entry, pieces: tuple[Piece, ...], how: Matching) -> bool:
        """Return whether so many pieces can match in a way; note it if not."""
        if len(pieces) < 2:
            entry.note(("match",), "match: this is one piece; name two or more")
            return False
        is_pair = len(pieces) == 2 and pieces[0][0] == pieces[1][0]
        if how is Matching.MIRRORED and not is_pair:
            named = names_of(pieces, self.needs)
            entry.note(("match",), f"match: mirrored takes two pieces of one part, not {named}")
            return False
        if how is Matching.MIRRORED and not self.leaves:
            entry.note(("how",), "how: mirrored takes leaves of a board, and none is resawn")
            return False
        return True


def _where(entry: Entry, loc: tuple[str | int, ...]) -> tuple[str | int, ...]:
    """Return a path, without the number in a list where one text stands by itself."""
    data = entry.data.get(loc[0]) if isinstance(entry.data, dict) and loc else None
    return loc if isinstance(entry.data, list) or isinstance(data, list) else loc[:1]
