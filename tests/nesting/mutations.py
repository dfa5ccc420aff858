"""One thing changed in a written folder: every way of it, by the bytes and not by a library.

A DXF is a code and a value in turn; what is changed here is one value, one pair, or one whole
record, each where it stands. A summary is changed leaf by leaf.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

Pair = tuple[int, str]


@dataclass(frozen=True)
class Mutation:
    """One change: in which file, of what kind, and what the file holds then (None: it is gone)."""

    file: str
    kind: str
    made: Callable[[], bytes | None]

    def __str__(self) -> str:
        return f"{self.file}: {self.kind}"


@dataclass(frozen=True)
class Record:
    """A run of pairs that make one thing: an entity, a table's entry, a header's variable."""

    section: str
    kind: str
    start: int
    stop: int


def pairs_of(content: bytes) -> list[Pair]:
    lines = content.decode("latin-1").replace("\r\n", "\n").removesuffix("\n").split("\n")
    return [(int(code), value) for code, value in zip(lines[::2], lines[1::2], strict=True)]


def content_of(pairs: list[Pair]) -> bytes:
    return "".join(f"{code:3d}\n{value}\n" for code, value in pairs).encode("latin-1")


def records_of(pairs: list[Pair]) -> list[Record]:
    """Return every record of header, tables and entities."""
    found, section = list[Record](), ""
    starts = [
        at for at, (code, _) in enumerate(pairs) if code == 0 or (code == 9 and section != "x")
    ]
    for at, stop in zip(starts, [*starts[1:], len(pairs)], strict=True):
        code, value = pairs[at]
        if value == "SECTION":
            section = pairs[at + 1][1]
        elif (section == "HEADER" and code == 9) or (
            section in ("TABLES", "ENTITIES", "OBJECTS")
            and (section != "OBJECTS" or value == "LAYOUT")
            and code == 0
            and value not in ("TABLE", "ENDSEC", "ENDTAB", "EOF")
        ):
            found.append(Record(section, value, at, stop))
    return found


BOOKKEEPING = {
    5: "a handle: a number to refer by, and nothing refers to a line",
    100: "names the part of a record that follows",
    102: "brackets references of the library",
    330: "who owns a record, which its place in the file says too",
    360: "refers to a dictionary",
    340: "refers to another record",
    347: "refers to a material, which no line has",
    390: "refers to a way of plotting",
    105: "a handle",
    0: "what a record is: changed in tests of its own",
    9: "what a variable is called",
    1071: "a note of the library's own on a font",
}
"""Codes that say nothing of what is drawn, and why."""

SPARED_VARIABLES = "a variable for whoever goes on drawing: it changes nothing that is drawn"

LOOKED_AT = {
    "$ACADVER", "$INSBASE", "$EXTMIN", "$EXTMAX", "$LTSCALE", "$LUNITS", "$AUNITS", "$ANGBASE",
    "$ANGDIR", "$FILLMODE", "$QTEXTMODE", "$TILEMODE", "$INSUNITS", "$MEASUREMENT",
}  # fmt: skip
"""Of the header; of the rest: see ``SPARED_VARIABLES``."""

SPARED = {
    ("VERTEX", 70): "flags of a corner: none means anything in a flat line",
    ("SEQEND", 8): "the layer of an end mark",
    ("POLYLINE", 66): "says that corners follow, as they do",
    ("LTYPE", 3): "what a line type is called by people",
    ("LTYPE", 70): "flags of a record for references",
    ("LTYPE", 72): "always 65",
    ("LTYPE", 74): "that no shape is set in a dash",
    ("STYLE", 4): "a second font for letters of the Far East",
    ("STYLE", 42): "the height that was used last",
    ("VIEWPORT", 68): "its place among those shown: whether it is off is tried as such",
    ("VIEWPORT", 69): "a number to refer by",
    ("LAYER", 2): "a name: the layer is then missing, tried as such",
}
"""Codes of records that say nothing of what is drawn, and why."""


PLOT_CODES = {4, 40, 41, 42, 43, 44, 45, 46, 47, 142, 143, 147, 70, 72, 73, 74, 75}
LAYOUT_CODES = {1, 10, 20, 11, 21}
"""Of a layout: paper, margins, scale and turn of the print; its name and its paper's corners."""


def changed_value(code: int, value: str, rng: random.Random) -> str:
    """Return a value of the same kind that is not the same: figures by a twentieth at least."""
    if 10 <= code <= 59 or 140 <= code <= 149 or 210 <= code <= 239:
        by = rng.choice([0.05, -0.05, 1.0, -7.5, 500.0])
        return repr(float(value) + by)
    if 60 <= code <= 99 or 170 <= code <= 179 or 270 <= code <= 299 or 370 <= code <= 379:
        return str(int(value) + rng.choice([1, 2, 4]))
    if not value:
        return "x"
    at = rng.randrange(len(value))
    letter = "7" if value[at] != "7" else "8"
    return value[:at] + letter + value[at + 1 :]


ADDED_TO_ALL: list[tuple[str, list[Pair]]] = [
    ("colour of its own", [(62, "3")]),
    ("true colour", [(420, "255")]),
    ("line type of its own", [(6, "SHEET_DASHED")]),
    ("line type scale", [(48, "9.0")]),
    ("not visible", [(60, "1")]),
    ("in paper space", [(67, "1")]),
]
"""Put behind an entity's layer; read by every version."""

ADDED: dict[str, list[tuple[str, list[Pair]]]] = {
    "LINE": [("thickness", [(39, "5.0")])],
    "CIRCLE": [("thickness", [(39, "5.0")])],
    "LWPOLYLINE": [
        ("height", [(38, "5.0")]),
        ("thickness", [(39, "5.0")]),
        ("even width", [(43, "3.0")]),
    ],
    "TEXT": [
        ("turned", [(50, "15.0")]),
        ("slant", [(51, "12.0")]),
        ("upside down", [(71, "4")]),
    ],
    "POLYLINE": [("thickness", [(39, "5.0")]), ("even width", [(40, "3.0"), (41, "3.0")])],
}
MIRRORED: list[Pair] = [(210, "0.0"), (220, "0.0"), (230, "-1.0")]


class Sheet:
    """A DXF taken apart, and every way to change one thing in it."""

    def __init__(self, file: str, content: bytes) -> None:
        self.file = file
        self.pairs = pairs_of(content)
        self.records = records_of(self.pairs)

    def mutations(self, rng: random.Random) -> Iterator[Mutation]:
        for record in self.records:
            if record.section == "HEADER":
                yield from self._of_values(record, rng, "header")
            elif record.section == "TABLES":
                yield from self._of_entry(record, rng)
            elif record.kind == "LAYOUT":
                yield from self._of_layout(record, rng)
            elif record.kind not in ("SEQEND", "EOF"):
                yield from self._of_entity(record, rng)
        yield from self._of_extras(rng)

    def _with(self, start: int, stop: int, pairs: list[Pair]) -> bytes:
        return content_of([*self.pairs[:start], *pairs, *self.pairs[stop:]])

    def _made(self, kind: str, start: int, stop: int, pairs: list[Pair]) -> Mutation:
        return Mutation(self.file, kind, lambda: self._with(start, stop, pairs))

    def _of_values(self, record: Record, rng: random.Random, what: str) -> Iterator[Mutation]:
        """Yield each value of a record changed."""
        if what == "header" and record.kind not in LOOKED_AT:
            return
        for at in range(record.start + 1, record.stop):
            code, value = self.pairs[at]
            if code in BOOKKEEPING or (record.kind, code) in SPARED:
                continue
            new = changed_value(code, value, rng)
            kind = f"{what} {record.kind} code {code}: {value[:30]!r} to {new[:30]!r}"
            yield self._made(kind, at, at + 1, [(code, new)])

    def _of_layout(self, record: Record, rng: random.Random) -> Iterator[Mutation]:
        """Yield changes of how our paper layout is set up."""
        own = self.pairs[record.start : record.stop]
        middle = own.index((100, "AcDbLayout"))
        if not next(v for c, v in own[middle:] if c == 1).startswith("Print on "):
            return
        for at, (code, value) in enumerate(own):
            looked_at = LAYOUT_CODES if at > middle else PLOT_CODES
            if code in looked_at:
                new = changed_value(code, value, rng)
                kind = f"layout code {code}: {value[:30]!r} to {new[:30]!r}"
                place = record.start + at
                yield self._made(kind, place, place + 1, [(code, new)])

    def _of_entry(self, record: Record, rng: random.Random) -> Iterator[Mutation]:
        """Yield changes of a layer, a line type or the text style of ours."""
        name = next((v for c, v in self.pairs[record.start : record.stop] if c == 2), "")
        if record.kind not in ("LAYER", "LTYPE", "STYLE") or name in (
            "0", "Defpoints", "Standard", "STANDARD", "ByBlock", "ByLayer", "Continuous",
            "BYBLOCK", "BYLAYER", "CONTINUOUS",
        ):  # fmt: skip
            return
        what = f"table, {name},"
        yield from self._of_values(record, rng, what)
        yield self._made(f"{what} gone", record.start, record.stop, [])
        if record.kind == "LAYER":
            at = next(i for i in range(record.start, record.stop) if self.pairs[i][0] == 62)
            off = str(-abs(int(self.pairs[at][1])))
            yield self._made(f"{what} off", at, at + 1, [(62, off)])
            yield self._made(f"{what} not printed", at + 1, at + 1, [(290, "0")])

    def _of_entity(self, record: Record, rng: random.Random) -> Iterator[Mutation]:
        kind, start = record.kind, record.start
        stop = self._end(record)
        own = self.pairs[start : record.stop]
        if kind == "VIEWPORT" and (69, "1") in own:
            return  # the view of the paper itself, which every program makes for itself
        what = f"entity {kind} on {next((v for c, v in own if c == 8), '?')}"
        yield from self._of_values(record, rng, "entity")
        yield self._made(f"{what} gone", start, stop, [])
        yield self._made(f"{what} twice", stop, stop, renumbered(self.pairs[start:stop]))
        layer = next(i for i in range(start, record.stop) if self.pairs[i][0] == 8)
        if kind == "VERTEX":
            yield self._made(f"{what}: an arc behind it", record.stop, record.stop, [(42, "0.2")])
            return
        for other in ("SAW_OUTLINE", "METAL", "0"):
            if self.pairs[layer][1] != other:
                yield self._made(f"{what} moved to {other}", layer, layer + 1, [(8, other)])
        if kind == "VIEWPORT":
            at = next(i for i in range(start, record.stop) if self.pairs[i][0] == 68)
            yield self._made(f"{what}: off", at, at + 1, [(68, "0")])
            yield self._made(f"{what}: hides a layer", record.stop, record.stop, [(331, "36")])
        for name, added in ADDED_TO_ALL:
            if added == [(67, "1")] and (67, "1") in own:
                added = [(67, "0")]  # it is on paper already
            yield self._made(f"{what}: {name}", layer + 1, layer + 1, added)
        last = next((i for i in range(start, record.stop) if self.pairs[i][0] == 1001), record.stop)
        if kind == "TEXT" and (100, "AcDbText") in own:
            last -= 1  # before the second mark of its kind
        for name, added in ADDED.get(kind, []):
            yield self._made(f"{what}: {name}", last, last, added)
        yield self._made(f"{what}: mirrored by its extrusion", last, last, MIRRORED)
        if kind == "LWPOLYLINE":
            corners = [i for i in range(start, record.stop) if self.pairs[i][0] == 20]
            at = rng.choice(corners)
            yield self._made(f"{what}: an arc", at + 1, at + 1, [(42, "0.05")])
            yield self._made(f"{what}: a wide stretch", at + 1, at + 1, [(40, "2.0"), (41, "2.0")])
            yield self._made(f"{what}: a corner less", at - 1, at + 1, [])
        if self.pairs[min(last, record.stop - 1)][0] == 1001:
            yield self._made(f"{what}: its tag gone", last, record.stop, [])

    def _end(self, record: Record) -> int:
        """Return where an entity ends, with its corners."""
        if record.kind != "POLYLINE":
            return record.stop
        return next(
            other.stop
            for other in self.records
            if other.start >= record.stop and other.kind == "SEQEND"
        )

    def _of_extras(self, rng: random.Random) -> Iterator[Mutation]:
        """Yield an entity more, of several kinds, on layers that matter."""
        entities = [r for r in self.records if r.section == "ENTITIES"]
        layers = sorted(
            {v for r in entities for c, v in self.pairs[r.start : r.stop] if c == 8} | {"0"}
        )
        for layer in layers:
            at = rng.choice([r.start for r in entities if r.kind not in ("VERTEX", "SEQEND")])
            x, y = repr(rng.uniform(5, 60)), repr(rng.uniform(5, 30))
            place: list[Pair] = [(10, x), (20, y), (30, "0.0")]
            for kind, own in (
                ("CIRCLE", [*place, (40, "4.0")]),
                ("LINE", [*place, (11, "90.0"), (21, "20.0"), (31, "0.0")]),
                ("POINT", place),
                ("TEXT", [*place, (40, "3.0"), (1, "metal")]),
                ("INSERT", [(2, "*Paper_Space"), *place]),
                ("SOLID", [*place, (11, "9.0"), (21, "9.0"), (12, "5.0"), (22, "9.0")]),
            ):
                added = self._entity(kind, layer, own)
                yield self._made(f"a {kind} more on {layer}", at, at, added)

    def _entity(self, kind: str, layer: str, own: list[Pair]) -> list[Pair]:
        is_old = (9, "$ACADVER") in self.pairs and (1, "AC1009") in self.pairs
        handle: list[Pair] = [(5, "FFF1")]
        if is_old:
            return [(0, kind), *handle, (8, layer), *own]
        mark = {"TEXT": "AcDbText", "INSERT": "AcDbBlockReference", "SOLID": "AcDbTrace"}
        named = mark.get(kind, f"AcDb{kind.capitalize()}")
        return [(0, kind), *handle, (100, "AcDbEntity"), (8, layer), (100, named), *own]


def renumbered(pairs: list[Pair]) -> list[Pair]:
    """Return a record again under handles that no other has."""
    found, count = list[Pair](), 0
    for code, value in pairs:
        count += code == 5
        found.append((code, f"FA{count:04X}") if code == 5 else (code, value))
    return found


def of_summary(content: bytes, rng: random.Random) -> Iterator[Mutation]:
    """Yield each leaf of a summary changed, each row and entry left out or given twice."""

    def made(kind: str, path: list[Any], change: Callable[[Any, Any], None]) -> Mutation:
        def build() -> bytes:
            whole = json.loads(content)
            held = whole
            for step in path[:-1]:
                held = held[step]
            change(held, path[-1])
            return json.dumps(whole).encode()

        return Mutation("summary.json", f"{'/'.join(map(str, path))} {kind}", build)

    def walk(value: Any, path: list[Any]) -> Iterator[Mutation]:
        if path:
            yield made("gone", path, lambda held, key: held.__delitem__(key))
        if isinstance(value, dict):
            yield made("with an entry more", [*path, "more"], lambda held, key: put(held, key, 1))
            for key in value:
                yield from walk(value[key], [*path, key])
        elif isinstance(value, list):
            if value:
                yield made("given twice", [*path, 0], lambda held, _: held.append(held[0]))
            for at, row in enumerate(value):
                yield from walk(row, [*path, at])
        else:
            for new in other_values(value, rng):
                yield made(f"{value!r:.40} to {new!r:.40}", path, setting(new))

    yield from walk(json.loads(content), [])


def put(held: Any, key: Any, value: Any) -> None:
    held[key] = value


def setting(new: Any) -> Callable[[Any, Any], None]:
    return lambda held, key: put(held, key, new)


def other_values(value: Any, rng: random.Random) -> list[Any]:
    if isinstance(value, bool):
        return [not value, "yes"]
    if isinstance(value, (int, float)):
        by = rng.choice([0.05, -0.05, 3.0])
        near = value + by if isinstance(value, float) else value + rng.choice([1, -1, 5])
        return [near, -value - 1, None, str(value)]
    if value is None:
        return [0.5, "none"]
    return [value + "x", value[:-1] or "y", None, 3]


def of_files(folder: Path, rng: random.Random) -> Iterator[Mutation]:
    """Yield each file gone, empty, cut short, in another's place, and files that are too many."""
    names = sorted(path.name for path in folder.iterdir())
    for name in names:
        content = (folder / name).read_bytes()
        yield Mutation(name, "gone", lambda: None)
        yield Mutation(name, "empty", lambda: b"")
        for share in (0.1, 0.5, 0.9):
            cut = content[: int(share * len(content))]
            yield Mutation(name, f"cut short to {share:.0%}", lambda cut=cut: cut)
        yield Mutation(name, "not what it seems", lambda: b"\x89PNG\xff\x00 measured on Tuesday")
        for other in names:
            if other != name:
                held = (folder / other).read_bytes()
                yield Mutation(name, f"is {other}", lambda held=held: held)
        if name.endswith(".dxf"):
            for extra in (f"board-old-{name}", f"copy of {name}", f"{name[:-4]}-2.DXF"):
                yield Mutation(extra, "a sheet too many", lambda content=content: content)


def of_folder(folder: Path, rng: random.Random) -> Iterator[Mutation]:
    """Yield every mutation there is of a written folder."""
    for path in sorted(folder.glob("*.dxf")):
        yield from Sheet(path.name, path.read_bytes()).mutations(rng)
    yield from of_summary((folder / "summary.json").read_bytes(), rng)
    yield from of_files(folder, rng)
