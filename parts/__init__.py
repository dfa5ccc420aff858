"""Parametric parts of the new boat: each gives a flat outline and a solid."""
