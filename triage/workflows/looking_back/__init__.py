"""Back-test, outcomes of past decisions, losses, drift. May import: `shop`."""
