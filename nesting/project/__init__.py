"""The project file: YAML in, frozen domain objects out, every error with its place."""

from nesting.project.project import Project, read_project

__all__ = ["Project", "read_project"]
