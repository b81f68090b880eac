"""A backup of the whole shop in one file, and the shop put back from it.

May import: `jobs`, `shop`.
"""
