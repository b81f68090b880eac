"""A job and its rules: records, states and moves, what may be done when.

May import: `shop` and the modules of the domain.
"""
