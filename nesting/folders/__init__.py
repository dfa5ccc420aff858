"""Folders that are written whole or not at all, and by one at a time."""
