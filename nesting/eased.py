"""What it took to lay parts so that boards break down easily: the same plan without and with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from nesting.summary.fields import number, whole


@dataclass(frozen=True)
class Eased:
    """One plan as the search found it, and with boards laid anew; the same boards are opened.

    ``kept`` is the area of all offcuts kept: what it costs in wood is what they lose.
    """

    freed_without: int
    freed: int
    kept_without_mm2: float
    kept_mm2: float

    @property
    def price_mm2(self) -> float:
        """Wood that is kept no more; under 0 if more is kept."""
        return self.kept_without_mm2 - self.kept_mm2


def eased_data(eased: Eased | None) -> dict[str, Any] | None:
    """Return it as a summary holds it."""
    return None if eased is None else {**asdict(eased), "price_mm2": eased.price_mm2}


def eased_from(given: Mapping[str, Any] | None) -> Eased | None:
    """Return it as read from a summary."""
    if given is None:
        return None
    return Eased(
        whole(given, "freed_without"),
        whole(given, "freed"),
        number(given, "kept_without_mm2"),
        number(given, "kept_mm2"),
    )
