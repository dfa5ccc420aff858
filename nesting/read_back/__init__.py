"""Written folders read back: every drawing, every figure, every file is held against its plan."""
