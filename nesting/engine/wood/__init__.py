"""One board as the search sees it: where its wood is free, and what it could hold at most."""
