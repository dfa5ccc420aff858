"""Boards and plans as the search holds them, and the rules by which a part may lie there."""
