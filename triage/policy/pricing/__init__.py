"""A plan's value at a price: highest price to pay, lowest quote, parts value, checks worth making first.

May import: `solver`, `problem`.
"""
