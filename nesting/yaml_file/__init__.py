"""YAML files read with the place of everything in them; knows nothing of what they say."""
