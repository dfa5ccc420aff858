"""Woods: their figures, how they are sold and move, what cross grain and holes leave of them."""
