"""The outcome models as PyMC graphs, one a module; only a fit builds them."""

import warnings

# ArviZ 0.23, which PyMC 5 imports, tells whoever imports it first on a day to migrate. That is for
# developers: who runs a fit can do nothing about it. ArviZ 1 no longer says so.
warnings.filterwarnings("ignore", r"\s*ArviZ is undergoing a major refactor", FutureWarning)
