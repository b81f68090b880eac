"""Fit a model of the product to many records, with the log likelihood beside the draws.

What is sampled is the product's own density of each record: its arrays are inputs of the graph, and the
graph is compared with the first one's, constant by constant, at every record.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import xarray as xr

from triage.inference import backend, compilation
from triage.inference.sampling import SamplerSettings

LOG_LIKELIHOOD = "log_likelihood"


class Lifted:
    """One compiled model for all records whose graphs have the same form.

    Parameters
    ----------
    models : PyMC models of some records, as the product builds them; each gets
        a deterministic `log_likelihood`.

    Raises
    ------
    ValueError : their graphs differ in more than their data.
    """

    def __init__(self, models: Sequence[Any]):
        self.model = models[0]
        _keep_likelihood(self.model)
        self._form, _ = compilation._form(self.model)
        self._compiled = compilation.compiled(self.model)
        self._likelihood = self._likelihood_function()
        for model in models[1:]:
            self.data(model)

    def data(self, model: Any) -> dict[str, np.ndarray]:
        """Read the data of a record out of its model, as the product built it.

        Raises
        ------
        ValueError : its graph has another form.
        """
        _keep_likelihood(model)
        form, inputs = compilation._form(model)
        if form != self._form:
            raise ValueError("the graph of this record has another form")
        return {name: variable.get_value() for name, variable in inputs.items()}

    def sample(
        self, data: dict[str, np.ndarray], settings: SamplerSettings, seed: int
    ) -> tuple[xr.Dataset, xr.Dataset]:
        """Sample as the product does."""
        return backend.sample(
            replace(self._compiled, data=data), draws=settings.draws, tune=settings.tune,
            chains=settings.chains, cores=settings.workers, seed=seed, target_accept=settings.target_accept,
        )  # fmt: skip

    def log_likelihood(self, truth: dict[str, np.ndarray], data: dict[str, np.ndarray]) -> float:
        """Log likelihood of a record at stated values of all that the model names."""
        values = {**truth, **data}
        return float(self._likelihood(*(values[name] for name in self._inputs)))

    def _likelihood_function(self) -> Any:
        import pytensor
        from pytensor.compile.sharedvalue import SharedVariable
        from pytensor.graph.replace import clone_replace
        from pytensor.graph.traversal import graph_inputs

        output = self.model[LOG_LIKELIHOOD]
        # Deterministics too: what a free variable stands for may depend on the record (`kind_own`).
        named = (*self.model.free_RVs, *self.model.deterministics)
        free = {variable: variable.type() for variable in named if variable is not output}
        data = {v: v.type() for v in graph_inputs([output]) if isinstance(v, SharedVariable) and
                (v.name or "").startswith("data_")}  # fmt: skip
        self._inputs = [variable.name for variable in (*free, *data)]
        return pytensor.function(
            [*free.values(), *data.values()], clone_replace(output, {**free, **data}),
            mode="FAST_COMPILE", on_unused_input="ignore",
        )  # fmt: skip


def _keep_likelihood(model: Any) -> None:
    import pymc as pm

    if LOG_LIKELIHOOD in model.named_vars:
        return
    with model:
        parts = [part.sum() for part in model.potentials]
        parts += [pm.logp(rv, model.rvs_to_values[rv]).sum() for rv in model.observed_RVs]
        pm.Deterministic(LOG_LIKELIHOOD, sum(parts[1:], parts[0]))
