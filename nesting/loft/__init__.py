"""The loft's book and the lines as tables and drawings."""
