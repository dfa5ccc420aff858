"""Marking out with a tape: a base line, and what is measured from it."""
