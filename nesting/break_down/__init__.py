"""Break-down cuts: in which order straight cuts free the pieces of a board."""
