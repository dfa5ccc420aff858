"""Processes that work for a command, the signals that stop them, and garbage kept rare in them."""
