"""Nodes with places out of the YAML parser's events.

Composing from events, on a stack of our own, is what makes hostile files harmless: neither
deep nesting nor aliases of aliases can overflow anything, and a key said twice is noticed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, NoReturn

import yaml
import yaml.reader

from nesting.errors import Finding, ProjectFileError
from nesting.unseen import quoted, same_letters, short, unseen_in
from nesting.yaml_file.scalars import as_written, scalar

DEEPEST = 40
"""Nesting of lists and blocks; a project file goes six deep."""

MOST_REPEATED = 50_000
"""Entries that aliases may repeat: far above any use, far below what fills a memory."""

LONGEST_TEXT = 4_000
"""A note, a name, or a row of a table of offsets in one text: 200 stations of 20 characters."""

MOST_ENTRIES = 250_000
"""Keys, figures and texts of one file. 3,000 boards and 5,000 parts come to half of it."""


@dataclass(slots=True, eq=False)
class Node:
    """One value of a file and its place, counted from 1.

    ``weight`` counts the entries in it, those that aliases repeat included; ``depth`` how
    deep they nest.
    """

    line: int
    column: int
    value: Any = None
    entries: list[Node] | None = None
    keys: dict[str, tuple[Node, Node]] | None = None
    weight: int = 1
    depth: int = 0

    @property
    def is_scalar(self) -> bool:
        """Whether it is neither a list nor a block of keys."""
        return self.entries is None and self.keys is None

    def data(self) -> Any:
        """Return plain lists, dicts and scalars; a node that aliases repeat is one object."""
        if self.value is None and self.entries is not None:
            self.value = [node.data() for node in self.entries]
        elif self.value is None and self.keys is not None:
            self.value = {key: node.data() for key, (_, node) in self.keys.items()}
        return self.value

    def child(self, step: str | int) -> Node | None:
        """Return the node under a key or at an index, or None."""
        if isinstance(step, str):
            return self.keys[step][1] if self.keys and step in self.keys else None
        if self.entries is None or not 0 <= step < len(self.entries):
            return None
        return self.entries[step]


def compose(file: str, text: str, only: frozenset[str] | None = None) -> Node:
    """Return the node of a whole text; raises ProjectFileError with places in ``file``.

    With ``only`` lists and blocks under other keys of the top are passed over unread.
    """
    return _Composer(file, text, only).compose()


@dataclass
class _Open:
    """A list or block whose end has not come yet."""

    node: Node
    anchor: str | None
    key: Node | None = None
    merged: list[Node] = field(default_factory=list)


@dataclass
class _Composer:
    file: str
    text: str
    only: frozenset[str] | None = None
    passing: int = 0
    anchors: dict[str, Node | None] = field(default_factory=dict)
    stack: list[_Open] = field(default_factory=list)
    root: Node | None = None
    written: int = 0
    meant: dict[str, Any] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)

    def compose(self) -> Node:
        for event in self._events():
            if not self._is_passed(event):
                self._take(event)
        if self.root is None or (self.root.is_scalar and self.root.value is None):
            self._stop(1, 1, "the file is empty; start it with version: 1")
        if self.findings:
            raise ProjectFileError(self.findings)
        return self.root

    def _events(self) -> Iterator[Any]:
        try:
            loader = yaml.CSafeLoader(self.text)
            while not isinstance(event := loader.get_event(), yaml.StreamEndEvent):
                yield event
        except yaml.MarkedYAMLError as error:
            mark = error.problem_mark or error.context_mark
            line, column = (mark.line + 1, mark.column + 1) if mark else (1, 1)
            self._stop(line, column, _wording(error, self.text, line))
        except yaml.reader.ReaderError as error:
            # The place is counted in bytes of UTF-8.
            before = self.text.encode()[: error.position].decode(errors="ignore")
            column = len(before) - (before.rfind("\n") + 1) + 1
            code = error.character
            self._stop(
                before.count("\n") + 1, column, f"a control character (code {code}); delete it"
            )

    def _is_passed(self, event: Any) -> bool:
        """Return whether an event is of a list or block that nobody asked for."""
        if self.only is None:
            return False
        kind = type(event)
        if self.passing:
            self.passing += (kind in _STARTS) - (kind in _ENDS)
            return True
        if kind not in _STARTS or len(self.stack) != 1:
            return False
        top = self.stack[0]
        if top.key is None or not top.key.is_scalar:
            return False
        if as_written(top.key.value) in (*self.only, "<<"):
            return False
        self.passing, top.key = 1, None
        return True

    def _take(self, event: Any) -> None:
        kind, mark = type(event), event.start_mark
        line, column = mark.line + 1, mark.column + 1
        if kind is yaml.ScalarEvent:
            if event.tag:
                self._refuse_tag(event, line, column)
            text = event.value
            if text not in self.meant:
                self._check_text(text, line, column)
            means = event.implicit[0] and not self._is_key()
            value = self.meant.get(text, text) if means else text
            self._place(Node(line, column, value), event.anchor)
        elif kind is yaml.SequenceStartEvent or kind is yaml.MappingStartEvent:
            self._open(event, line, column)
        elif kind is yaml.SequenceEndEvent or kind is yaml.MappingEndEvent:
            self._close()
        elif kind is yaml.AliasEvent:
            self._place(self._anchored(str(event.anchor), line, column), None)
        elif kind is yaml.DocumentStartEvent and self.root is not None:
            self._stop(line, column, "a second document starts here (---); keep one per file")

    def _open(self, event: Any, line: int, column: int) -> None:
        self._refuse_tag(event, line, column)
        if len(self.stack) >= DEEPEST:
            self._stop(line, column, f"lists or blocks nested more than {DEEPEST} deep")
        is_block = type(event) is yaml.MappingStartEvent
        node = Node(line, column, keys={}) if is_block else Node(line, column, entries=[])
        if event.anchor:
            self.anchors[event.anchor] = None
        self.stack.append(_Open(node, event.anchor))

    def _close(self) -> None:
        closed = self.stack.pop()
        for merged in closed.merged:
            assert closed.node.keys is not None
            for name, pair in (merged.keys or {}).items():
                closed.node.keys.setdefault(name, pair)
        self._place(closed.node, closed.anchor)

    def _refuse_tag(self, event: Any, line: int, column: int) -> None:
        if event.tag:
            self._stop(line, column, f"the tag {event.tag!r} has no use here; leave it out")

    def _is_key(self) -> bool:
        """Return whether what comes next is a key: that is text as written, whatever it means."""
        return bool(self.stack) and self.stack[-1].node.keys is not None and not self.stack[-1].key

    def _check_text(self, text: str, line: int, column: int) -> None:
        """Refuse a text without end, and note what nobody sees in one but for line breaks.

        What a sound one means is kept: most words of a file come many times.
        """
        if len(text) > LONGEST_TEXT:
            message = f"a text of {len(text):,} characters, at most {LONGEST_TEXT:,}; make it short"
            self._stop(line, column, message)
        if unseen := unseen_in(text.replace("\n", " ")):
            message = f"{quoted(text)} holds {unseen}, which nobody sees; take it out"
            self.findings.append(Finding(self.file, line, column, message))
            return
        self.meant[text] = scalar(text)

    def _anchored(self, anchor: str, line: int, column: int) -> Node:
        if anchor not in self.anchors:
            self._stop(line, column, f"*{anchor} names no anchor &{anchor} above it")
        node = self.anchors[anchor]
        if node is None:
            self._stop(line, column, f"*{anchor} stands inside the very thing it names")
        return node

    def _place(self, node: Node, anchor: str | None) -> None:
        """Put a finished node where it belongs: at the top, in its list, under its key."""
        if anchor:
            self.anchors[anchor] = node
        if not self.stack:
            self.root = node
            return
        parent = self.stack[-1]
        if parent.node.entries is not None:
            parent.node.entries.append(node)
        elif parent.key is None:
            parent.key = node
            return
        else:
            self._add(parent, parent.key, node)
            parent.key = None
        self._count(parent.node, node)

    def _count(self, parent: Node, node: Node) -> None:
        self.written += 1
        if self.written > MOST_ENTRIES:
            message = f"more than {MOST_ENTRIES:,} entries down to here; share the stock out over "
            self._stop(node.line, node.column, message + "several projects")
        parent.weight += node.weight
        if node.depth >= parent.depth:
            parent.depth = node.depth + 1
        if parent.depth > DEEPEST:
            self._stop(
                parent.line, parent.column, f"lists or blocks nested more than {DEEPEST} deep"
            )
        if parent.weight > self.written + MOST_REPEATED:
            self._stop(
                parent.line,
                parent.column,
                f"aliases in here repeat more than {MOST_REPEATED:,} entries; write out what "
                "is meant",
            )

    def _add(self, parent: _Open, key: Node, value: Node) -> None:
        if not key.is_scalar:
            self._stop(key.line, key.column, "a key must be a word, not a list or a block")
        name, keys = same_letters(str(as_written(key.value))), parent.node.keys
        assert keys is not None
        if name == "<<":
            self._merge(parent, key, value)
        elif name in keys:
            first = keys[name][0]
            message = f"{short(name)}: said twice, first in line {first.line}; keep one"
            self.findings.append(Finding(self.file, key.line, key.column, message))
        else:
            keys[name] = (key, value)

    def _merge(self, parent: _Open, key: Node, value: Node) -> None:
        """Take over the keys of an anchored block, or of several; its own keys win."""
        blocks = value.entries if value.entries is not None else [value]
        if any(block.keys is None for block in blocks):
            self._stop(key.line, key.column, "<<: takes an anchored block of keys, as <<: *name")
        parent.merged.extend(blocks)

    def _stop(self, line: int, column: int, message: str) -> NoReturn:
        raise ProjectFileError([*self.findings, Finding(self.file, line, column, message)])


_STARTS = (yaml.SequenceStartEvent, yaml.MappingStartEvent)

_ENDS = (yaml.SequenceEndEvent, yaml.MappingEndEvent)


def _wording(error: yaml.MarkedYAMLError, text: str, line: int) -> str:
    """Return what to do about a text that is no YAML."""
    problem = str(error.problem or error)
    lines = text.splitlines()
    at = lines[line - 1] if line <= len(lines) else ""
    if "tab" in problem.split() or at.lstrip(" ").startswith("\t"):
        return "a tab; YAML wants spaces at the start of a line"
    if "maximum nesting" in problem:
        return f"lists or blocks nested more than {DEEPEST} deep"
    hint = ""
    if "mapping values are not allowed" in problem:
        hint = "; check the indentation here, and put text that holds ': ' in quotes"
    elif "end of stream" in problem:
        hint = "; a quote or a bracket is not closed"
    context = f"{error.context}: " if error.context else ""
    return f"this is no YAML: {context}{problem}{hint}"
