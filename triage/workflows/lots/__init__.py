"""A lot scored, chosen from, bid for as a whole. May import: `answers`, `shop`."""
