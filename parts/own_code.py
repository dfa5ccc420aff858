"""Part families of one's own: in a Python file beside a project, or in an installed package.

A file is compiled from the very bytes that somebody agreed to; whether anybody did is not asked
here. An installed package names its families by entry points of the group below.
"""

from __future__ import annotations

import hashlib
import importlib
import inspect
import sys
import traceback
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import cache
from importlib.metadata import EntryPoint, entry_points
from pathlib import Path
from types import MappingProxyType, ModuleType

from pydantic import ValidationError

from nesting.errors import OwnCodeError, SalvageNestError
from nesting.unseen import quoted, short, shown, unseen_in
from parts.part import Family

GROUP = "salvage_nest.families"
"""Entry points of this group each load one family; an entry point is called as its family is."""

FAULTS = (Exception, SystemExit, GeneratorExit)
"""What code of somebody's own may raise: it may not end this program without a word."""

OURS = ("parts.", "nesting.")
"""Modules whose faults are this package's own."""

PREFIX = "salvage_nest_own_"
"""How the modules of files beside a project are called, with the first digits of their content."""


def families_in(path: Path, content: bytes) -> tuple[type[Family], ...]:
    """Run a file's content and return the families that it defines, in their order.

    Raises
    ------
    OwnCodeError
        If it cannot be compiled or run, or defines no family that can be used; names file and line.
    """
    name = PREFIX + hashlib.sha256(content).hexdigest()[:16]
    module = ModuleType(name)
    module.__file__ = str(path)
    # Names in annotations are looked up there, when a model is built.
    sys.modules[name] = module
    try:
        exec(compile(content, str(path), "exec", dont_inherit=True), vars(module))
    except SyntaxError as error:
        line = error.lineno or 0
        said = f"{path.name}{f':{line}' if line else ''}: {error.msg}"
        raise OwnCodeError(f"cannot be run: {said}", str(path), line) from error
    except FAULTS as error:
        raise _failed("cannot be run", error, str(path)) from error
    found = [member for member in vars(module).values() if _is_family(member, name)]
    if not found:
        what = "defines no part family: a class of nesting.Family with its name in family"
        raise OwnCodeError(what, str(path))
    for family in found:
        require_usable(family)
    return tuple(dict.fromkeys(found))


def _is_family(member: object, module: str) -> bool:
    is_own = inspect.isclass(member) and member.__module__ == module
    return is_own and issubclass(member, Family) and "family" in vars(member)  # type: ignore[arg-type]


def require_usable(family: type[Family]) -> None:
    """Do nothing if a class has what every family has.

    Raises
    ------
    OwnCodeError
        If it lacks some of it; says where it is defined.
    """
    lacks = sorted(getattr(family, "__abstractmethods__", ()))
    if lacks:
        raise _at(family, f"{family.__name__} lacks {' and '.join(f'{name}()' for name in lacks)}")
    if not isinstance(family.family, str) or not family.family.strip():
        raise _at(family, f"{family.__name__} has no name in family, as family = 'hatch cover'")
    if unseen := unseen_in(family.family):
        raise _at(family, f"the name {quoted(family.family)} holds {unseen}, which nobody sees")
    if not (vars(family).get("__doc__") or "").strip():
        raise _at(family, f"{family.__name__} has no docstring: its first line says what it makes")


def _at(family: type[Family], what: str) -> OwnCodeError:
    """Return an error about a class, with where it is defined."""
    file = getattr(sys.modules.get(family.__module__), "__file__", None) or family.__module__
    line = getattr(family, "__firstlineno__", 0) or _line_of(file, family.__name__)
    where = f"{_called(file)}:{line}" if line else _called(file)
    return OwnCodeError(f"cannot be used: {where}: {what}", file, line)


def _line_of(file: str, name: str) -> int:
    """Return the line of a class in a file, 0 if it cannot be found."""
    try:
        lines = Path(file).read_text(encoding="utf-8").splitlines()
    except (OSError, ValueError):
        return 0
    return next((n for n, line in enumerate(lines, 1) if line.split("(")[0] == f"class {name}"), 0)


@cache
def installed() -> Mapping[str, type[Family] | OwnCodeError]:
    """Return the families of installed packages by name, or why one cannot be used."""
    found: dict[str, type[Family] | OwnCodeError] = {}
    for point in entry_points(group=GROUP):
        name = point.name.strip()
        if name in found:
            found[name] = OwnCodeError(f"two installed packages have a family {short(name)}")
            continue
        try:
            found[name] = _loaded(point)
        except OwnCodeError as error:
            found[name] = error
    return MappingProxyType(found)


def _loaded(point: EntryPoint) -> type[Family]:
    package = f"{point.dist.name} {point.dist.version}" if point.dist else point.module
    try:
        family = point.load()
    except FAULTS as error:
        raise _failed(f"comes with {package}, which cannot be loaded", error) from error
    if not inspect.isclass(family) or not issubclass(family, Family):
        raise OwnCodeError(f"comes with {package}, where {point.value} is no class of Family")
    require_usable(family)
    if family.family != point.name.strip():
        raise OwnCodeError(f"comes with {package}, whose class calls it {family.family!r}")
    return family


def is_own(family: type[object]) -> bool:
    """Return whether a family is somebody's own: of a file beside a project, or installed."""
    return family.__module__.startswith(PREFIX) or family in installed().values()


@contextmanager
def told_of(family: object, part: str = "") -> Iterator[None]:
    """Have whatever goes wrong in a family of one's own leave as an error that says where.

    ``family`` is a family or a part of it; ``part`` is named if it is given.

    What a family says on purpose (any error of this package) leaves as it is, and so do faults of
    our own families, and parameters that are refused before any of its code runs.

    Raises
    ------
    OwnCodeError
        With the part's name, file and line.
    """
    try:
        yield
    except SalvageNestError:
        raise
    except FAULTS as error:
        kind = family if inspect.isclass(family) else type(family)
        file = getattr(sys.modules.get(kind.__module__), "__file__", "") or ""
        is_refused = isinstance(error, ValidationError) and not _frames_in(file, error)
        if is_refused or kind.__module__.startswith(OURS):
            raise
        what = f"family {getattr(kind, 'family', kind.__name__)} failed"
        raise _failed(f"part {short(part)}: {what}" if part else what, error, file) from error


def place_in_own_code(error: BaseException) -> str:
    """Return file and line, as ``lids.py:31``, where code beside a project raised; else nothing."""
    for frame in reversed(traceback.extract_tb(error.__traceback__)):
        if any(frame.filename == file for file in _own_files()):
            return f"{_called(frame.filename)}:{frame.lineno}"
    return ""


def _called(file: str) -> str:
    """Return what a file of code is called: a package's own first file with its folder."""
    path = Path(file)
    return f"{path.parent.name}/{path.name}" if path.name == "__init__.py" else path.name


def _frames_in(file: str, error: BaseException) -> list[traceback.FrameSummary]:
    """Return the places in a file that an error came through, the innermost last."""
    frames = traceback.extract_tb(error.__traceback__)
    return [frame for frame in frames if frame.filename == file]


def _only_loads(frame: traceback.FrameSummary) -> bool:
    """Return whether a place is in what loads code, this module or Python's own import."""
    loaders = str(Path(importlib.__file__).parent)
    return frame.filename == __file__ or frame.filename.startswith(("<frozen importlib", loaders))


def _own_files() -> set[str]:
    own = (module for name, module in list(sys.modules.items()) if name.startswith(PREFIX))
    return {str(getattr(module, "__file__", "")) for module in own}


def _words_of(error: BaseException) -> str:
    """Return what an error says; nothing where its own code for that fails too."""
    try:
        return str(error)
    except FAULTS:
        return ""


def _failed(what: str, error: BaseException, file: str = "") -> OwnCodeError:
    """Return an error that says where in somebody's code another one arose."""
    frames = _frames_in(file, error) or [
        frame for frame in traceback.extract_tb(error.__traceback__) if not _only_loads(frame)
    ]
    frame = frames[-1] if frames else None
    text = shown(short(" ".join(_words_of(error).split())))
    said = f"{type(error).__name__}: {text}" if text else type(error).__name__
    if frame is None:
        return OwnCodeError(f"{what}: {said}", file)
    where = f"{_called(frame.filename)}:{frame.lineno}"
    return OwnCodeError(f"{what}: {where}: {said}", frame.filename, frame.lineno or 0)
