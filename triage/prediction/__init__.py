"""Posterior draws into chances, minutes and money for one unit, in NumPy.

May import: policy (the seam `policy/problem/forecast.py`), outcome models, posterior, priors, domain.
Loads no sampler.
"""
