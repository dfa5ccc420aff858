"""What the shop works from beside the cut sheets: printed sheets, patterns, lists, the page.

``kinds`` names the outputs and their files, ``folio`` is what each is made of, ``makers`` finds
what makes one. A maker is a module of its own that is loaded when its output is asked for.
"""
