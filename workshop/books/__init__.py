"""Today's page, one stone's account, stock at cost: what the records add up to."""
