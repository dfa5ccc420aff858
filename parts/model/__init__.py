"""The parts as solids where they stand in the boat: STEP assembly, picture, and views."""
