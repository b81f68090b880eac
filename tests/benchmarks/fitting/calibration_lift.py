"""Compile a model of the product once, and fit it to many records.

`OutcomeModel.build` writes a record into its graph as constants, so each new record would
need a new compilation: 5 to 40 seconds, where sampling takes one. Models of records of one
shape differ only in those constants. Here the constants that differ become data of one
compiled model. All others are compared at every fit, so the sampled density is the
product's own density of that record. Its log likelihood is kept beside the draws.
"""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from typing import Any

import numpy as np
import xarray as xr

from triage.inference import backend
from triage.inference.sampling import SamplerSettings

LOG_LIKELIHOOD = "log_likelihood"


class Lifted:
    """One compiled model for all records whose graphs have the same form.

    Parameters
    ----------
    models : PyMC models of some records, as the product builds them; each gets
        a deterministic `log_likelihood`. What differs between any two is data.
    """

    def __init__(self, models: Sequence[Any]):
        import nutpie
        from pymc.model.fgraph import model_from_fgraph

        graphs = [_graph(model) for model in models]
        places = [_constants(graph) for graph in graphs]
        self._first = places[0]
        self._lifted = [
            key for key in self._first if not all(_same(self._first[key], found[key]) for found in places)
        ]
        shared = {}
        for key in self._lifted:
            values = [_widened(found[key]) for found in places]
            # A length that is always 1 broadcasts, and must be known to.
            lengths = [n if all(v.shape[i] == n for v in values) else None
                       for i, n in enumerate(values[0].shape)]  # fmt: skip
            shared[key] = _shared(_name(key), values[0], lengths)
        self.model = model_from_fgraph(_rebuilt(graphs[0], shared), mutate_fgraph=True)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            self._compiled = nutpie.compile_pymc_model(self.model, backend="numba")
        self._likelihood = self._likelihood_function()

    def data(self, model: Any) -> dict[str, np.ndarray]:
        """Read the data of a record out of its model, as the product built it.

        Raises
        ------
        ValueError : its graph has another form, or differs where no record did before.
        """
        found = _constants(_graph(model))
        if found.keys() != self._first.keys():
            raise ValueError("the graph of this record has another form")
        other = [key for key in found if key not in self._lifted and not _same(found[key], self._first[key])]
        if other:
            raise ValueError(f"constants that were the same in every record differ: {other}")
        return {_name(key): _widened(found[key]) for key in self._lifted}

    def sample(
        self, data: dict[str, np.ndarray], settings: SamplerSettings, seed: int
    ) -> tuple[xr.Dataset, xr.Dataset]:
        """Sample as `backend.sample` does, without its compilation."""
        import nutpie

        used = self._compiled.shared_data  # without what only `log_likelihood` at the truth reads
        compiled = self._compiled.with_data(**{name: data[name] for name in used if name in data})
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            tree = nutpie.sample(
                compiled, draws=settings.draws, tune=settings.tune, chains=settings.chains,
                cores=settings.workers, seed=seed, target_accept=settings.target_accept,
                save_warmup=False, progress_bar=False,
            )  # fmt: skip
        draws = backend.dataset(tree, "posterior")
        inner = [name for name in draws.data_vars if str(name).endswith("__")]
        return draws.drop_vars(inner), backend.dataset(tree, "sample_stats")

    def log_likelihood(self, truth: dict[str, np.ndarray], data: dict[str, np.ndarray]) -> float:
        """Log likelihood of a record at given values of all named variables of the model."""
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


def _constants(graph: Any) -> dict[tuple[int, int], np.ndarray]:
    """Every array in a graph, by the node that reads it and its place among the node's inputs."""
    from pytensor.graph.basic import Constant

    return {
        (number, place): np.asarray(value.data)
        for number, node in enumerate(graph.toposort())
        for place, value in enumerate(node.inputs)
        if isinstance(value, Constant) and hasattr(value.type, "dtype")
    }


def _graph(model: Any) -> Any:
    """Graph of a model with its log likelihood, and with the jobs of a success model opened."""
    from pymc.model.fgraph import fgraph_from_model

    from tests.benchmarks.fitting.calibration_op import opened

    _keep_likelihood(model)
    return _rebuilt(fgraph_from_model(model)[0], {}, opened)


def _rebuilt(graph: Any, shared: dict[tuple[int, int], Any], other: Any = lambda node, inputs: None) -> Any:
    """The graph with shared variables where they stand and `other` nodes, types inferred anew."""
    from pytensor.graph.fg import FunctionGraph

    new: dict[Any, Any] = {}
    for number, node in enumerate(graph.toposort()):
        inputs = [shared.get((number, place), new.get(v, v)) for place, v in enumerate(node.inputs)]
        made = other(node, inputs)
        if made is None:
            if all(a is b for a, b in zip(inputs, node.inputs, strict=True)):
                continue
            made = node.clone_with_new_inputs(inputs, strict=False)
        for old, fresh in zip(node.outputs, made.outputs, strict=True):
            fresh.name = old.name
            new[old] = fresh
    found = FunctionGraph(outputs=[new.get(output, output) for output in graph.outputs], clone=False)
    found._coords, found._dim_lengths = graph._coords, graph._dim_lengths
    return found


def _shared(name: str, value: np.ndarray, lengths: list[int | None]) -> Any:
    import pytensor

    return pytensor.shared(value, name=name, shape=tuple(lengths))


def _name(key: tuple[int, int]) -> str:
    return f"data_{key[0]}_{key[1]}"


def _widened(value: np.ndarray) -> np.ndarray:
    """PyTensor keeps small integers small; a larger record would not fit into them."""
    return value.astype(np.int64) if value.dtype.kind in "iu" else value


def _same(one: np.ndarray, other: np.ndarray) -> bool:
    return one.shape == other.shape and np.array_equal(one, other, equal_nan=one.dtype.kind == "f")
