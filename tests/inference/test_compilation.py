"""One compilation a structure: other records are other inputs, and say what a graph of their own says."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from tests.outcome_models.small_shop import small_catalogue, small_history
from triage.inference import backend, compilation
from triage.outcome_models.registry import MODELS
from triage.priors.prior_set import PriorSet
from triage.shipped import shipped

CATALOGUE, PRIORS = small_catalogue(), PriorSet()
RECORDS = (small_history(60), small_history(90, seed=2), small_history(75, seed=7))
every_model = pytest.mark.parametrize("model", MODELS.values(), ids=list(MODELS))


def built(model, record, priors=PRIORS):
    return model.build(model.design(record, CATALOGUE, priors), priors)


@every_model
def test_records_of_one_structure_have_one_form(model):
    first, *others = (compilation._form(built(model, record)) for record in RECORDS)
    for other in others:
        assert hash(other[0]) == hash(first[0]) and other[0] == first[0]
        assert other[1].keys() == first[1].keys()
        assert any(
            not np.array_equal(other[1][name].get_value(), first[1][name].get_value()) for name in first[1]
        )


def test_another_belief_is_another_form():
    model = MODELS["sale_price"]
    surer = replace(PRIORS.sale_price, level=replace(PRIORS.sale_price.level, sd=0.01))
    one, other = (
        compilation._form(built(model, RECORDS[0], priors))[0]
        for priors in (PRIORS, replace(PRIORS, sale_price=surer))
    )
    assert one != other


def test_an_input_whose_length_shapes_what_is_kept_is_part_of_the_form():
    import pymc as pm

    def form(length):
        with pm.Model() as model:
            x = pm.Normal("x")
            pm.Deterministic("each", x * pm.Data("data_of", np.ones(length)))
        return compilation._form(model)[0]

    assert form(3) == form(3) != form(4)


@every_model
def test_one_density_given_other_inputs_is_the_density_of_a_graph_of_its_own(model):
    """To 1e-10, density and gradient, at random points: a graph with the record as constants beside it."""
    from pymc.model.transform.optimization import freeze_dims_and_data

    graphs = [built(model, record) for record in RECORDS[:2]]
    first, inputs = graphs[0], compilation._form(graphs[0])[1]
    names = [variable.name for variable in first.free_RVs]

    def function(graph):
        # A frozen graph lists its variables in another order.
        slopes = graph.dlogp([graph[name] for name in names])
        return graph.compile_fn([graph.logp(), slopes], mode="FAST_COMPILE")

    shared = function(first)
    rng = np.random.default_rng(4)
    for graph in graphs:
        for name, variable in compilation._form(graph)[1].items():
            inputs[name].set_value(variable.get_value())
        own = function(freeze_dims_and_data(graph))
        start = first.initial_point()
        for _ in range(3):
            at = {name: value + 0.3 * rng.normal(size=np.shape(value)) for name, value in start.items()}
            (value, slope), (expected, expected_slope) = shared(at), own(at)
            assert float(value) == pytest.approx(float(expected), abs=1e-10, rel=1e-12)
            np.testing.assert_allclose(slope, expected_slope, atol=1e-10, rtol=1e-10)


@pytest.mark.slow
def test_a_second_fit_is_not_compiled_and_draws_as_the_first_of_its_record(monkeypatch):
    compiling, plain = [], compilation._compile
    monkeypatch.setattr(compilation, "_compile", lambda model: compiling.append(1) or plain(model))
    settings = {"draws": 60, "tune": 60, "chains": 2, "cores": 2, "seed": 5, "target_accept": 0.9}

    def drawn(record):
        return backend.sample(backend.compiled(built(MODELS["hidden_fault"], record)), **settings)[0]

    compilation.forget()
    alone = drawn(RECORDS[1])
    compilation.forget()
    other, second, again = drawn(RECORDS[0]), drawn(RECORDS[1]), drawn(RECORDS[0])
    assert len(compiling) == 2
    for name in ("base", "weight"):
        np.testing.assert_array_equal(second[name], alone[name])
        np.testing.assert_array_equal(again[name], other[name])
        assert not np.array_equal(other[name], second[name])
        assert list(second["hidden_kind"].values) == list(alone["hidden_kind"].values)


MEANS = """
import sys, pymc as pm
from triage.inference import backend
for centre in sys.argv[1:]:
    with pm.Model() as model:
        pm.Normal("x", float(centre), 1.0)
    draws, _ = backend.sample(
        backend.compiled(model), draws=50, tune=100, chains=1, cores=1, seed=1, target_accept=0.9
    )
    print(float(draws["x"].mean()))
"""


@pytest.mark.slow  # three processes that compile
def test_parts_that_two_processes_compiled_are_told_apart_in_a_third(tmp_path):
    """Two graphs that differ in a constant: their compiled functions have one name and the same arguments."""
    there = {**os.environ, "PYTENSOR_FLAGS": f"base_compiledir={tmp_path}"}
    there["PYTHONPATH"] = str(shipped("app.py").parent)

    def means(*centres):
        child = [sys.executable, "-c", MEANS, *centres]
        ran = subprocess.run(child, env=there, capture_output=True, text=True, check=True)
        return [float(line) for line in ran.stdout.splitlines()]

    alone = [*means("0"), *means("100")]
    assert abs(alone[0]) < 1 and abs(alone[1] - 100) < 1
    assert means("0", "100") == alone
