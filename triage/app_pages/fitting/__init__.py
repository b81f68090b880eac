"""The page about the fit: learn from past jobs, read the checks of a fit.

May import: `shared`.
"""
