"""Families fitted to the boat's lines: the part says where it stands, the lines give its shape.

How it works, from a line of the parts list to a piece of the boat:

1. :mod:`parts.boat` joins the faired hull and the construction plan under ``boat:`` in the
   project file: frames, keel, deck, clamp. Surfaces inside the planking lie deeper than it,
   square to the hull.
2. A family here (base: :class:`~parts.fitted.fitted.Fitted`) has the name of the plain one where
   there is one, and leaves out of its parameters what the lines say. ``at`` names a place, or a
   stretch for parts that run along the boat; one entry may stand for many parts.
3. Its geometry module draws *both faces* (:class:`~parts.fitted.two_faces.TwoFaces`), each to
   the hull where that face stands. From the two come the outline, which is the larger of them
   everywhere, the bevels, which vary along an edge, and the solid, ruled between them.
4. Planks (:mod:`~parts.fitted.bent`) have one outline, laid flat, and a second solid, bent; those
   of a ceiling are planed to close on each other there, as they are when they are fitted.
5. :meth:`~parts.part.Family.positions` says where each copy stands; the twin on the port side is
   the starboard part's mirror image.

A family file imports nothing of ``parts.lines`` when it loads: the boat brings that with it.
"""
