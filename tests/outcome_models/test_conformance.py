"""Every outcome model of the registry keeps the contract of `OutcomeModel`."""

import dataclasses

import numpy as np
import pytest

from tests.outcome_models.small_shop import small_catalogue, small_history
from triage.domain.catalogue import Catalogue, load_catalogue
from triage.domain.catalogue_entries import DamageKind, Family
from triage.domain.documents import read_toml
from triage.errors import PriorFileError
from triage.outcome_models.registry import MODELS
from triage.priors.prior_set import PriorSet, load_priors
from triage.shipped import shipped

DEMO_PRIORS = shipped("models/priors/demo")
RECORD = small_history(60)
# Some looks were made on suspicion, so that every effect has its levels.
_REASON = ["suspected" if job == "job-3" else "" for job in RECORD.rows["job"]]
RECORD = dataclasses.replace(RECORD, rows=RECORD.rows.assign(look_reason=_REASON))
CATALOGUE = small_catalogue()
BARE = Catalogue(
    family=(Family("all", "all"),), kind=(DamageKind("broken", "broken", "all"),)
)  # the minimum that a shop must give

every_model = pytest.mark.parametrize("model", MODELS.values(), ids=list(MODELS))


def designs(model, priors):
    return {
        "record": model.design(RECORD, CATALOGUE, priors),
        "belief": model.prior_design(CATALOGUE, priors),
        "shipped catalogue": model.prior_design(load_catalogue(), priors),
        "one kind": model.prior_design(BARE, priors),
    }


@pytest.fixture(scope="module")
def built():
    """Every model on every design, built once."""
    priors = PriorSet()
    made = {}
    for name, model in MODELS.items():
        for case, design in designs(model, priors).items():
            assert design is not None, (name, case)
            made[name, case] = (design, model.build(design, priors))
    return made


@every_model
@pytest.mark.parametrize(
    "case", [*(pytest.param(case, marks=pytest.mark.slow) for case in ("record", "belief")), "one kind"]
)
def test_density_and_gradient_are_finite_at_the_start(built, model, case):
    _, graph = built[model.name, case]
    value, gradient = graph.compile_fn([graph.logp(), graph.dlogp()])(graph.initial_point())
    assert np.isfinite(value)
    assert gradient.size > 0 and np.all(np.isfinite(gradient))


@every_model
def test_a_record_changes_the_density(built, model):
    believed, fitted = (built[model.name, case][1] for case in ("belief", "record"))
    assert not believed.potentials and not believed.observed_RVs
    assert fitted.potentials or fitted.observed_RVs


@every_model
@pytest.mark.parametrize("case", ["record", "belief", "shipped catalogue", "one kind"])
def test_dimensions_are_those_of_the_design(built, model, case):
    design, graph = built[model.name, case]
    for dim, labels in graph.coords.items():
        assert tuple(labels) == tuple(design.coords[dim])
    names = [name for name in model.stored if name in graph.named_vars]
    shapes = graph.compile_fn([graph[name].shape for name in names], inputs=[], on_unused_input="ignore")({})
    for name, shape in zip(names, shapes, strict=True):
        dims = graph.named_vars_to_dims.get(name, ())
        assert tuple(shape) == tuple(len(design.coords[dim]) for dim in dims), name


@every_model
def test_every_stored_variable_exists_where_its_dimension_has_levels(built, model):
    graphs = [graph for (name, _), (_, graph) in built.items() if name == model.name]
    assert not [name for name in model.stored if not any(name in graph.named_vars for graph in graphs)]


@every_model
def test_prior_draws_are_finite_and_vary(built, model):
    import pymc as pm

    _, graph = built[model.name, "shipped catalogue"]
    names = [name for name in model.stored if name in graph.named_vars]
    draws = pm.draw([graph[name] for name in names], draws=20, random_seed=1)
    for name, values in zip(names, draws, strict=True):
        assert np.all(np.isfinite(values)), name
        assert np.ptp(values, axis=0).max() > 0, name


@every_model
def test_a_history_of_required_columns_only_is_no_error(model):
    bare = dataclasses.replace(RECORD, rows=RECORD.rows[["job", "date", "finding", "outcome"]])
    design = model.design(bare, CATALOGUE, PriorSet())
    assert (design is not None) == (model.name == "success"), model.needs


@every_model
def test_prior_file_is_complete(model):
    """The demo file states every number of its schema and is labelled invented."""
    path = DEMO_PRIORS / f"{model.name}.toml"
    stated = read_toml(path, PriorFileError).tables
    believed = getattr(load_priors(DEMO_PRIORS, load_catalogue()), model.name)
    assert set(stated) == {item.name for item in dataclasses.fields(believed)}
    assert "invented" in believed.note.lower()


def test_names_match_the_registry_and_the_priors():
    assert all(name == model.name for name, model in MODELS.items())
    assert set(MODELS) < {item.name for item in dataclasses.fields(PriorSet)}
