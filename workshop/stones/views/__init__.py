"""Pages of the stones room: thin, each fetches, reads the form, does the deed, and shows what became of it."""
