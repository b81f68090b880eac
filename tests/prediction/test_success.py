"""Success chances from draws: fresh jobs, scenarios, second methods, the table."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from scipy.special import expit

from tests.outcome_models.attempt_records import shop_catalogue
from triage.posterior.manifest import Manifest, structure_digest
from triage.posterior.store import Posterior
from triage.prediction.levels import new_level
from triage.prediction.success import (
    LogitTable,
    chances_table,
    fresh_chances,
    scenarios,
    success_logits,
)
from triage.priors.fresh_job import inside_logit

CATALOGUE = shop_catalogue()


def made_draws(draws: int = 60, seed: int = 1) -> xr.Dataset:
    rng = np.random.default_rng(seed)
    kinds = list(CATALOGUE.kinds)
    step = np.exp(rng.normal(-0.5, 0.3, (draws, len(kinds), 2)))
    effect = np.stack([step[..., 0], np.zeros(step.shape[:2]), -step[..., 1]], axis=2)
    return xr.Dataset(
        {
            "kind_logit": (("draw", "kind"), rng.normal(1, 1, (draws, len(kinds)))),
            "severity_effect": (("draw", "kind", "severity"), effect),
            "tier_effect": (("draw", "tier"), rng.normal(0, 0.3, (draws, 2))),
            "method_effect": (("draw", "method"), rng.normal(-0.5, 0.3, (draws, 2))),
            "job_sd": (("draw",), rng.uniform(0.4, 1.4, draws)),
            "after_failure": (("draw",), rng.uniform(0.5, 1.5, draws)),
        },
        coords={
            "kind": kinds,
            "family": ["family-0", "family-1"],
            "severity": ["1", "2", "3"],
            "tier": ["budget", "top"],
            "method": ["both", "other-way"],
        },
    )


DRAWS = made_draws()


@pytest.mark.parametrize("sd", [0.0, 1.0, 3.0])
@pytest.mark.parametrize("nodes", [7, 21])
def test_a_draws_scenarios_average_to_the_fresh_job(sd, nodes):
    draws = DRAWS.assign(job_sd=("draw", np.full(60, sd)))
    logits = success_logits(draws, CATALOGUE, ["kind-2"], [2])[:, 0]
    made = scenarios(draws, nodes)
    assert made.weights.sum() == pytest.approx(1, abs=1e-12)
    mean = np.bincount(made.draw, made.weights * made.chance(logits)) * 60
    np.testing.assert_allclose(mean, expit(logits), atol=1e-10)
    np.testing.assert_allclose(mean, fresh_chances(draws, 2)[:, 2], atol=1e-10)


def test_one_success_raises_the_chance_of_the_next_by_what_the_job_effect_supports():
    # One draw, so that only the job effect can link them: P(both) by an independent integral.
    drawn = DRAWS.isel(draw=[3])
    first, second = (success_logits(drawn, CATALOGUE, [kind], [2])[:, 0] for kind in ("kind-0", "kind-1"))
    made = scenarios(drawn, nodes=31)
    both = made.weights @ (made.chance(first) * made.chance(second))
    z = np.linspace(-10, 10, 4001)
    density = np.exp(-(z**2) / 2) / np.sqrt(2 * np.pi)
    sd = float(drawn["job_sd"][0])
    one, other = (expit(inside_logit(logits, sd) + sd * z) for logits in (first[0], second[0]))
    exact = np.trapezoid(one * other * density, z)
    assert both == pytest.approx(exact, abs=1e-7)
    assert both > (made.weights @ made.chance(first)) * (made.weights @ made.chance(second)) + 1e-3


def test_a_second_method_is_less_likely_after_a_first_has_failed():
    row = {"kind": ["kind-0"], "severity": [2], "method": ["other-way"]}
    alone, after = (
        expit(success_logits(DRAWS, CATALOGUE, **row, again=[again])[:, 0]) for again in (False, True)
    )
    ratio = (after / (1 - after)) / (alone / (1 - alone))
    np.testing.assert_allclose(ratio, np.exp(-DRAWS["after_failure"].to_numpy()), rtol=1e-9)


def test_table_lists_every_kind_and_severity_with_its_record():
    none = {"seed": 1, "as_of": "", "jobs": 0, "rows": 0, "data_hash": "", "prior_hash": ""}
    manifest = Manifest(
        **none,
        catalogue_digest="",
        structure=structure_digest(CATALOGUE),
        kinds=tuple(CATALOGUE.kinds),
        models={},
        attempts={"kind-1": ((4, 3), (9, 5), (2, 0))},
    )
    table = chances_table(Posterior({"success": DRAWS}, manifest), CATALOGUE)
    assert list(table.columns) == [
        "finding", "severity", "mean", "sd", "low", "high", "attempts", "fixed"
    ]  # fmt: skip
    assert len(table) == 18
    assert (table["low"] < table["mean"]).all() and (table["mean"] < table["high"]).all()
    row = table[(table["finding"] == "kind-1") & (table["severity"] == 2)].iloc[0]
    assert (row["attempts"], row["fixed"]) == (9, 5)
    never = table[table["finding"] != "kind-1"]
    assert (never[["attempts", "fixed"]] == 0).all(axis=None)
    assert row["mean"] == pytest.approx(fresh_chances(DRAWS, 2)[:, 1].mean(), abs=1e-12)
    falls = table.groupby("finding")["mean"].agg(lambda means: (np.diff(means) < 0).all())
    assert falls.all()


def test_a_level_never_seen_is_covered_as_often_as_its_interval_says():
    """Truths drawn first: K levels and one more; the known ones leave only the new one unsure."""
    rng = np.random.default_rng(6)
    inside = []
    for levels in (2, 5, 12):
        sd, draws = 0.6, 400
        truth = rng.normal(0, sd, (300, levels + 1))
        known = truth[:, :-1] - truth[:, :-1].mean(axis=1, keepdims=True)
        for number, (met, new) in enumerate(
            zip(known, truth[:, -1] - truth[:, :-1].mean(axis=1), strict=True)
        ):
            held = DRAWS.drop_vars(["tier_effect", "tier"]).isel(draw=np.zeros(draws, int))
            held = held.assign(tier_sd=("draw", np.full(draws, sd)))
            held = held.assign(tier_effect=(("draw", "tier"), np.tile(met, (draws, 1))))
            held = held.assign_coords(tier=[f"t{place}" for place in range(levels)])
            low, high = np.quantile(new_level(held, "tier", f"new-{number}"), [0.05, 0.95])
            inside.append(low <= new <= high)
    # 900 intervals of 90 %: five standard errors.
    assert np.mean(inside) == pytest.approx(0.9, abs=5 * np.sqrt(0.09 / 900))


def test_the_same_new_level_gets_the_same_draws_and_a_blank_one_the_average():
    draws = DRAWS.assign(tier_sd=("draw", np.full(60, 0.5)))
    row = {"kind": ["kind-0"], "severity": [2]}
    plain, new, again, other = (
        success_logits(draws, CATALOGUE, **row, tier=[tier])[:, 0] for tier in ("", "new", "new", "newer")
    )
    assert np.array_equal(plain, draws["kind_logit"][:, 0])
    assert np.array_equal(new, again) and not np.array_equal(new, other)
    assert 0.3 < (new - plain).std() < 0.95  # .5 times the root of 1 1/2 is .61
    table = LogitTable(draws, CATALOGUE)
    assert np.array_equal(table.logits("kind-0", 2, "new", "", "", ""), new)


def test_a_drift_is_nothing_within_the_record_and_grows_with_the_days_after_it():
    ends = ["2025-06-30", "2025-09-30"]
    draws = DRAWS.assign(
        drift_sd=("draw", np.full(60, 0.2)),
        period_effect=(("draw", "period"), np.column_stack([np.full(60, 0.4), np.zeros(60)])),
    ).assign_coords(period=ends)
    row = {"kind": ["kind-0"] * 4, "severity": [2] * 4}
    dates = list(pd.to_datetime(["2025-05-01", "2025-09-30", "2025-12-30", "2026-09-30"]))
    found = success_logits(draws, CATALOGUE, **row, date=dates) - draws["kind_logit"].to_numpy()[:, :1]
    np.testing.assert_allclose(found[:, 0], 0.4)
    np.testing.assert_allclose(found[:, 1], 0)
    assert 0.1 < found[:, 2].std() < 0.3
    np.testing.assert_allclose(found[:, 3], found[:, 2] * np.sqrt(365 / 91), rtol=0.01)


def test_what_sets_a_chance_apart_from_the_plain_rate_is_named():
    # Draws that do not vary: severity 3 costs 1 on the logit, the dear class 2, the other method nothing.
    made = made_draws(1).assign(
        severity_effect=(
            ("draw", "kind", "severity"),
            np.tile([1.0, 0.0, -1.0], (1, len(CATALOGUE.kinds), 1)),
        ),
        tier_effect=(("draw", "tier"), np.array([[0.0, -2.0]])),
        method_effect=(("draw", "method"), np.zeros((1, 2))),
    )
    table, half = LogitTable(made, CATALOGUE), ((0, 0), (100, 50), (0, 0))  # a plain rate of one half

    def why(severity, tier, logits):
        return table.why("kind-2", {severity: 1.0}, half, (tier, "", ""), "", expit(logits))

    # All of it known: -1 for severity, -2 for the class, the larger first.
    assert why(3, "top", -3.0) == ("tier", "severity")
    assert why(3, "", -1.0) == ("severity",)
    # Higher, although the class is dear: what like damage says outweighs it.
    assert why(2, "top", 1.0) == ("related",)
    # Severity lowers it, but it is higher: only what goes that way is named.
    assert why(3, "budget", 2.0) == ("related",)
    assert table.why("kind-2", {2: 1.0}, ((0, 0),) * 3, ("", "", ""), "", 0.5) == ()
