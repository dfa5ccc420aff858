"""The project file: which stock, which parts, by which rules."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache, partial
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Literal

from nesting.consent import Consent, is_allowed
from nesting.errors import ProjectFileError, ShapeError
from nesting.given import called, path_given
from nesting.need import Need
from nesting.project.boat import read_boat
from nesting.project.entry import Entry, Findings
from nesting.project.former import FormerUse, InBook
from nesting.project.letters import note_letters_past_r12
from nesting.project.needs import as_mappings, read_parts
from nesting.project.own_families import read_families
from nesting.project.project_entry import ProjectHead
from nesting.project.rules_entry import RulesEntry
from nesting.project.setting import Setting, Woods
from nesting.project.stock import read_stock
from nesting.project.unit import unit_of
from nesting.project.wishes_read import read_wishes
from nesting.rates import Rates
from nesting.rules import Rules
from nesting.shop.kinds import USUAL_ROLL_MM, Output, Paper
from nesting.stock.board import Board
from nesting.units import Unit
from nesting.unseen import quoted
from nesting.wishes import NO_WISHES, Wishes
from nesting.yaml_file.document import read_document
from nesting.yaml_file.scalars import as_written
from parts.part import Part

if TYPE_CHECKING:
    from parts.boat.boat import Boat


@dataclass(frozen=True)
class Project:
    """Everything that a project file says, ready to be nested.

    Attributes
    ----------
    unit
        In which sheets are printed; inside, everything is mm.
    stock
        Boards, each of its own name.
    needs
        Parts list, in the order of the file.
    parts
        The same parts by name, for their solids.
    folder
        Where outputs go, if the file says so.
    dxf_version
        ``R2010`` or ``R12``.
    outputs, paper
        What is written beside the cut sheets, and the paper that it is printed on.
    roll_mm, cutter_mm
        Width of the roll for patterns; diameter of a machine's cutter, the kerf if None.
    rates
        What wood and work cost, if the file says so.
    book, book_step
        The stock book, if the file names one; the step of it by which stock and needs are.
    boat
        The boat that fitted parts stand in, if the file names her lines.
    wishes
        What is wished of a plan beyond the rules.
    board_entries, part_entries, wish_entries
        What the files say of each, by name, with its place: for remarks, in the process that read
        them.
    """

    path: Path
    name: str
    unit: Unit
    rules: Rules
    stock: tuple[Board, ...]
    needs: tuple[Need, ...]
    parts: Mapping[str, Part]
    folder: Path | None = None
    dxf_version: Literal["R2010", "R12"] = "R2010"
    outputs: tuple[Output, ...] = ()
    paper: Paper = Paper.A4
    roll_mm: float = USUAL_ROLL_MM
    cutter_mm: float | None = None
    rates: Rates | None = None
    book: Path | None = None
    book_step: int | None = None
    boat: Boat | None = None
    wishes: Wishes = NO_WISHES
    board_entries: Mapping[str, Entry] = field(default_factory=dict, repr=False)
    part_entries: Mapping[str, Entry] = field(default_factory=dict, repr=False)
    wish_entries: Mapping[str, Entry] = field(default_factory=dict, repr=False)

    def __getstate__(self) -> dict[str, Any]:
        """Return what travels to another process: all but the files' own words."""
        words: dict[str, Any] = {"board_entries": {}, "part_entries": {}, "wish_entries": {}}
        return {**vars(self), "parts": dict(self.parts), **words}


def read_project(
    path: Path | str,
    *,
    dxf_version: Literal["R2010", "R12"] | None = None,
    consent: Consent = is_allowed,
    known: Callable[[Path], Mapping[str, str]] | None = None,
) -> Project:
    """Read a project file, with the stock files and drawings that it names.

    Parameters
    ----------
    dxf_version
        In place of the one that the file says.
    consent
        Says whether code that comes with the project may run, asked with its path and its bytes;
        if not given, what somebody agreed to before may.
    known
        Says of a stock book which boards it has, each with what it was on the old boat: wishes,
        and what parts may not come from, may name them as those of the stock.

    Raises
    ------
    ProjectFileError
        With everything that is wrong, each with its file, line and column.
    ShapeError
        If what is given beside the file cannot be.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> text = '''{version: 1, name: Stool, unit: mm,
    ...   stock: [{board: A, species: teak, thickness: 30, length: 900, width: 300}],
    ...   parts: [{part: seat, family: plank, species: teak,
    ...            shape: {length: 400, width: 250, thickness: 22}}]}'''
    >>> with TemporaryDirectory() as folder:
    ...     path = Path(folder) / "stool.yaml"
    ...     _ = path.write_text(text)
    ...     read_project(path).needs
    (Need('seat', 1 of 400 x 250 mm, 22 mm thick, of teak),)
    """
    path, consent = path_given(path, "the project file"), called(consent, "consent") or is_allowed
    if dxf_version not in (None, "R2010", "R12"):
        raise ShapeError(f"dxf_version is {quoted(dxf_version)}, must be R2010 or R12")
    document = read_document(path)
    top = Entry(document, document.data, Findings())
    unit = unit_of(document)
    head = top.validated(ProjectHead, {"unit": unit or Unit.MM})
    if unit is None:
        raise ProjectFileError(top.findings.found)
    families = read_families(top, path.parent, consent)
    setting = Setting(
        unit, path.parent, _woods(top), _saw(head).rules(unit).kerf_mm, families=families
    )
    stock, board_entries = read_stock(top, setting)
    in_book = _in_book(head, path, known)
    former = FormerUse(stock, is_all=not top.findings.found, in_book=in_book)
    rates = head.rates.rates(top, setting.woods) if head and head.rates else None
    boat = read_boat(top, setting)
    setting = replace(setting, boat=boat, boat_is_wrong="boat" in document.data and boat is None)
    found, part_entries = read_parts(
        top, setting, slope_of_grain=_saw(head).slope_of_grain, former=former
    )
    version = dxf_version or (head.outputs.dxf if head else "R2010")
    if version == "R12":
        note_letters_past_r12(top, (*board_entries.values(), *part_entries.values()))
    parts, needs = as_mappings(found)
    wishes, wish_entries = NO_WISHES, dict[str, Entry]()
    if (
        not top.findings.found and head is not None
    ):  # A board or part that could not be read is no unknown name.
        wishes, wish_entries = read_wishes(
            top,
            setting,
            stock=stock,
            needs=needs,
            part_entries=part_entries,
            stage=head.stage,
            known=in_book() if in_book and (head.wishes or head.groups) else {},
        )
    if top.findings.found or head is None:
        raise ProjectFileError(top.findings.found)
    return Project(
        path=path,
        name=head.name,
        unit=unit,
        rules=head.rules.rules(unit),
        stock=stock,
        needs=needs,
        parts=MappingProxyType(parts),
        folder=path.parent / head.outputs.folder if head.outputs.folder else None,
        dxf_version=version,
        outputs=head.outputs.write,
        paper=head.outputs.paper,
        roll_mm=head.outputs.roll_mm,
        cutter_mm=head.outputs.cutter_mm,
        rates=rates,
        book=path.parent / head.book if head.book else None,
        boat=boat,
        wishes=wishes,
        board_entries=MappingProxyType(board_entries),
        part_entries=MappingProxyType(part_entries),
        wish_entries=MappingProxyType(wish_entries),
    )


def _saw(head: ProjectHead | None) -> RulesEntry:
    """Return the rules, or the usual ones where the head of the file is wrong."""
    return head.rules if head else RulesEntry()


def _woods(top: Entry) -> Woods:
    """Return the woods of the tables and those that the file declares."""
    given: Any = top.data.get("species", [])
    declared = given if isinstance(given, list) else [given]
    names = map(as_written, declared)
    return Woods(tuple(name.strip() for name in names if isinstance(name, str)))


def _in_book(
    head: ProjectHead | None, path: Path, known: Callable[[Path], Mapping[str, str]] | None
) -> InBook | None:
    """Return what says which boards the project's stock book has, asked once; None without one."""
    if known is None or head is None or head.book is None:
        return None
    return cache(partial(known, path.parent / head.book))
