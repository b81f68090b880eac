"""Results as text in a terminal. May import: `json_output`, `charts`, `wording`."""
