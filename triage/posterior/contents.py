"""What stored draws must hold before anything is foretold from them."""

from __future__ import annotations

import numpy as np
import xarray as xr

from triage.domain.catalogue import Catalogue


def contents_problem(draws: xr.Dataset, catalogue: Catalogue) -> str:
    """What is wrong with the draws of a model, whichever it is; "" where nothing is."""
    if not draws.sizes.get("draw"):
        return "holds no draws"
    for level, known in (("kind", catalogue.kinds), ("family", catalogue.families)):
        if level in draws.coords and (less := set(known) - set(map(str, draws[level].values))):
            return f"holds no {level} {min(less)}"
    for name, values in draws.data_vars.items():
        if values.dtype.kind not in "fiub" or not np.isfinite(values.to_numpy()).all():
            return f"holds something that is no finite number in {name}"
    return ""
