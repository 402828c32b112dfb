"""Sales of finished gems: price, tax, fees, payments, what the hour earned."""
