"""Decisions: the best act in each state of a device, the expected margin, and the price.

May import: priors (assumptions about repairs and checks) and the domain. Imports no PyMC and no page.
"""
