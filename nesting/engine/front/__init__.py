"""Filling a board on lines along it, behind a front that parts form."""
