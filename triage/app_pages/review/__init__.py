"""Pages that look back: profit by damage, and whether forecasts came true.

May import: `fitting`, `shared`.
"""
