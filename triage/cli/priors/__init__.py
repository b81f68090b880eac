"""`triage priors`: state, show, compare, propose and accept assumptions (priors)."""
