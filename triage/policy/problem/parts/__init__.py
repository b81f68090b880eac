"""The parts that a wreck yields, and what damage does to them.

May import: the books of `problem`.
"""
