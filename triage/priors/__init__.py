"""Assumptions as reviewable TOML files, one schema a file, and saved sets of them.

May import: the domain.
"""
