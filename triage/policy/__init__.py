"""Decisions: which act is best in each state of a unit, what that is worth, at which price.

May import: priors (the beliefs about repairs and checks) and the domain. Knows no PyMC, no page.
"""
