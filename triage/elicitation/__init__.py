"""Statements into priors, and priors held against the record: prior predictive, sensitivity, proposals.

May import: outcome models, prediction and below. May load PyMC.
"""
