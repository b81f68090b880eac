"""Safety as facts of a device's state, and the one table of rules that acts must keep.

May import: `documents` and `errors` only, so that catalogue, units and policy can all stand on it.
"""
