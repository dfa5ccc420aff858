"""Flat geometry on top of shapely: what neither boards nor plans are named in."""
