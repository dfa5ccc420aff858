"""The boat that parts are fitted to: her lines, and what the construction plan adds to them.

:mod:`~parts.boat.plan` is what a project file says, :mod:`~parts.boat.boat` the boat that parts
ask, :mod:`~parts.boat.deck` the under side of her deck, :mod:`~parts.boat.places` the places in
her as a builder writes them, :mod:`~parts.boat.planes` where planes cut her.
"""
