"""What no cutting plan beats: the most value, the least wood, proven."""
