"""Pages about past jobs: profit by damage, and the track record of forecasts.

May import: `fitting`, `shared`.
"""
