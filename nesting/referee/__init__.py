"""The referee of plans: re-measures with shapely, and imports nothing of the engine."""
