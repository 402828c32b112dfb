"""The planning room: cut plans, what a piece of rough will give, and the calculators of the handbook."""
