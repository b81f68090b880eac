"""A day's jobs taken up by weights: against closed forms, against a fit to all of them, and when not."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from tests.inference.true_draws import true_draws
from tests.outcome_models.small_shop import PARTS_SPREAD, small_catalogue, small_history
from triage.design_matrix import FACTORS, attempt_levels, attempts
from triage.domain.history import History
from triage.domain.job.digests import job_digests
from triage.errors import HistoryError, StalePosteriorError
from triage.ledger.history.history_csv import known_at
from triage.outcome_models.parts_cost import purchases
from triage.outcome_models.registry import MODELS
from triage.posterior.manifest import Fading, Manifest, ModelRecord, structure_digest
from triage.posterior.store import Posterior, load_manifest, load_version, save_posterior
from triage.prediction.bench_minutes import attempt_minutes
from triage.prediction.success import fresh_chances
from triage.priors.prior_set import PriorSet
from triage.workflows.fitting.jobs_since import JobsSince, jobs_since
from triage.workflows.fitting.quick_update import (
    quick_update,
    resampled,
    reweighted,
    shown,
    told_more,
    update_folder,
)

CATALOGUE, PRIORS = small_catalogue(), PriorSet()
DRAWS, DRAWS_OF_A_FIT = 1000, 4000
# Jobs that an update takes up. Of the kind that they are about 17 in 22 were fixed before: by the beta
# distribution of its chance, three failures leave weights worth some 1,900 of the 4,000 draws. Six would
# leave some 500 where 400 are needed, and on which side an estimate falls would be the sampler's luck.
NEW = 3
RECORD = small_history(120)
END = date(2025, 10, 1)  # of the record of the full fit
FITTED = known_at(RECORD, END)


def like_a_fit():
    """Draws spread about the truth of the small shop, with an effect of every level of its record."""
    rng = np.random.default_rng(2)
    levels = attempt_levels(CATALOGUE, attempts(RECORD, CATALOGUE)).coords
    as_they_are = {"job_sd": 0.4, "finding_sd": 0.8, "tail_share": 0.03, "bought_again": 0.02}
    found = {}
    for name, truth in true_draws(CATALOGUE).items():
        held = truth.isel(draw=np.zeros(DRAWS, int)).copy(deep=True)
        for variable, values in held.data_vars.items():
            if variable in as_they_are:
                held[variable] = values * 0 + as_they_are[variable]
            elif "spread" in variable:
                held[variable] = values * np.exp(rng.normal(0, 0.05, values.shape))
            else:
                held[variable] = values + rng.normal(0, 0.03, values.shape)
        effects = {"success": (*FACTORS, "method"), "bench_minutes": ("method",)}.get(name, ())
        for effect in effects:
            shape = (DRAWS, len(levels[effect]))
            held = held.assign({f"{effect}_effect": (("draw", effect), rng.normal(0, 0.05, shape))})
            held = held.assign_coords({effect: list(levels[effect])})
        found[name] = held
    return found


@pytest.fixture(scope="module")
def full():
    draws = like_a_fit()
    manifest = Manifest(
        seed=1, as_of=END.isoformat(), jobs=len(FITTED.jobs), rows=len(FITTED.rows),
        data_hash=FITTED.digest, prior_hash=PRIORS.digest, catalogue_digest=CATALOGUE.digest,
        structure=structure_digest(CATALOGUE), kinds=tuple(CATALOGUE.kinds),
        models=dict.fromkeys(draws, ModelRecord(False, True)), current=True, draws=DRAWS,
        job_digests=tuple(sorted(job_digests(FITTED).values())),
        forms={name: MODELS[name].form for name in draws},
    )  # fmt: skip
    return Posterior(draws, manifest)


def later(days):
    return known_at(RECORD, END + timedelta(days))


def changed(full, **manifest):
    return replace(full, manifest=replace(full.manifest, **manifest))


def test_a_normal_mean_is_updated_as_algebra_says(full):
    """Parts cost of one family with a known spread is a conjugate normal."""
    draws, since = full.draws["parts_cost"], jobs_since(full.manifest, later(60))
    family = "display"
    mean, sd = 0.05, 0.03
    # The normal's own quantiles stand for draws, so that no luck is left.
    from scipy.stats import norm

    ratio = draws["log_ratio"].copy() * 0
    ratio.loc[{"family": family}] = norm(mean, sd).ppf((np.arange(DRAWS) + 0.5) / DRAWS)
    known = xr.Dataset({"log_ratio": ratio, "spread": draws["spread"] * 0 + PARTS_SPREAD})
    # Quantiles in order lean on one another as no draws do: shuffled, they are draws again.
    known = known.isel(draw=np.random.default_rng(4).permutation(DRAWS))
    found = reweighted(told_more("parts_cost", known, since, CATALOGUE, PRIORS), shown("parts_cost", known))
    added = since.new.rows[~since.new.rows["job"].isin(since.old.jobs.index)]
    bought = purchases(replace(since.new, rows=added.reset_index(drop=True)), CATALOGUE)
    seen = bought["ratio"][bought["family"] == family]
    precision = sd**-2 + len(seen) * PARTS_SPREAD**-2
    exact = (mean * sd**-2 + seen.sum() * PARTS_SPREAD**-2) / precision
    weights, values = np.exp(found.log_weights), known["log_ratio"].sel(family=family).to_numpy()
    assert weights @ values == pytest.approx(exact, abs=1e-4) and abs(exact - mean) > 2e-3
    assert weights @ (values - exact) ** 2 == pytest.approx(1 / precision, rel=0.02)
    taken = values[resampled(found.log_weights, 1)]
    assert taken.mean() == pytest.approx(exact, abs=2e-4)
    assert found.passed and found.effective < DRAWS


def test_equal_weights_take_each_draw_once_and_others_their_share():
    np.testing.assert_array_equal(resampled(np.full(2000, -np.log(2000)), 7), np.arange(2000))
    weights = np.random.default_rng(3).exponential(size=500)
    weights /= weights.sum()
    taken = np.bincount(resampled(np.log(weights), 7), minlength=500)
    assert np.all(np.abs(taken - 500 * weights) < 1)


def autocorrelated(rng, chains, draws, lag_one):
    """Draws of an AR(1) whose marginal is standard normal, chain after chain, shape (chain * draw,)."""
    steps = rng.normal(size=(draws, chains)) * np.sqrt(1 - lag_one**2)
    steps[0] = rng.normal(size=chains)
    for place in range(1, draws):
        steps[place] += lag_one * steps[place - 1]
    return steps.T.ravel()


@pytest.mark.parametrize(("lag_one", "moved"), [(0.0, 0.7), (0.7, 0.0), (0.7, 0.7), (0.9, 0.4)])
def test_weighted_draws_of_a_chain_claim_what_they_are_worth(lag_one, moved):
    """Against the spread of what the updated draws say, over many chains of known autocorrelation.

    Weights turn a standard normal into one about `moved`. What is claimed must be the truth within 20 %.
    """
    chains, draws, times = 4, 500, 500
    rng = np.random.default_rng(11)
    means, claimed = [], []
    for _ in range(times):
        values = autocorrelated(rng, chains, draws, lag_one)
        found = reweighted(moved * values, values[:, None], chains)
        means.append(values[resampled(found.log_weights, 5)].mean())
        claimed.append(found.effective)
    truth = 1 / np.var(means)  # the target has variance 1
    assert np.mean(means) == pytest.approx(moved, abs=0.02)
    assert np.median(claimed) == pytest.approx(truth, rel=0.2)
    if moved == 0:  # the mean of an AR(1) is worth (1 - r) / (1 + r) of its draws
        assert truth == pytest.approx(chains * draws * (1 - lag_one) / (1 + lag_one), rel=0.2)
    if lag_one and moved:  # what was claimed before: the weights alone
        assert 1 / np.sum(np.exp(2 * found.log_weights)) > 2 * truth


def test_a_model_of_which_nothing_new_is_told_stays_and_a_sluggish_one_is_refused():
    values = autocorrelated(np.random.default_rng(2), 4, 500, 0.9)
    as_before = reweighted(np.zeros(2000), values[:, None], 4)
    assert as_before.passed and as_before.effective < 400
    moved = reweighted(0.1 * values, values[:, None], 4)
    assert moved.pareto_k < moved.most_k and not moved.passed
    assert 1 / np.sum(np.exp(2 * moved.log_weights)) > 1900  # the weights alone would pass
    # Numbers that mix well are worth more: each is judged by itself, and the worst counts.
    well = np.random.default_rng(3).normal(size=2000)
    assert reweighted(0.1 * values, well[:, None], 4).passed
    both = reweighted(0.1 * values, np.column_stack([well, values]), 4)
    assert both.effective == pytest.approx(moved.effective)


def test_nothing_new_changes_nothing(full, tmp_path):
    before = save_posterior(full, tmp_path)
    update = update_folder(tmp_path, FITTED, CATALOGUE, PRIORS)
    assert update.posterior is None and not update.why_not and update.since.nothing
    assert load_manifest(tmp_path) == before


@pytest.mark.slow
def test_an_update_is_made_from_the_full_fit_however_many_came_between(full, tmp_path):
    fitted = save_posterior(full, tmp_path)
    update_folder(tmp_path, later(30), CATALOGUE, PRIORS)
    between = load_manifest(tmp_path)
    assert between.update.fitted == fitted.folder and between.update.added > 0
    assert between.jobs == len(later(30).jobs) and between.data_hash == later(30).digest
    after = update_folder(tmp_path, later(35), CATALOGUE, PRIORS)
    assert load_manifest(tmp_path) == after.posterior.manifest
    # At once from the full fit, and with the jobs in another order: the same draws.
    rows = later(35).rows
    order = [rows[rows["job"] == job] for job in reversed(list(rows["job"].unique()))]
    turned = History(pd.concat(order, ignore_index=True), later(35).as_of)
    at_once = quick_update(load_version(tmp_path, fitted, CATALOGUE), turned, CATALOGUE, PRIORS)
    assert at_once.posterior.manifest.update == after.posterior.manifest.update
    for name, draws in after.posterior.draws.items():
        xr.testing.assert_identical(draws, at_once.posterior.draws[name])
        assert draws.sizes["draw"] == DRAWS
    assert not after.posterior.draws["success"].equals(full.draws["success"])


def test_what_is_told_later_of_a_job_counts_once(full):
    """A unit of the fit that was sold since, or came back, is changed and not new."""
    since = jobs_since(full.manifest, later(15))
    both = set(since.old.jobs.index)
    assert since.changed == len(both) and since.added == len(since.new.jobs) - len(both)
    assert since.added and set(since.before.jobs.index) == set(FITTED.jobs.index)
    told = told_more("hidden_fault", full.draws["hidden_fault"], since, CATALOGUE, PRIORS)
    again = told_more(
        "hidden_fault", full.draws["hidden_fault"],
        replace(since, old=since.before, new=since.now), CATALOGUE, PRIORS,
    )  # fmt: skip
    np.testing.assert_allclose(told, again, atol=1e-9)  # jobs that did not change cancel


def test_a_job_written_down_late_is_new(full):
    known = FITTED.jobs.index[-1]
    shorter = History(FITTED.rows[FITTED.rows["job"] != known].reset_index(drop=True), END)
    told = tuple(sorted(job_digests(shorter).values()))
    since = jobs_since(replace(full.manifest, job_digests=told, jobs=len(shorter.jobs)), FITTED)
    assert (since.added, since.changed, list(since.new.jobs.index)) == (1, 0, [known])
    assert not since.nothing


def test_a_block_of_jobs_unlike_all_before_is_refused_and_nothing_moves(full, tmp_path):
    before = save_posterior(full, tmp_path)
    record = later(30)
    record.rows.loc[record.rows["date"] > pd.Timestamp(END), "parts_cost"] *= 8
    update = update_folder(tmp_path, record, CATALOGUE, PRIORS)
    assert update.posterior is None and len(update.why_not) == 1
    assert update.why_not[0].startswith("parts cost: the new jobs differ too much")
    assert update.why_not[0].endswith("run a full fit")
    refused = update.models["parts_cost"]
    assert refused.pareto_k > refused.most_k and refused.effective < 10
    assert update.models["success"].passed, "one record, one posterior: all models or none"
    assert load_manifest(tmp_path) == before and len(list(tmp_path.glob("draws-*"))) == 1


@pytest.mark.parametrize(
    ("case", "said"),
    [
        ("technician", "technician 'anna' is new"),
        ("fading", "uses forgetting"),
        ("first sales", "sale price: these are the first jobs of the record with data for it"),
    ],
)
def test_what_weights_cannot_take_up_asks_for_a_full_fit(full, case, said):
    record, models = later(30), dict(full.manifest.models)
    if case == "technician":
        record.rows.loc[record.rows["date"] > pd.Timestamp(END), "technician"] = "anna"
    elif case == "fading":
        models["success"] = ModelRecord(False, True, fading=Fading(300.0, ("kind-0",)))
    else:
        models["sale_price"] = ModelRecord(True, True, "the record lacks sales")
    update = quick_update(changed(full, models=models), record, CATALOGUE, PRIORS)
    assert update.posterior is None and len(update.why_not) == 1 and said in update.why_not[0]
    assert "run a full fit" in update.why_not[0]


def test_beliefs_that_stand_in_for_a_refused_fit_stay_and_the_others_are_updated(full):
    models = dict(full.manifest.models)
    models["bench_minutes"] = ModelRecord(True, True, "R-hat 1.019", refused=True)
    update = quick_update(changed(full, models=models), later(30), CATALOGUE, PRIORS)
    assert not update.why_not and set(update.models) == set(models) - {"bench_minutes"}
    assert update.posterior.manifest.refused == ("bench_minutes",)
    xr.testing.assert_identical(update.posterior.draws["bench_minutes"], full.draws["bench_minutes"])
    assert not update.posterior.draws["success"].equals(full.draws["success"])


def test_a_record_that_the_fit_did_not_learn_from_is_refused(full):
    corrected = later(30)
    corrected.rows.loc[0, "minutes"] += 1
    with pytest.raises(StalePosteriorError, match="1 job among .* cannot be found unchanged"):
        quick_update(full, corrected, CATALOGUE, PRIORS)
    with pytest.raises(HistoryError, match="before the record of the full fit"):
        quick_update(full, known_at(RECORD, END - timedelta(1)), CATALOGUE, PRIORS)
    with pytest.raises(StalePosteriorError, match="another set of assumptions"):
        quick_update(changed(full, prior_hash="other"), later(30), CATALOGUE, PRIORS)
    with pytest.raises(StalePosteriorError, match="no record"):
        quick_update(changed(full, as_of=""), later(30), CATALOGUE, PRIORS)
    older = changed(full, job_digests=())  # of an older program: known by its whole record
    assert quick_update(older, later(30), CATALOGUE, PRIORS).posterior is not None
    with pytest.raises(StalePosteriorError, match="all .* jobs of the full fit"):
        quick_update(changed(older, data_hash="other"), later(30), CATALOGUE, PRIORS)


def test_a_column_that_comes_into_use_changes_no_job():
    rows = FITTED.rows
    more = replace(FITTED, rows=rows.assign(zone="", warranty_days=rows["warranty_days"].astype("Int64")))
    assert job_digests(more) == job_digests(FITTED)
    bare = rows[["job", "date", "finding", "outcome"]]
    graded = replace(FITTED, rows=bare.assign(severity=2))
    assert job_digests(graded) == job_digests(replace(FITTED, rows=bare))


@pytest.mark.slow  # two fits each
@pytest.mark.parametrize("name", ["success", "bench_minutes"])
def test_an_update_agrees_with_a_fit_to_all_jobs(name):
    from triage.inference.sampling import SamplerSettings, fit_model

    kind, model = "display-0", MODELS[name]
    columns = ["job", "date", "finding", "outcome", "severity", "method", "minutes"]
    rows = small_history(240, seed=9).rows[columns]
    new = rows["job"].isin(list(rows["job"].unique())[-NEW:])
    # A few jobs that move one kind: it fails every time, and takes twice as long.
    only = new & ~rows["job"].duplicated()
    rows.loc[only, ["finding", "severity", "method", "outcome"]] = [kind, 2, f"fix-{kind}", "not-fixed"]
    rows.loc[only, "minutes"] = 60.0
    rows = rows[only | ~new].reset_index(drop=True)
    now = History(rows, rows["date"].iloc[-1].date())
    before = replace(now, rows=rows[:-NEW])
    since = JobsSince(before, now, replace(now, rows=rows[:0]), replace(now, rows=rows[-NEW:]), NEW, 0)

    settings = SamplerSettings(draws=1000, tune=600, cores=2, stored_draws=DRAWS_OF_A_FIT)
    full, again = (
        fit_model(model.build(model.design(record, CATALOGUE, PRIORS), PRIORS), model.stored, seed, settings)
        for seed, record in ((3, before), (4, now))
    )
    told = told_more(name, full.draws, since, CATALOGUE, PRIORS)
    found = reweighted(told, shown(name, full.draws), settings.chains)
    assert found.passed, (found.pareto_k, found.effective)
    updated = full.draws.isel(draw=resampled(found.log_weights, 1))
    kinds = [str(slug) for slug in full.draws["kind"].values]

    def quantity(draws):
        if name == "success":
            return fresh_chances(draws, 2)
        believed = PRIORS.bench_minutes
        spreads = (attempt_minutes(draws, slug, 2, True, CATALOGUE, believed) for slug in kinds)
        return np.log(np.column_stack([spread.mean() for spread in spreads]))

    was, quick, fitted = (quantity(draws) for draws in (full.draws, updated, again.draws))
    worth = found.effective, again.diagnostics.ess_bulk
    error = np.sqrt(quick.var(axis=0) / worth[0] + fitted.var(axis=0) / worth[1])
    apart = (quick.mean(axis=0) - fitted.mean(axis=0)) / error
    assert np.abs(apart).max() < 4.5 and np.sqrt(np.mean(apart**2)) < 1.5
    # In spreads of what was believed, which the sampler's luck hardly touches.
    moved = np.abs(was.mean(axis=0) - fitted.mean(axis=0)) / was.std(axis=0)
    assert moved[kinds.index(kind)] > 0.2, "the new jobs move what they are about"
    np.testing.assert_allclose(quick.std(axis=0), fitted.std(axis=0), rtol=0.2)
