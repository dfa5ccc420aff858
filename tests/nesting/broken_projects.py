"""Project files broken in one place each, made from a sound one, and what is to be said of them.

The rule: read right, or refused in one sentence a fault, with file, line, what was given and what
is allowed; never a traceback.
"""

import io
import random
import re
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

import yaml

from nesting import cli

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo_projects" / "first_cut" / "project.yaml"
LINES = ROOT / "demo_projects" / "lines" / "withy_offsets.csv"

STOCK_FILE = """\
unit: cm
defaults: {species: teak, thickness: 4, keep_outs: [{kind: rot, at: [9, 3], diameter: 1}]}
boards:
  - {board: S-01, length: 190, width: 14}
  - {board: S-02, outline: [[0, 0], [200, 0], [200, 15], [0, 15]], thickness: 3}
  - board: S-03
    widths: {at: [0, 100, 200], width: [9, 12, 9], lower: [0, 1, 0]}
    keep_outs:
      - {kind: hole, places: [[9, 5], [50, 5]], diameter: 8 mm, confidence: 0.9, source: tape}
"""

FITTED = f"""\
version: 1
name: fitted
unit: in
boat:
  lines: {LINES}
  frames: {{first: 20, spacing: 10, count: 26, siding: 1, moulding: 1 1/2}}
  keel: {{siding: 4, top: 1 1/2}}
  clamp: {{thickness: 1, depth: 6}}
  deck: {{thickness: 3/4}}
  beams: {{ordinary: {{siding: 1 1/2, moulding: 2 3/4, end_moulding: 2 1/4}}}}
  floor_heads: 9
stock:
  - {{board: D-01, species: teak, thickness: 2, length: 99, width: 11}}
parts:
  - part: floor
    family: floor timber
    at: frame 14
    species: teak
    shape: {{siding: 1 3/4, moulding: 5, arm: 15, keel_bolt: 1/2, frame_bolt: 5/16}}
"""

NOT_A_NUMBER = (
    "true", "false", "''", "[]", "{}", "{a: 1}", "text", "nan", ".nan", ".inf", "-.inf", "1e999",
    "2020-01-02", "12:30", "0x10", "no", "3 furlongs", "1/0", "1 1/0 in", "5-13-9", "35 mm 2 m",
    "--1", "1,5", "=1+1", "9" * 400, "[[[1]]]", "é", "½½", "1 2 3", "mm", "[1, 2, 3, 4, 5]",
)  # fmt: skip
"""What no figure, length or count may be."""

NEVER = (
    '"\\e[31mred"', '"\\u202Eabc"', '"a\\0b"', '"\\x9b2J"', '"\\uFEFF"', "9" * 5000, "[" * 60,
    "*none", "&a [*a]", "!!python/object/apply:os.system [id]", "!!binary abcd", "!x 3", "'a",
    '"\\uD800"', "a: b: c", "- - [", "{<<: 3}", "? [a]", "@at", "`tick`", "%x", "\x07",
)  # fmt: skip
"""What no key of any file may be."""

ODD = (
    "~", "null", "0", "-1", "-0.0", "1e-9", "0.001", "99999999999", "1000000", "'12'", "12.5",
    "[]", "[0, 0]", "[[0, 0], [1, 1]]", "[[0, 0], [9, 0], [0, 0]]", "[[0, 0], [1e9, 0], [0, 1]]",
    "[[0, 0], [5, 5], [5, 0], [0, 5]]", "[a, b]", "[1, 1, 1]", "{a: 1}", "[[1, 2], [3]]",
    "'[bold]x[/bold]'", "'😄'", "'A %%d \\\\P ^J'", '"a\\nb"', "../../../../etc/passwd",
    "/dev/zero", "/dev/null", ".", "project.yaml", "x" * 3000, "٣٥", "Ⅷ", "&a 3", "'\\U+0041'",
    "a" * 81, "1 in 12", "1 in 0", "4.5", "181", "teak", "metal", "grown", "both", "1_000",
    "010", "+5",
    "[" + ", ".join(["[1, 1]"] * 3000) + "]", "[" + "1, " * 3000 + "1]", "&b {<<: *b}",
)  # fmt: skip
"""What some keys may be."""

LIBRARY_WORDS = re.compile(
    r"pydantic|validation error|Input should|NoneType|object at 0x|Traceback|Errno|<class|"
    r"ValueError|TypeError|KeyError|shapely|numpy|GEOS|TopologyException|\bNone\b|\bTrue\b|\bFalse\b|"
    r"\bdict\b|\btuple\b|\bfloat\b|\bstr\b|instance of"
)
FINDING = re.compile(r"(?P<file>/.*?):(?P<line>\d+):(?P<column>\d+): (?P<message>.+)")


@dataclass(frozen=True)
class Case:
    """A broken project: its files, what was done, and whether it may be read.

    ``place`` is the file, line and key of a value that was replaced.
    """

    what: str
    files: dict[str, bytes]
    place: tuple[str, int, str] | None = None
    must_refuse: bool = False


Path_ = tuple[str | int, ...]


def _tree(text: str):
    """Return a file as dicts and lists, each scalar as the YAML that was written."""
    return yaml.load(text, Loader=yaml.BaseLoader)


def _leaf(value: str) -> str:
    if re.fullmatch(r"[\w ./%°-]*\w", value) and not value.startswith("-"):
        return value
    return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'


class Raw(str):
    """A value to be written as it is."""


def text_of(node, indent: int = 0) -> str:
    """Return the YAML of a tree, a line for each scalar."""
    pad = "  " * indent
    if isinstance(node, dict):
        return "".join(f"{pad}{key}:{_below(value, indent)}" for key, value in node.items())
    return "".join(f"{pad}-{_below(value, indent)}" for value in node)


def _below(value, indent: int) -> str:
    if isinstance(value, dict | list) and value:
        return "\n" + text_of(value, indent + 1)
    if isinstance(value, dict | list):
        return " {}\n" if isinstance(value, dict) else " []\n"
    return f" {value if isinstance(value, Raw) else _leaf(value)}\n"


def _paths(node, at: Path_ = ()) -> Iterator[Path_]:
    items = node.items() if isinstance(node, dict) else enumerate(node)
    for step, value in items:
        yield (*at, step)
        if isinstance(value, dict | list):
            yield from _paths(value, (*at, step))


def _at(node, path: Path_):
    for step in path:
        node = node[step]
    return node


def _with(node, path: Path_, value):
    """Return a tree with another value at a path."""
    if not path:
        return value
    copy = dict(node) if isinstance(node, dict) else list(node)
    copy[path[0]] = _with(node[path[0]], path[1:], value)
    return copy


def _is_figure(value) -> bool:
    return isinstance(value, str) and re.fullmatch(r"[\d.][\d ./-]*( ?(mm|in|ft|m|cm))*", value)


class Breaker:
    """Breaks a sound project in one place; the same seed breaks it in the same way."""

    def __init__(self, seed: int) -> None:
        self.chance = random.Random(seed)
        project = _tree(DEMO.read_text(encoding="utf-8"))
        project["outputs"] = {"dxf": "R2010"}
        self.whole = {"project.yaml": project, "stock.yaml": _tree(STOCK_FILE)}
        self.fitted = {"project.yaml": _tree(FITTED)}

    def cases(self, count: int, *, with_boats: float = 0.02) -> Iterator[Case]:
        """Yield so many broken projects, some of them with the lines of a boat."""
        kinds = [self.another_value] * 12 + [self.another_shape] * 4 + [self.another_text] * 4
        for _ in range(count):
            is_boat = self.chance.random() < with_boats
            trees = self.fitted if is_boat else self.small(self.chance.randrange(99))
            yield self.chance.choice(kinds)(trees)

    def small(self, number: int):
        """Return a sound project of one board and one part of the demo, and of a stock file."""
        project, stock = self.whole["project.yaml"], self.whole["stock.yaml"]
        board, part, own = (
            entries[number % len(entries)]
            for entries in (project["stock"], project["parts"], stock["boards"])
        )
        return {
            "project.yaml": {**project, "stock": [board, {"file": "stock.yaml"}], "parts": [part]},
            "stock.yaml": {**stock, "boards": [{**own, "member": "decking"}]},
        }

    def every_figure(self) -> Iterator[Case]:
        """Yield every figure of the demo in turn with something in its place that is none."""
        project = self.whole["project.yaml"]
        for number in range(max(len(project["stock"]), len(project["parts"]))):
            trees = self.small(number)
            for name, tree in trees.items():
                for path in _paths(tree):
                    is_new = number == 0 or path[0] in ("stock", "parts", "boards")
                    if is_new and _is_figure(_at(tree, path)):
                        value = self.chance.choice(NOT_A_NUMBER)
                        yield self._valued(trees, name, path, value)

    def another_value(self, trees) -> Case:
        """Return a case with one value replaced."""
        name, path = self._place(trees)
        pool = NOT_A_NUMBER if _is_figure(_at(trees[name], path)) else ODD
        pool = self.chance.choice([pool, ODD, NEVER])
        return self._valued(trees, name, path, self.chance.choice(pool))

    def _valued(self, trees, name: str, path: Path_, value: str) -> Case:
        tree = trees[name]
        key = next((step for step in reversed(path) if isinstance(step, str)), "")
        is_figure = _is_figure(_at(tree, path)) and key not in ("at", "notes", "board", "part")
        must = value in NEVER or (is_figure and value in NOT_A_NUMBER)
        # A default that no board goes by is not looked at.
        must = must and (value in NEVER or path[0] != "defaults")
        # A list of one may be written without brackets, so [] is one of none for these.
        must = must and not (value in ("[]", "[1, 2, 3, 4, 5]") and not isinstance(path[-1], str))
        mark = text_of(_with(tree, path, Raw("MARK")))
        line = mark[: mark.index(" MARK\n")].count("\n") + 1
        text = mark.replace(" MARK\n", f" {value}\n")
        what = f"{name}: {'.'.join(map(str, path))} is {value[:60]}"
        # A figure may be sound by itself, and make something else impossible.
        may_be_sound = value in NEVER or (value in ODD and re.search(r"\d", value))
        place = None if may_be_sound else (name, line, key)
        return self._case(what, trees, name, text.encode(), place, must)

    def another_shape(self, trees) -> Case:
        """Return a case with a key or an entry too many, too few, doubled or misspelt."""
        name, path = self._place(trees)
        tree = trees[name]
        parent, last = _at(tree, path[:-1]), path[-1]
        how = self.chance.choice(["missing", "unknown", "misspelt", "doubled", "swapped", "nested"])
        if how == "nested":
            new = _with(tree, path, [_at(tree, path)])
        elif how == "swapped":
            other = self._place({name: tree})[1]
            new = _with(tree, path, _at(tree, other))
        elif isinstance(parent, list):
            copies = {"missing": 0, "doubled": 2}.get(how, 3)
            listed = [*parent[:last], *[parent[last]] * copies, *parent[last + 1 :]]
            new = _with(tree, path[:-1], listed)
        elif how == "doubled":
            text = text_of(tree).splitlines(keepends=True)
            line = self.chance.randrange(len(text))
            text.insert(line, text[line])
            return self._case(f"{name}: line {line + 1} twice", trees, name, "".join(text).encode())
        else:
            new = _with(tree, path[:-1], self._rekeyed(parent, last, how))
        must = how in ("unknown", "misspelt") and isinstance(parent, dict)
        what = f"{name}: {'.'.join(map(str, path))} {how}"
        is_kind_of_layer = path[-2:-1] in (("clearances",), ("defaults",))
        must = must and not is_kind_of_layer
        return self._case(what, trees, name, text_of(new).encode(), None, must)

    def _rekeyed(self, parent: dict, last: str, how: str) -> dict:
        if how == "missing":
            return {key: value for key, value in parent.items() if key != last}
        if how == "unknown":
            return {**parent, self.chance.choice(["colour", "x" * 200, "[red]", "😄"]): "3"}
        slip = last[:-1] + self.chance.choice("xyz") + last[-1]
        return {slip if key == last else key: value for key, value in parent.items()}

    def another_text(self, trees) -> Case:
        """Return a case whose bytes are not what an editor should have written."""
        name = self.chance.choice(sorted(trees))
        content = text_of(trees[name]).encode()
        how, edit = self.chance.choice(sorted(self._edits().items()))
        return self._case(f"{name}: {how}", trees, name, edit(content))

    def _edits(self):
        chance = self.chance

        def spot(content: bytes) -> int:
            return chance.randrange(len(content))

        def put(piece: bytes):
            def edit(content: bytes) -> bytes:
                at = spot(content)
                return content[:at] + piece + content[at:]

            return edit

        def by_line(change):
            def edit(content: bytes) -> bytes:
                lines = content.splitlines(keepends=True)
                at = chance.randrange(len(lines))
                return b"".join([*lines[:at], change(lines[at]), *lines[at + 1 :]])

            return edit

        return {
            "mark": lambda content: b"\xef\xbb\xbf" + content,
            "crlf": lambda content: content.replace(b"\n", b"\r\n"),
            "cr": lambda content: content.replace(b"\n", b"\r"),
            "utf-16": lambda content: content.decode().encode("utf-16"),
            "utf-16 bare": lambda content: content.decode().encode("utf-16-le"),
            "cut": lambda content: content[: spot(content)],
            "ctrl-z": lambda content: content + b"\x1a",
            "two": lambda content: content + b"---\n" + content,
            "directive": lambda content: b"%YAML 2.0\n---\n" + content,
            "ended": lambda content: content + b"...\nmore\n",
            "empty": lambda content: content[:0],
            "tab": by_line(lambda line: b"\t" + line),
            "tab inside": put(b"\t"),
            "shifted": by_line(lambda line: b" " + line),
            "outdented": by_line(lambda line: line.lstrip()),
            "line gone": by_line(lambda line: b""),
            "comment": by_line(lambda line: b"#" + line),
            **{f"put {piece!r}": put(piece) for piece in PIECES},
        }

    def _place(self, trees) -> tuple[str, Path_]:
        name = self.chance.choice(sorted(trees))
        return name, self.chance.choice(list(_paths(trees[name])))

    def _case(self, what, trees, name, content, place=None, must_refuse=False) -> Case:
        files = {other: text_of(tree).encode() for other, tree in trees.items()}
        return Case(what, {**files, name: content}, place, must_refuse)


PIECES = (
    b"\xe9", b"\x00", b"\xff\xfe", b"\xc3", b"'", b'"', b"[", b"}", b": ", b"- ", b"#", b"&a ",
    b"*a", b"!", b"|", b">", b"%", b"@", b"`", b"\xe2\x80\xa8", b"\xc2\x85", b"\xc2\xa0",
    b"\xef\xbf\xbe", b"\x1b[2J", b"\xe2\x80\xae", b"<<: *a\n", b"? ", b"\n", b"\r", b"\\", b",",
    b"0" * 5000,
)  # fmt: skip


def judged(case: Case, folder: Path) -> tuple[int, list[str]]:
    """Return the exit code of ``check`` for a case, and everything wrong with what it said."""
    for name, content in case.files.items():
        (folder / name).write_bytes(content)
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        code = cli.main(["check", str(folder / "project.yaml")])
    said = out.getvalue() + err.getvalue()
    wrong = [f"cannot be seen: {line!r}" for line in said.splitlines() if not line.isprintable()]
    if found := LIBRARY_WORDS.search(said):
        wrong.append(f"speaks of {found[0]!r}: {said}")
    if code == cli.ALL_PLACED:
        wrong += ["was read"] if case.must_refuse else []
    elif code == cli.PROJECT_WRONG:
        wrong += _misplaced(err.getvalue(), case, folder)
    else:
        wrong.append(f"ended with {code}: {said}")
    return code, wrong


def _misplaced(said: str, case: Case, folder: Path) -> Iterator[str]:
    """Yield what is wrong with the sentences of a refusal."""
    headline, *lines = said.splitlines()
    if not re.match(r"salvage-nest: \d+ things?( and more)? to put right", headline) or not lines:
        yield f"begins with {headline}"
    for line in lines:
        found = FINDING.fullmatch(line)
        if found is None:
            yield f"has no place: {line}"
            continue
        path = Path(found["file"])
        content = case.files.get(path.name, b"") if path.parent == folder else path.read_bytes()
        count = max(map(content.count, (b"\n", b"\r"))) + 2
        if not 1 <= int(found["line"]) <= count:
            yield f"names no line of the file: {line}"
        if len(found["message"]) > 600:
            yield f"is no sentence: {line}"
    if case.place and not any(_is_about(line, *case.place) for line in lines):
        yield f"is not about {case.place}: {lines[0]}"


def _is_about(sentence: str, name: str, line: int, key: str) -> bool:
    """Return whether a sentence names the key that was broken, or points at its line.

    Where a key names a file or a member, what is wrong with that file, or with who asks for the
    member's boards, is about it too.
    """
    found = FINDING.fullmatch(sentence)
    if found is None:
        return False
    if (key == "member" and "no board came from" in found["message"]) or (
        key == "file" and Path(found["file"]).name not in ("project.yaml", "stock.yaml")
    ):
        return True
    is_there = Path(found["file"]).name == name and abs(int(found["line"]) - line) <= 1
    return is_there or re.search(rf"\b{re.escape(key)}\b", found["message"]) is not None
