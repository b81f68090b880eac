"""What the trade knows, without statistics: catalogue, units, jobs, prices, settings, money.

May import: `triage.errors` only. `documents.py` turns TOML into dataclasses, faults with their lines.
"""
