"""The stock book: what happened to every board, kept beside a project for as long as it lasts."""
