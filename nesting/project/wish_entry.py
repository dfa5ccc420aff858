"""One wish as a project file says it."""

from __future__ import annotations

from typing import Any, ClassVar

from pydantic import Field, model_validator

from nesting.errors import ShapeError
from nesting.fields import FileModel, WoodArea
from nesting.project.file_types import Texts
from nesting.wishes import Matching, Use

KINDS: dict[str, tuple[str, ...]] = {
    "fixed": (),
    "part": ("from", "not_from", "stage"),
    "board": ("use",),
    "match": ("how",),
}
"""The key that says what a wish is about, and those that go with it alone."""


class WishEntry(FileModel):
    """A wish: pieces that stay, where pieces come from, how a board is used, pieces that match."""

    needs_one_of: ClassVar[str] = "fixed, part, board or match"

    fixed: Texts = Field(
        (), description="pieces that stay where the last plan put them, as the sheets name them"
    )
    part: Texts = Field((), description="parts, or single pieces as the sheets name them")
    from_: Texts = Field(
        (), alias="from", description="boards, groups or members that they are to come from"
    )
    not_from: Texts = Field((), description="boards, groups or members that they are kept off")
    stage: int | None = Field(
        None, ge=1, le=99, description="the stage of the work for which they are needed"
    )
    board: Texts = Field((), description="boards, groups or members that something is wished of")
    use: Use | None = Field(
        None,
        description="held back: it is not opened; kept whole: it gives only parts longer than half "
        "of it; first: it is used up before other boards are opened",
    )
    match: Texts = Field((), description="parts or pieces whose grain and colour are to match")
    how: Matching = Field(
        Matching.ONE,
        description="one board, if not given; neighbouring boards: no more of them than pieces, "
        "side by side in a group, or leaves of one board; mirrored: two pieces over each other on "
        "neighbouring leaves of a board, which open like a book",
    )
    price: WoodArea | None = Field(
        None,
        description="wood that breaking the wish must save, for each piece or board that breaks "
        "it; it may not be broken if not given, but that first is then worth all the board's wood",
    )

    @model_validator(mode="before")
    @classmethod
    def _of_one_kind(cls, given: Any) -> Any:
        """Refuse keys that do not go together, as they are written."""
        if not isinstance(given, dict):
            return given
        kinds = [kind for kind in KINDS if kind in given]
        if len(kinds) != 1:
            what = f"it has {' and '.join(kinds)}" if kinds else "it says of nothing what is wished"
            raise ShapeError(f"{what}; a wish has one of {cls.needs_one_of}")
        (kind,) = kinds
        for other, keys in KINDS.items():
            for key in keys:
                if key in given and other != kind:
                    raise ShapeError(f"{key} goes with {other}, and this wish has {kind}")
        for key in (kind, *KINDS[kind]):
            if given.get(key) == []:
                raise ShapeError(f"{key} names nothing: name something, or leave the wish out")
        _check_whole(kind, given)
        return given


def _check_whole(kind: str, given: dict[str, Any]) -> None:
    """Refuse a wish that lacks what it wishes."""
    if kind == "part":
        said = [key for key in KINDS["part"] if key in given]
        if len(said) != 1:
            what = f"it has {' and '.join(said)}" if said else "it says of the part nothing"
            raise ShapeError(f"{what}; a wish of a part has one of from, not_from or stage")
        if "stage" in given and "price" in given:
            raise ShapeError("a stage has no price: leave one of them out")
    if kind == "board" and "use" not in given:
        raise ShapeError(f"use: missing; write {', '.join(Use)}")
