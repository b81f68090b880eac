"""One unit: its answer, its quote, what would change the verdict.

May import: `fitting`, `shop`.
"""
