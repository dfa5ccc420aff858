"""Names of a package that are loaded when they are first asked for (PEP 562)."""

import sys
from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any


def late_names(package: str, homes: Mapping[str, str]) -> Callable[[str], Any]:
    """Return what a package calls ``__getattr__``.

    ``homes``: by each name the module that it is loaded from.
    """

    def loaded(name: str) -> Any:
        """Load a name of the package, and keep it there."""
        if name not in homes:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        found = getattr(import_module(homes[name]), name)
        setattr(sys.modules[package], name, found)
        return found

    return loaded
