"""One part family a file; the registry finds each by its ``family`` name."""
