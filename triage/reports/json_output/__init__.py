"""Results as JSON objects, and the ones that are read back. May import: `wording`."""
