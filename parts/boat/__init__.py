"""The boat that parts are fitted to: her lines, and what the construction plan adds to them."""
