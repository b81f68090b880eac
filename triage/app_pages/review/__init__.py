"""Pages about past jobs: margin by damage, and the track record of forecasts.

May import: `fitting`, `shared`.
"""
