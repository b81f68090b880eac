"""A plan's value at a price: highest bid, lowest quote, parts value, checks worth making first.

May import: `solver`, `problem`.
"""
