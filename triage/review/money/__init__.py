"""Realised margins and what they are attributed to. May import: `forecasts`."""
