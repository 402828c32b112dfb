"""How fast the house is, as ratios to floors measured in the same run: pages, card and handbook."""
