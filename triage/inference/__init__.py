"""Fitting: sampling, diagnostics, posterior predictive checks. `backend.py` knows both PyMC generations.

May import: outcome models, prediction and below. May load PyMC.
"""
