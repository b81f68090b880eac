"""The device page: describe a unit, read verdict, price and plan, ask what if, take it on.

May import: `shared`.
"""
