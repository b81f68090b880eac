"""The success model: its structure, its parity with prediction, and its limits."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from tests.outcome_models.attempt_records import shop_catalogue, simulated
from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import DamageKind, Family
from triage.domain.history import History
from triage.outcome_models import success
from triage.outcome_models.integrated_likelihood import pattern_log_likelihood
from triage.prediction.success import logits_at, success_logits
from triage.priors.prior_set import PriorSet
from triage.priors.success import Belief, SuccessPriors, SuccessScales

CATALOGUE = shop_catalogue()
PRIORS = PriorSet()


@pytest.fixture(scope="module")
def design():
    return success.design(simulated(120), CATALOGUE, PRIORS)


@pytest.fixture(scope="module")
def evaluated(design):
    return at_random_points(design, PRIORS)


def at_random_points(made, priors, points: int = 20, seed: int = 2) -> tuple[xr.Dataset, np.ndarray]:
    """Stored variables and the likelihood at random points, by PyTensor's plain interpreter."""
    import pytensor
    from pytensor.compile.mode import Mode

    model = success.build(made, priors)
    names = [name for name in success.STORED if name in model.named_vars]
    free = model.free_RVs
    inputs = [variable.type() for variable in free]
    outputs = pytensor.graph.replace.clone_replace(
        [*(model.named_vars[name] for name in names), *model.potentials],
        dict(zip(free, inputs, strict=True)),
    )
    function = pytensor.function(
        inputs, outputs, mode=Mode(linker="py", optimizer=None), on_unused_input="ignore"
    )
    rng = np.random.default_rng(seed)
    start = model.initial_point()
    shapes = [np.shape(start[model.rvs_to_values[v].name]) for v in free]
    stored: dict[str, list] = {name: [] for name in names}
    likelihood = []
    for _ in range(points):
        values = []
        for variable, shape in zip(free, shapes, strict=True):
            dims = model.named_vars_to_dims.get(variable.name, ())
            whole = tuple(len(model.coords[d]) for d in dims)  # a zero-sum value has one less when free
            value = rng.normal(0, 0.5, whole if dims else shape)
            positive = variable.name.endswith(("_sd", "_spread"))
            values.append(np.abs(value) + 0.3 if positive else value)
        *found, total = function(*values)
        for name, value in zip(names, found, strict=True):
            stored[name].append(value)
        likelihood.append(float(total))
    coords = {name: list(labels) for name, labels in made.coords.items()}
    dims = {name: model.named_vars_to_dims.get(name, ()) for name in names}
    data = {name: (("draw", *dims[name]), np.array(values)) for name, values in stored.items()}
    return xr.Dataset(data, coords=coords), np.array(likelihood)


def test_prediction_equals_the_model_to_ten_digits(design, evaluated):
    draws, likelihood = evaluated
    patterns = design.attempts.patterns
    logits = logits_at(draws, patterns.cells)
    sd = draws["job_sd"].to_numpy()
    assert patterns.cells.again.any()
    total = 0.0
    for nodes in np.unique(design.nodes):
        each = pattern_log_likelihood(logits, sd, patterns, int(nodes))  # (draw, pattern)
        total = total + (each * patterns.count)[:, design.nodes == nodes].sum(axis=1)
    np.testing.assert_allclose(total, likelihood, rtol=0, atol=1e-10 * np.abs(likelihood).max())


def test_every_label_reaches_its_own_effect(evaluated):
    draws, _ = evaluated
    plain = success_logits(draws, CATALOGUE, ["kind-0"], [2])[0, 0]
    assert plain == pytest.approx(float(draws["kind_logit"].sel(kind="kind-0")[0]), abs=1e-12)
    for name, label in (("tier", "top"), ("technician", "north"), ("cause", "wet"), ("method", "other-way")):
        moved = success_logits(draws, CATALOGUE, ["kind-0"], [2], **{name: [label]})[0, 0]
        effect = float(draws[f"{name}_effect"].sel({name: label})[0])
        assert moved - plain == pytest.approx(effect, abs=1e-12)
        assert abs(effect) > 1e-6
    usual = success_logits(draws, CATALOGUE, ["kind-0"], [2], method=["fix-0"], tier=[""])[0, 0]
    assert usual == plain
    again = success_logits(draws, CATALOGUE, ["kind-0"], [2], method=["other-way"], again=[True])[0, 0]
    other = success_logits(draws, CATALOGUE, ["kind-0"], [2], method=["other-way"])[0, 0]
    assert other - again == pytest.approx(float(draws["after_failure"][0]), abs=1e-12)


def test_a_second_try_leaves_the_chance_of_the_first_as_it_is(design, evaluated):
    """Over both outcomes of a second try the likelihood is that of the first failure alone, exactly."""
    draws, _ = evaluated
    patterns = design.attempts.patterns
    logits, sd = logits_at(draws, patterns.cells), draws["job_sd"].to_numpy()
    second = patterns.cells.again[patterns.cell] == 1
    ends = np.flatnonzero(np.add.reduceat(second, patterns.start[:-1]) == 1)
    assert len(ends) > 3
    flipped = replace(patterns, fixed=patterns.fixed ^ second)
    both = sum(np.exp(pattern_log_likelihood(logits, sd, p, 121)) for p in (patterns, flipped))
    sizes = patterns.size - np.add.reduceat(second, patterns.start[:-1])
    without = replace(
        patterns,
        cell=patterns.cell[~second],
        fixed=patterns.fixed[~second],
        start=np.concatenate([[0], np.cumsum(sizes)]),
    )
    alone = np.exp(pattern_log_likelihood(logits, sd, without, 121))
    # A first failure alone needs no quadrature; with a second try it has that of 121 nodes.
    np.testing.assert_allclose(both[:, ends], alone[:, ends], rtol=1e-9)


def test_the_drift_ends_at_nothing_and_its_middle_is_its_mean_over_the_attempts(design, evaluated):
    draws, _ = evaluated
    effect = draws["period_effect"].to_numpy()  # (draw, period)
    assert effect.shape[1] > 1 and (effect[:, -1] == 0).all() and (effect[:, 0] != 0).all()
    middle = effect[:, design.attempts.indices.period].mean(axis=1)
    np.testing.assert_allclose(draws["drift_middle"], middle, atol=1e-12)


def test_severity_only_ever_lowers_the_chance(evaluated):
    draws, _ = evaluated
    effect = draws["severity_effect"].to_numpy()
    assert (np.diff(effect, axis=2) < 0).all()
    assert (effect[:, :, 1] == 0).all()


def test_factors_sum_to_zero_in_prior_draws(design):
    from triage.inference import backend

    made = success.design(simulated(40), CATALOGUE, PRIORS)
    model = success.build(made, PRIORS)
    names = ("family_effect", "tier_effect", "technician_effect", "cause_effect")
    draws = backend.prior_draws(model, draws=5, seed=1, names=names)
    assert set(draws.data_vars) == set(names)
    for name in names:
        np.testing.assert_allclose(draws[name].sum(name.removesuffix("_effect")), 0, atol=1e-10)


def test_absent_columns_and_single_levels_drop_their_effect():
    record = simulated(40)
    bare = History(record.rows[["job", "date", "finding", "outcome"]].copy(), record.as_of)
    made = success.design(bare, CATALOGUE, PRIORS)
    assert not {"tier", "technician", "cause"} & set(made.coords)
    one = record.rows.assign(tier="top")
    assert "tier" not in success.design(History(one, record.as_of), CATALOGUE, PRIORS).coords


def test_a_record_without_attempts_has_no_design():
    rows = simulated(5).rows.assign(outcome="not-attempted")
    assert success.design(History(rows, date(2025, 12, 31)), CATALOGUE, PRIORS) is None


def test_unseen_kinds_are_drawn_and_not_fixed_at_their_belief():
    from triage.inference import backend

    model = success.build(success.prior_design(CATALOGUE, PRIORS), PRIORS)
    draws = backend.prior_draws(model, draws=400, seed=4, names=("kind_logit",))
    spread = draws["kind_logit"].std(("chain", "draw"))
    assert spread.sizes["kind"] == 6
    assert float(spread.min()) > 0.7  # .84 says the default, worth 8 jobs


@pytest.mark.slow
def test_one_kind_without_a_job_effect_is_the_beta_binomial():
    """With a flat prior on the logit the posterior is Beta(r, n - r): published check of the limit.

    Gelman et al. 2013, Bayesian Data Analysis, 3rd edition, section 2.4 [from memory, recomputed]: the
    mean is (r + a) / (n + a + b), here with a = b = 0, for a uniform prior on the logit.
    """
    from triage.inference import backend

    n, r = 40, 29
    catalogue = Catalogue(kind=(DamageKind("only", "only", "f"),), family=(Family("f", "f"),))
    rows = pd.DataFrame(
        {
            "job": [f"j{i}" for i in range(n)],
            "date": pd.Timestamp("2025-01-01"),
            "finding": "only",
            "outcome": ["fixed"] * r + ["not-fixed"] * (n - r),
        }
    )
    scales = SuccessScales(job=1e-3)
    priors = PriorSet(success=SuccessPriors(default=Belief(0.5, 0.01), scales=scales))
    made = success.design(History(rows, date(2025, 2, 1)), catalogue, priors)
    draws, _ = backend.sample(
        backend.compiled(success.build(made, priors)),
        draws=3000,
        tune=1000,
        chains=4,
        cores=2,
        seed=5,
        target_accept=0.95,
    )
    chance = 1 / (1 + np.exp(-draws["kind_logit"].to_numpy()[:, :, 0]))  # (chain, draw)
    size = backend.effective_sample(chance)
    assert size > 400
    mean, sd = r / n, np.sqrt(r * (n - r) / (n * n * (n + 1)))
    # A belief worth next to nothing has the sd 4 on the logit: it pulls the mean by .0015.
    assert chance.mean() == pytest.approx(mean, abs=4 * sd / np.sqrt(size) + 0.0015)
    assert chance.std() == pytest.approx(sd, rel=5 / np.sqrt(2 * size) + 0.01)
