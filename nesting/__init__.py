"""Flat shapes in, nests and cut sheets out; knows nothing of solids."""
