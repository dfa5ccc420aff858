"""The summary of a plan: what stands in its file."""
