"""Other people's drawings, read whole or refused: tags, entities, rings, outlines."""
