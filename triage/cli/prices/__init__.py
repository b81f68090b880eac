"""`triage prices`: the shop's own prices by model."""
