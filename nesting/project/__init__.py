"""The project file: YAML in, frozen domain objects out, every error with its place."""

from nesting.project.project import Project, read_project
from nesting.project.schema import project_schema, stock_schema

__all__ = ["Project", "project_schema", "read_project", "stock_schema"]
