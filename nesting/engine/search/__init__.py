"""Searching for a cutting plan: building, ruining, exchanging, filling, crowding; in lanes."""
