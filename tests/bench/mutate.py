"""Mutants of some files: which of them do some tests let live?

``python tests/bench/mutate.py FILE [FILE ...] --tests TEST [TEST ...] [--most 200]``

Each mutant is a copy of the project with one thing changed in one of the files: a comparison, an
arithmetic sign, a number, a condition, what is returned, a step left out. The tests run on it until
the first of them fails, or the mutant has taken several times as long as the tests take without it.
Those that live are printed: what the tests do not see. One that changes nothing that can be seen
lives too; which those are, and why, stands in ``HISTORY.md``.

A mutant runs in a fork of a process that has loaded and collected the tests. There its one function
gets other code; what is changed outside of functions, or compiled, is written and loaded anew.
"""

import argparse
import ast
import contextlib
import copy
import gc
import importlib
import io
import math
import multiprocessing
import os
import random
import resource
import shutil
import signal
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path
from types import CodeType, FunctionType
from typing import NoReturn

ROOT = Path(__file__).parents[2]

COPIED = "nesting", "parts", "tests", "demo_projects", "README.md", "DEVELOPERS.md"
"""What tests may look at; ``pyproject.toml`` is there too."""

LIBRARIES = (
    "numpy", "shapely", "scipy.optimize", "scipy.sparse", "numba", "hypothesis", "pydantic",
    "ezdxf", "yaml", "pytest",
)  # fmt: skip
"""Loaded once, before any fork for a mutant that is loaded anew."""

LONGEST, AT_LEAST = 4, 5
"""A mutant is stopped after so many times what the tests take alone, and so many seconds more; of
processor time, so that other work on the machine does not matter."""

WAITING = 10
"""One that only waits is stopped after so many times that long by the clock."""

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
    function: str
    """The outermost function that it is in, with its class's name before it; none: empty."""

    def __str__(self) -> str:
        was, now = (" ".join(one.split()) for one in (self.was, self.now))
        return f"{self.file}:{self.line}: {was}  ->  {now}"


def mutants_of(file: str, source: bytes) -> Iterator[Mutant]:
    """Yield every mutant of a file, in the order of its lines."""
    starts = [0]
    for line in source.splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    tree = ast.parse(source)
    bodies = dict(functions_of(tree))
    for node in nodes_of(tree):
        for piece, now in changed(node):
            begin = starts[piece.lineno - 1] + piece.col_offset
            end = starts[piece.end_lineno - 1] + piece.end_col_offset
            text = source[:begin] + now.encode() + source[end:]
            within = (name for name, lines in bodies.items() if piece.lineno in lines)
            was = source[begin:end].decode()
            yield Mutant(file, piece.lineno, was, now, text, next(within, ""))


def functions_of(node: ast.Module | ast.ClassDef, before: str = "") -> Iterator[tuple[str, range]]:
    """Yield the functions of a module or class, and the lines of what they do."""
    for child in node.body:
        if isinstance(child, ast.ClassDef):
            yield from functions_of(child, f"{before}{child.name}.")
        elif isinstance(child, ast.FunctionDef) and child.body[0].lineno > child.lineno:
            yield f"{before}{child.name}", range(child.body[0].lineno, child.end_lineno + 1)


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
        case ast.Compare():
            for at, was in enumerate(node.ops):
                for op in SWAPS[type(was)]:
                    ops = [*node.ops[:at], op(), *node.ops[at + 1 :]]
                    yield node, f"({ast.unparse(with_changed(node, ops=ops))})"
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
        case ast.Expr(value=ast.Call() | ast.Yield() | ast.YieldFrom()):
            yield node, "pass"
        case ast.Assign(targets=[ast.Subscript() | ast.Attribute()]):
            yield node, "pass"
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


def put_in(mutant: Mutant) -> bool:
    """Give a mutant's function its other code; return whether that could be done."""
    found = sys.modules.get(module_of(mutant.file))
    code = compile(mutant.text, mutant.file, "exec")
    for name in mutant.function.split("."):
        inner = [c for c in code.co_consts if isinstance(c, CodeType) and c.co_name == name]
        if found is None or len(inner) != 1 or name not in vars(found):
            return False
        found, code = vars(found)[name], inner[0]
    if hasattr(found, "py_func"):  # compiled
        return False
    for inside in ("fget", "func", "__func__", "__wrapped__"):
        found = getattr(found, inside, found)
    if not isinstance(found, FunctionType) or found.__code__.co_freevars != code.co_freevars:
        return False
    found.__code__ = code
    return True


def module_of(file: str) -> str:
    """Return the name by which a file is imported."""
    return file.removesuffix(".py").replace("/", ".")


class Forks:
    """Once the tests are collected, runs them in a fork for each mutant, and ends."""

    def __init__(self, found: list[Mutant], told: Connection) -> None:
        self.found, self.told = found, told

    def pytest_collection_finish(self) -> None:
        """Return in the forks alone."""
        gc.freeze()  # what is loaded is no rubbish: no fork needs to look through it
        limit = None
        for mutant in [None, *self.found]:
            child = os.fork()
            if not child:
                os.setpgrp()
                if mutant is not None and not put_in(mutant):
                    os._exit(NOT_PUT_IN)
                limited(limit)
                return
            end, seconds = ended(child)
            limit = limit or math.ceil(LONGEST * seconds + AT_LEAST)
            self.told.send((end, seconds))
            if mutant is None and end != "lives":
                break
        os._exit(0)


NOT_PUT_IN = 77
"""How a fork ends into which a mutant could not be put."""


def limited(seconds: int | None) -> None:
    """Have this process ended after so many seconds of work, or many more of waiting."""
    if seconds is not None:
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 5))
        signal.alarm(WAITING * seconds)


def ended(child: int) -> tuple[str, float]:
    """Wait for a process that runs tests: return how it ended, and what processor time it took."""
    _, status, used = os.wait4(child, 0)
    with contextlib.suppress(ProcessLookupError):
        os.killpg(child, signal.SIGKILL)  # what it started and left behind
    code = os.waitstatus_to_exitcode(status)
    ends = {0: "lives", NOT_PUT_IN: "not put in"}
    ends |= dict.fromkeys((-signal.SIGXCPU, -signal.SIGALRM), "stopped")
    return ends.get(code, "killed"), used.ru_utime + used.ru_stime


def run_tests(folder: Path, tests: list[str], *plugins: object) -> NoReturn:
    """Run tests in a folder, in a process of its own: ends with pytest's exit code."""
    code = 1
    try:
        os.chdir(folder)
        sys.dont_write_bytecode = True
        sys.path.insert(0, str(folder))
        import pytest

        told = io.StringIO()
        with redirect_stdout(told), redirect_stderr(told):
            plain = ["-x", "-q", "-p", "no:cacheprovider", "--hypothesis-seed=0", "--capture=sys"]
            code = pytest.main([*plain, "-W", "ignore", *tests], plugins=plugins)
    finally:
        os._exit(int(code))


def outcomes(folder: Path, found: list[Mutant], tests: list[str]) -> Iterator[tuple[str, float]]:
    """Yield how the tests end and what time they take: without a mutant, then with each."""
    here, there = multiprocessing.Pipe(duplex=False)
    child = os.fork()
    if not child:
        run_tests(folder, tests, Forks(found, there))
    there.close()
    with contextlib.suppress(EOFError):
        while True:
            yield here.recv()
    os.waitpid(child, 0)


def written(folder: Path, mutant: Mutant, tests: list[str], seconds: int) -> str:
    """Return how the tests end on a mutant that is loaded as a file."""
    for name in LIBRARIES:
        importlib.import_module(name)
    path = folder / mutant.file
    as_it_was = path.read_bytes()
    path.write_bytes(mutant.text)
    gc.freeze()
    child = os.fork()
    if not child:
        os.setpgrp()
        limited(seconds)
        run_tests(folder, tests)
    end, _ = ended(child)
    path.write_bytes(as_it_was)
    return end


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
    with tempfile.TemporaryDirectory() as name:
        copied(Path(name))
        try_all(Path(name), found, given.tests)


def try_all(folder: Path, found: list[Mutant], tests: list[str]) -> None:
    """Run the tests on each mutant, and print those that live and how many did not."""
    each = outcomes(folder, found, tests)
    alone, seconds = next(each)
    assert alone == "lives", "the tests fail as the code stands"
    print(f"{len(found)} mutants; the tests take {seconds:.1f} s", flush=True)
    counts: dict[str, Counter[str]] = {}
    for mutant, (found_end, _) in zip(found, each, strict=True):
        end = found_end
        if end == "not put in":
            end = written(folder, mutant, tests, math.ceil(LONGEST * seconds + 2 * AT_LEAST))
        counts.setdefault(mutant.file, Counter())[end] += 1
        if end != "killed":
            print(f"{end:7s}  {mutant}", flush=True)
    for file, ends in counts.items():
        told = ", ".join(f"{ends[end]} {end}" for end in ("killed", "stopped", "lives"))
        print(f"{file}: {told}", flush=True)


if __name__ == "__main__":
    main()
