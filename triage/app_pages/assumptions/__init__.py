"""The page of assumptions: state a belief, compare sets, see where the record disagrees.

May import: pages of `fitting`, `shared`.
"""
