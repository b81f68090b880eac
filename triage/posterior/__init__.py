"""Posterior draws on disk (netCDF) and the manifest that says what they are.

May import: the domain.
"""
