"""The quote for the owner as PDF and web page. May import: `json_output`, `wording`."""
