"""Stones in progress: stages, weighings, splits, losses, bench time, cost so far."""
