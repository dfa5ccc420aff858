"""The shortest strip of given width for a set of outlines: new planks to buy."""
