"""The page of assumptions: state one, compare sets, see where the record disagrees.

May import: pages of `fitting`, `shared`.
"""
