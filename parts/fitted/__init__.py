"""Families fitted to the boat's lines: the part says where it stands, the lines give its shape."""
