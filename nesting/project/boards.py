"""From the entries of a stock file to boards: outline, keep-outs, leaves, likes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from pydantic import TypeAdapter, ValidationError
from shapely.geometry import Polygon

from nesting.errors import DrawingError, ShapeError
from nesting.grain import straight_grain
from nesting.project.board_entry import (
    FORMS,
    RECTANGLE,
    BoardEntry,
    DrawnEntry,
    MeasuredEntry,
    OutlinedEntry,
    RectangleEntry,
    StringEntry,
    entry_model,
    forms_given,
)
from nesting.project.entry import Entry, Loc
from nesting.project.keep_out_entry import AnyKeepOut, KeepOutEntry
from nesting.project.noted_keep_out import noted_keep_out
from nesting.project.setting import Setting
from nesting.stock.board import THICKEST_MM, Board, off_board
from nesting.stock.keep_out import KeepOut
from nesting.unseen import is_seen, quoted, short
from nesting.yaml_file.scalars import as_written

IN_STOCK_FILE = "; give it here, or for all boards under defaults:"

IN_TABLE = "; give it in this row, or for all boards in a row of its own above the heads"


def boards_of(entry: Entry, setting: Setting, *, hint: str = "") -> Iterator[Board]:
    """Yield the boards of one entry: one, its leaves, or several alike.

    Whatever is wrong is noted in the entry's findings, and nothing is yielded then.
    """
    forms = forms_given(entry.data)
    if len(forms) > 1:
        entry.note((), f"give one of {' or '.join(forms)}, not both")
        return
    read = entry.validated(entry_model(entry.data), setting.context, hint)
    if read is None:
        _note_hidden(entry, setting)
        return
    setting.tally.add("boards", read.count * read.resaw, entry)
    bare = _bare(read, entry, setting)
    board = bare and _with_keep_outs(read, entry, bare, setting)
    if not board or setting.woods.named(read.species) is None:
        return
    try:
        leaves = leaves_of(board, read.resaw, setting.kerf_mm)
    except ShapeError as error:
        entry.note(("resaw",), f"resaw: {error}")
        return
    for suffix in _suffixes(read.count):
        for leaf in leaves:
            name = leaf.name.replace(board.name, board.name + suffix, 1)
            yield replace(leaf, name=name) if suffix else leaf


def _suffixes(count: int) -> list[str]:
    if count == 1:
        return [""]
    digits = max(2, len(str(count)))
    return [f"-{number:0{digits}d}" for number in range(1, count + 1)]


def _bare(read: BoardEntry, entry: Entry, setting: Setting) -> Board | None:
    """Return a board with no keep-outs but those of its drawing."""
    species = setting.woods.named(read.species)
    if species is None:
        entry.note(("species",), setting.woods.unknown(read.species))
    try:
        shape, drawn = _shape(read, setting)
        return Board(
            name=read.board,
            shape=shape,
            thickness_mm=read.thickness_mm,
            species=species or read.species,
            grain=read.grain or straight_grain(),
            keep_outs=drawn,
            member=read.member,
            came_from=read.came_from,
            moisture_percent=read.moisture_percent,
            heartwood=read.heartwood,
            leaf=read.leaf,
            note=read.note,
        )
    except (ShapeError, DrawingError) as error:
        entry.note(_place_of_shape(read, entry.data), str(error))
        return None


def _with_keep_outs(read: BoardEntry, entry: Entry, bare: Board, setting: Setting) -> Board | None:
    """Return a board with its recorded keep-outs, or None if one of them cannot be."""
    copies = read.count * read.resaw
    setting.tally.add("keep-outs", len(bare.keep_outs) * copies, entry)
    found: list[KeepOut] = []
    entry_of: list[Loc] = []
    wrong: dict[Loc, str] = {}
    for loc, recorded in _recorded(read, setting, wrong):
        try:
            group = recorded.keep_outs(bare.shape)
        except ShapeError as error:
            wrong[loc] = _noted(loc, str(error))
            continue
        setting.tally.add("keep-outs", len(group) * copies, entry)
        found += group
        entry_of += [loc] * len(group)
    for at, message in off_board(found, bare.shape).items():
        wrong.setdefault(entry_of[at], _noted(entry_of[at], message))
    for loc, message in wrong.items():
        entry.note(loc[:2] if loc[0] == "keep_outs" else loc[:1], message, titled=True)
    if wrong:
        return None
    return replace(bare, keep_outs=(*bare.keep_outs, *found)) if found else bare


def _recorded(
    read: BoardEntry, setting: Setting, wrong: dict[Loc, str]
) -> Iterator[tuple[Loc, KeepOutEntry]]:
    """Yield a board's keep-outs with their place, those in tape notes too.

    A note's place has its words behind its key. What is wrong in one is put into ``wrong``.
    """
    for number, recorded in enumerate(read.keep_outs):
        yield ("keep_outs", number), recorded
    for kind, key, text in read.tape_notes():
        loc: Loc = (key, text)
        try:
            noted = noted_keep_out(kind, text, setting.context)
        except ShapeError as error:
            wrong[loc] = f"{key}: {error}"
        else:
            yield loc, noted


def _noted(loc: Loc, message: str) -> str:
    """Return a message with the tape note that it is about before it."""
    return message if loc[0] == "keep_outs" else f"{loc[0]}: {quoted(loc[1])}: {message}"


def _note_hidden(entry: Entry, setting: Setting) -> None:
    """Note what else is wrong where one bad keep-out keeps a whole board from being read."""
    given = entry.data.get("keep_outs")
    if not isinstance(given, list):
        return
    try:
        model = entry_model(entry.data)
        bare_data = {**entry.data, "keep_outs": []}
        read = model.model_validate(bare_data, context=setting.context, by_name=False)
    except ValidationError:
        return
    bare = _bare(read, entry, setting)
    adapter: TypeAdapter[KeepOutEntry] = TypeAdapter(AnyKeepOut)
    for number, recorded in enumerate(given if bare else ()):
        try:
            sound = adapter.validate_python(recorded, context=setting.context, by_name=False)
        except ValidationError:
            continue
        assert bare is not None
        try:
            replace(bare, keep_outs=sound.keep_outs(bare.shape))
        except ShapeError as error:
            entry.note(("keep_outs", number), str(error), titled=True)


def _place_of_shape(read: BoardEntry, data: Any) -> Loc:
    """Return the key that a bad thickness, or a bad outline, comes from."""
    if read.thickness_mm > THICKEST_MM:
        return ("thickness",)
    return next(((key,) for key in (*FORMS, "board") if key in data), ())


def _shape(read: BoardEntry, setting: Setting) -> tuple[Polygon, tuple[KeepOut, ...]]:
    """Return a board's outline, and the keep-outs that its drawing holds."""
    if isinstance(read, DrawnEntry):
        # Reading drawings needs a large library: only for a board that has one.
        from nesting.project.drawn_board import drawn_board

        return drawn_board(read.drawing, setting)
    assert isinstance(read, RectangleEntry | OutlinedEntry | MeasuredEntry | StringEntry)
    return read.outline_shape(), ()


def leaves_of(board: Board, count: int, kerf_mm: float) -> tuple[Board, ...]:
    """Return the leaves of a board resawn into ``count`` of equal thickness.

    The first leaf has the recorded face; of the others the face towards it is up. A keep-out with
    a depth reaches the leaves that it reaches; one without goes through them all.

    Raises
    ------
    ShapeError
        If the saw leaves nothing.
    """
    if count == 1:
        return (board,)
    leaf_mm = (board.thickness_mm - (count - 1) * kerf_mm) / count
    if leaf_mm <= 0:
        raise ShapeError(
            f"{board.thickness_mm:g} mm sawn into {count} with a kerf of {kerf_mm:g} mm leaves "
            "nothing"
        )
    tops = [i * (leaf_mm + kerf_mm) for i in range(count)]
    return tuple(
        replace(
            board,
            name=f"{board.name}/{i + 1}",
            thickness_mm=leaf_mm,
            keep_outs=tuple(_reaching(board.keep_outs, top, leaf_mm)),
            leaf=(i + 1, count),
        )
        for i, top in enumerate(tops)
    )


def _reaching(keep_outs: tuple[KeepOut, ...], top_mm: float, leaf_mm: float) -> Iterator[KeepOut]:
    """Yield the keep-outs that reach a leaf, with the depth they have in it."""
    for keep_out in keep_outs:
        if keep_out.depth_mm is None:
            yield keep_out
        elif keep_out.depth_mm > top_mm:
            rest = keep_out.depth_mm - top_mm
            yield replace(keep_out, depth_mm=rest if rest < leaf_mm else None)


def with_defaults(entry: Entry, defaults: dict[str, Any]) -> Entry:
    """Return a board's entry with a stock file's defaults under it.

    A board with an outline of its own, widths or a drawing drops a default length and width;
    keep-outs of the defaults come before the board's own.
    """
    own = entry.data
    rest = {key: value for key, value in defaults.items() if key not in own}
    if any(key in own for key in FORMS):
        rest = {key: value for key, value in rest.items() if key not in (*FORMS, *RECTANGLE)}
    elif any(key in own for key in RECTANGLE):
        rest = {key: value for key, value in rest.items() if key not in FORMS}
    common = defaults.get("keep_outs") if "keep_outs" in own else None
    if common is not None and not isinstance(common, list):
        # It is complained of in its own place, not passed over.
        own, rest = {**own, "keep_outs": common}, {**rest, "keep_outs": common}
    joined = {**rest, **own}
    count = 0
    if isinstance(common, list) and isinstance(own["keep_outs"], list):
        joined["keep_outs"], count = [*common, *own["keep_outs"]], len(common)

    def to_document(loc: Loc) -> Loc:
        if not loc or (loc[0] not in rest and loc[0] != "keep_outs"):
            return entry.to_document(loc)
        if loc[0] in rest:
            return ("defaults", *loc)
        if len(loc) < 2 or not isinstance(loc[1], int):
            return entry.to_document(loc)
        if loc[1] < count:
            return ("defaults", *loc)
        return entry.to_document(("keep_outs", loc[1] - count, *loc[2:]))

    return replace(entry, data=joined, to_document=to_document)


def title_of(data: Any, key: str, number: int) -> str:
    """Return what to call an entry in a message: by its name, or by its number from 1."""
    name = as_written(data.get(key)) if isinstance(data, dict) else None
    is_name = isinstance(name, str) and name.strip() and is_seen(name)
    return f"{key} {short(str(name))}" if is_name else f"{key} {number + 1}"
