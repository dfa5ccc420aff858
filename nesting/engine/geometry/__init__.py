"""Flat shapes for the search: simplified, convex, turned, and where two may not lie."""
