"""Weights and sizes as they are stated on paper, and carats estimated from millimetres."""
