"""One block of a file on its way to a domain object, with the way back to its place."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from nesting.errors import Finding, ProjectFileError
from nesting.project.unit import unit_of
from nesting.project.wording import Complaint, complaints
from nesting.told import told_in
from nesting.units import Unit
from nesting.unseen import same_letters, short
from nesting.yaml_file.document import Document, Step
from nesting.yaml_file.scalars import as_written

MOST_FINDINGS = 300
"""Then reading ends: one slip that runs through a whole file has been seen by then."""

Loc = tuple[Step, ...]
ModelT = TypeVar("ModelT", bound=BaseModel)


def _same(loc: Loc) -> Loc:
    return loc


@dataclass
class Findings:
    """Everything found wrong so far, each thing once."""

    noted: dict[Finding, None] = field(default_factory=dict)
    most: int = MOST_FINDINGS

    @property
    def found(self) -> list[Finding]:
        """What was found, in the order in which it was."""
        return list(self.noted)

    def add(self, finding: Finding) -> None:
        """Note one finding, unless it is there already: defaults serve many boards.

        Raises
        ------
        ProjectFileError
            When there are so many that nobody would read more.
        """
        self.noted.setdefault(finding)
        if len(self.noted) >= self.most:
            raise ProjectFileError(self.found, is_all=False)


@dataclass
class Names:
    """Names in use, to refuse one that comes twice.

    ``noun`` is what a name belongs to, and the key that it stands under.
    """

    noun: str
    used: dict[str, Entry] = field(default_factory=dict)

    def add(self, name: str, entry: Entry) -> None:
        """Note a name that another entry has."""
        first = self.used.setdefault(name, entry)
        if first is not entry:
            place = first.place(self.noun)
            entry.note(
                (self.noun,), f"{short(name)} is the name of a {self.noun} at {place}; give another"
            )

    def add_written(self, entry: Entry) -> None:
        """Take up the name in an entry's data, even where the rest cannot be read."""
        name = as_written(entry.data.get(self.noun))
        if isinstance(name, str):
            self.add(same_letters(name.strip()), entry)


@dataclass(frozen=True)
class Entry:
    """A block's data, what to call it in a message, and where it stands.

    Attributes
    ----------
    title
        Put before each message: ``board D-07``; empty at the top of a file.
    to_document
        Turns a path in ``data`` into one in the document.
    """

    document: Document
    data: Any
    findings: Findings
    title: str = ""
    to_document: Callable[[Loc], Loc] = _same

    def note(
        self, loc: Sequence[Step], message: str, *, at_key: bool = False, titled: bool = False
    ) -> None:
        """Note what is wrong at a path in this entry, its lengths in the unit of its file.

        What stands in a stock file's defaults is said once, not for every board, unless it is
        ``titled``: wrong on this very board.
        """
        self.findings.add(self.finding(loc, message, at_key=at_key, titled=titled))

    def finding(
        self, loc: Sequence[Step], message: str, *, at_key: bool = False, titled: bool = False
    ) -> Finding:
        """Return a finding at a path in this entry, as :meth:`note` would note it."""
        place = self.to_document(tuple(loc))
        title = self.title if titled or place[:1] != ("defaults",) else "defaults"
        told = told_in(message, unit_of(self.document) or Unit.MM)
        text = f"{title}: {told}" if title else told
        return self.document.finding(place, text, at_key=at_key)

    def place(self, *loc: Step) -> str:
        """Return the file and line of a path in this entry, to refer to in a message."""
        found = self.document.finding(self.to_document(loc), "")
        return f"{found.file}:{found.line}"

    def below(self, *loc: Step, data: Any, title: str) -> Entry:
        """Return the entry of a block inside this one."""

        def to_document(inner: Loc) -> Loc:
            return self.to_document((*loc, *inner))

        return Entry(self.document, data, self.findings, title, to_document)

    def validated(
        self, model: type[ModelT], context: dict[str, Any], hint: str = ""
    ) -> ModelT | None:
        """Return the model of this entry's data, or None with everything wrong noted.

        ``hint`` follows the message of a key that this entry itself misses.
        """
        try:
            # By file names only: kerf_mm: 3 in a file in inches would not be what it says.
            return model.model_validate(self.data, context=context, by_alias=True, by_name=False)
        except ValidationError as error:
            for complaint in complaints(error, model):
                self._note_complaint(complaint, hint)
            return None

    def _note_complaint(self, complaint: Complaint, hint: str) -> None:
        is_own_key = complaint.is_missing and not complaint.loc
        text = complaint.message + (hint if is_own_key else "")
        self.note(complaint.loc, text, at_key=complaint.at_key)
