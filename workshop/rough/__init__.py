"""Rough lots bought, found or left by a client: landed cost, sorting, pieces drawn."""
