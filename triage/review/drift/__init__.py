"""Drift: outcomes that no longer match their chances; fits with forgetting. May import: `forecasts`."""
