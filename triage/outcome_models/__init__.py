"""PyMC models of outcomes: repair success, hidden faults, minutes, part costs, comebacks, sale prices.

May import: priors, design matrix, domain. May load PyMC. `registry.py` lists the models.
"""

import warnings

# ArviZ 0.23, which PyMC 5 imports, tells whoever imports it first on a day to migrate. That is for
# developers: who runs a fit can do nothing about it. ArviZ 1 no longer says so.
warnings.filterwarnings("ignore", r"\s*ArviZ is undergoing a major refactor", FutureWarning)
