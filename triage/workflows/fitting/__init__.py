"""Fit, quick update, health and age of stored chances, proposals for priors.

May import: `looking_back`, `jobs`, `shop`.
"""
