"""The project file: YAML in, frozen domain objects out, every error with its place."""

from __future__ import annotations

from typing import TYPE_CHECKING

from nesting.late_names import late_names

if TYPE_CHECKING:
    from nesting.project.project import Project as Project
    from nesting.project.project import read_project as read_project
    from nesting.project.schema import project_schema as project_schema
    from nesting.project.schema import stock_schema as stock_schema

__all__ = ["Project", "project_schema", "read_project", "stock_schema"]

_HOMES = {
    "Project": "nesting.project.project",
    "read_project": "nesting.project.project",
    "project_schema": "nesting.project.schema",
    "stock_schema": "nesting.project.schema",
}
"""Loaded when asked for: a file's unit, or its boat, is read without all of it."""

if not TYPE_CHECKING:  # A type checker would take any name for one of these.
    __getattr__ = late_names(__name__, _HOMES)
