"""Numbered, frozen documents: numbers them, hashes them, renders them, shows their check page."""
