"""Mutants of some files: which of them do some tests let live?

``python tests/bench/mutate.py FILE [FILE ...] --tests TEST [TEST ...] [--most 200]``

Each mutant is a copy of the project with one thing changed in one of the files: a comparison, an
arithmetic sign, a number, a condition, what is returned. The tests run on it until the first of
them fails, or the mutant has taken several times as long as the tests take without it. Those that
live are printed: what the tests do not see. One that changes nothing that can be seen lives too;
which those are, and why, stands in ``HISTORY.md``.

A mutant runs in a fork of this process, into which the libraries are loaded already.
"""

import argparse
import ast
import copy
import importlib
import io
import multiprocessing
import os
import random
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]

COPIED = "nesting", "parts", "tests", "demo_projects", "README.md", "DEVELOPERS.md"
"""What tests may look at; ``pyproject.toml`` is there too."""

LIBRARIES = (
    "numpy", "shapely", "scipy.optimize", "scipy.sparse", "numba", "hypothesis", "pydantic",
    "ezdxf", "yaml", "pytest",
)  # fmt: skip
"""Loaded once, before any fork."""

LONGEST, AT_LEAST = 4.0, 5.0
"""A mutant is stopped after so many times what the tests take alone, and so many seconds more."""

SWAPS = {
    ast.Add: [ast.Sub], ast.Sub: [ast.Add], ast.Mult: [ast.Div], ast.Div: [ast.Mult],
    ast.FloorDiv: [ast.Mult], ast.Mod: [ast.Mult], ast.Pow: [ast.Mult],
    ast.BitAnd: [ast.BitOr], ast.BitOr: [ast.BitAnd],
    ast.Lt: [ast.LtE, ast.GtE], ast.LtE: [ast.Lt, ast.Gt],
    ast.Gt: [ast.GtE, ast.LtE], ast.GtE: [ast.Gt, ast.Lt],
    ast.Eq: [ast.NotEq], ast.NotEq: [ast.Eq], ast.Is: [ast.IsNot], ast.IsNot: [ast.Is],
    ast.In: [ast.NotIn], ast.NotIn: [ast.In], ast.And: [ast.Or], ast.Or: [ast.And],
}  # fmt: skip
"""What stands for what: bounds that move by nothing, and the contrary."""

PLAIN = ast.Name, ast.Attribute, ast.Call, ast.Subscript
"""Conditions that are turned round; others are changed within."""


@dataclass(frozen=True)
class Mutant:
    """One change: in which file, which line, from what to what, and the file's text with it."""

    file: str
    line: int
    was: str
    now: str
    text: bytes

    def __str__(self) -> str:
        was, now = (" ".join(one.split()) for one in (self.was, self.now))
        return f"{self.file}:{self.line}: {was}  ->  {now}"


def mutants_of(file: str, source: bytes) -> Iterator[Mutant]:
    """Yield every mutant of a file, in the order of its lines."""
    starts = [0]
    for line in source.splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    for node in nodes_of(ast.parse(source)):
        for piece, now in changed(node):
            begin = starts[piece.lineno - 1] + piece.col_offset
            end = starts[piece.end_lineno - 1] + piece.end_col_offset
            text = source[:begin] + now.encode() + source[end:]
            yield Mutant(file, piece.lineno, source[begin:end].decode(), now, text)


def nodes_of(node: ast.AST) -> Iterator[ast.AST]:
    """Yield the nodes that may be changed: no types, no texts, no decorators, no imports."""
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "decorator_list", "type_comment"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST) and not isinstance(child, ast.JoinedStr):
                yield child
                yield from nodes_of(child)


def changed(node: ast.AST) -> Iterator[tuple[ast.AST, str]]:
    """Yield pieces of a node with what may stand in their place."""
    match node:
        case ast.BinOp() | ast.BoolOp():
            for op in SWAPS.get(type(node.op), []):
                yield node, f"({ast.unparse(with_changed(node, op=op()))})"
        case ast.Compare(ops=[only]):
            for op in SWAPS[type(only)]:
                yield node, f"({ast.unparse(with_changed(node, ops=[op()]))})"
        case ast.UnaryOp(op=ast.Not() | ast.USub()):
            yield node, f"({ast.unparse(node.operand)})"
        case ast.Constant(value=bool()):
            yield node, str(not node.value)
        case ast.Constant(value=int() | float()):
            yield node, str(node.value + 1)
        case ast.Return(value=ast.expr()) if not is_none(node.value):
            yield node, "return None"
        case ast.If() | ast.While() | ast.IfExp() if isinstance(node.test, PLAIN):
            yield node.test, f"(not {ast.unparse(node.test)})"
        case ast.AugAssign() if type(node.op) in SWAPS:
            yield node, ast.unparse(with_changed(node, op=SWAPS[type(node.op)][0]()))
        case ast.Break():
            yield node, "continue"
        case ast.Continue():
            yield node, "break"


def is_none(node: ast.expr) -> bool:
    """Return whether an expression is plain None."""
    return isinstance(node, ast.Constant) and node.value is None


def with_changed(node: ast.AST, **fields: object) -> ast.AST:
    """Return a copy of a node with other fields."""
    other = copy.copy(node)
    for name, value in fields.items():
        setattr(other, name, value)
    return other


def copied(folder: Path) -> None:
    """Copy the project, compiled kernels with it: numba knows them by the time of their source."""
    for name in COPIED:
        if (ROOT / name).is_dir():
            shutil.copytree(ROOT / name, folder / name)
        else:
            shutil.copy2(ROOT / name, folder / name)
    shutil.copy2(ROOT / "pyproject.toml", folder / "pyproject.toml")


def run_tests(folder: Path, tests: list[str]) -> None:
    """Run tests in a folder, in a process of its own: ends with pytest's exit code."""
    os.chdir(folder)
    os.setpgrp()
    sys.dont_write_bytecode = True
    sys.path.insert(0, str(folder))
    import pytest

    told = io.StringIO()
    with redirect_stdout(told), redirect_stderr(told):
        plain = ["-x", "-q", "-p", "no:cacheprovider", "--hypothesis-seed=0"]
        code = pytest.main([*plain, "-W", "ignore", *tests])
    os._exit(int(code))


def outcome(folder: Path, tests: list[str], seconds: float | None) -> str:
    """Return how tests ended: ``lives``, ``killed`` or ``stopped``, for the time was over."""
    process = multiprocessing.get_context("fork").Process(target=run_tests, args=(folder, tests))
    process.start()
    process.join(seconds)
    if process.is_alive():
        os.killpg(process.pid, 9)
        process.join()
        return "stopped"
    return "killed" if process.exitcode else "lives"


def main() -> None:
    """Try the mutants of the files asked for, and print those that live."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("files", nargs="+")
    parser.add_argument("--tests", nargs="+", required=True)
    parser.add_argument("--most", type=int, help="try so many, drawn by chance (default all)")
    parser.add_argument("--list", action="store_true", help="only print the mutants")
    given = parser.parse_args()
    found = [m for file in given.files for m in mutants_of(file, (ROOT / file).read_bytes())]
    if given.most is not None and given.most < len(found):
        chosen = random.Random(0).sample(range(len(found)), given.most)
        found = [found[number] for number in sorted(chosen)]
    if given.list:
        print(*found, sep="\n")
        return
    for name in LIBRARIES:
        importlib.import_module(name)
    with tempfile.TemporaryDirectory() as name:
        copied(Path(name))
        try_all(Path(name), found, given.tests)


def try_all(folder: Path, found: list[Mutant], tests: list[str]) -> None:
    """Run the tests on each mutant, and print those that live and how many did not."""
    begun = time.monotonic()
    assert outcome(folder, tests, None) == "lives", "the tests fail as the code stands"
    alone = time.monotonic() - begun
    print(f"{len(found)} mutants; the tests take {alone:.1f} s", flush=True)
    ended: dict[str, Counter[str]] = {}
    for mutant in found:
        path = folder / mutant.file
        as_it_was = path.read_bytes()
        path.write_bytes(mutant.text)
        end = outcome(folder, tests, LONGEST * alone + AT_LEAST)
        path.write_bytes(as_it_was)
        ended.setdefault(mutant.file, Counter())[end] += 1
        if end == "lives":
            print(f"lives  {mutant}", flush=True)
    for file, counts in ended.items():
        told = ", ".join(f"{counts[end]} {end}" for end in ("killed", "stopped", "lives"))
        print(f"{file}: {told}", flush=True)


if __name__ == "__main__":
    main()
