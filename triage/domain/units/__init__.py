"""A unit under consideration, its file, and a lot of units.

May import: `shop` and the modules of the domain.
"""
