"""The project file: YAML in, frozen domain objects out, every error with its place."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from nesting.project.project import Project as Project
    from nesting.project.project import read_project as read_project
    from nesting.project.schema import project_schema as project_schema
    from nesting.project.schema import stock_schema as stock_schema

__all__ = ["Project", "project_schema", "read_project", "stock_schema"]

_HOMES = {
    "Project": "project", "read_project": "project",
    "project_schema": "schema", "stock_schema": "schema",
}  # fmt: skip

if not TYPE_CHECKING:  # A type checker would take any name for one of these.

    def __getattr__(name: str) -> Any:
        """Load what is asked for: a file's unit, or its boat, is read without all of it."""
        if name not in _HOMES:
            raise AttributeError(f"module 'nesting.project' has no attribute {name!r}")
        found = getattr(import_module(f"nesting.project.{_HOMES[name]}"), name)
        globals()[name] = found
        return found
