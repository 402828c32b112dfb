"""Everybody the shop deals with: one contact may be supplier, client, buyer, jeweller, laboratory."""
