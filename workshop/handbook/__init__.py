"""The pure floor: formulae and tables, without Django, clock, network or settings.

One chapter a module; a chapter imports only chapters above it in this order: errors, units, money, wheels,
outlines, solids, optics, light, density, weights, recovery, identify, allocation, costing, estimates, drawings.
"""
