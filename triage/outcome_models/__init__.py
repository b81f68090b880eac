"""PyMC models of outcomes: repair success, hidden faults, minutes, part costs, comebacks, sale prices.

May import: priors, design matrix, domain. May load PyMC. `registry.py` lists the models.
"""
