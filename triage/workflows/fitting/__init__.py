"""Fit, quick update, model check and age of stored chances, proposals for assumptions.

May import: `looking_back`, `jobs`, `shop`.
"""
