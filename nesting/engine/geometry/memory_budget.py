"""What was computed once and may be asked for again, within a budget of memory."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Generic, Protocol, TypeVar


class Sized(Protocol):
    """Something that knows how many bytes it holds."""

    @property
    def nbytes(self) -> int:
        """Bytes held, near enough."""
        ...


SizedT = TypeVar("SizedT", bound=Sized)


class Store(Generic[SizedT]):
    """Answers by key; when they hold more than the budget the older half is let go.

    Which answers are kept never changes an answer, only how soon it comes.
    """

    def __init__(self, most_bytes: int) -> None:
        self._most_bytes = most_bytes
        self._bytes = 0
        self._kept: dict[Hashable, SizedT] = {}

    def get(self, key: Hashable, make: Callable[[], SizedT]) -> SizedT:
        """Return the answer for a key, made now if it is not there."""
        found = self._kept.get(key)
        if found is None:
            found = make()
            self._kept[key] = found
            self._bytes += found.nbytes
            if self._bytes > self._most_bytes:
                self._let_go()
        return found

    def _let_go(self) -> None:
        for key in list(self._kept)[: (len(self._kept) + 1) // 2]:
            self._bytes -= self._kept.pop(key).nbytes

    def __len__(self) -> int:
        return len(self._kept)
