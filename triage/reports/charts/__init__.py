"""Altair charts, each with its own words. May import: `wording`."""
