"""Outlines that overlap jostle one another until they lie clear; compiled."""
