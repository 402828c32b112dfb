"""Finished gems: measurements, description, where each one is tonight, price history."""
