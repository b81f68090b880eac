"""Beliefs beside the record, in money, and against it; tuned from it and never counted twice."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from tests.outcome_models.attempt_records import shop_catalogue, simulated
from triage.domain.shop.settings import Settings
from triage.domain.units.unit import Finding, Unit
from triage.elicitation.beside_record import beside_record, prior_chances
from triage.elicitation.stated_belief import state_belief, with_belief
from triage.elicitation.statement import Statement
from triage.elicitation.success_prior import success_prior_draws
from triage.errors import BeliefError, HistoryError, NotConvergedError, StalePosteriorError
from triage.inference.sampling import SamplerSettings
from triage.posterior.manifest import Fading
from triage.posterior.store import Posterior
from triage.priors.prior_set import PriorSet, load_priors
from triage.priors.success import KindBelief, SuccessPriors
from triage.priors.tuned_jobs import TunedJobs, refuse_double_use, tuned_on
from triage.review.forecasts.backtest import Scores
from triage.shipped import shipped
from triage.workflows.answers import beliefs_in_money
from triage.workflows.fitting import tuning
from triage.workflows.fitting.record_of_fit import record_behind
from triage.workflows.looking_back.backtest_fits import BlockFit
from triage.workflows.shop.shop import open_shop

SETTINGS = Settings(shop="test bench", currency="EUR")
PAST_JOBS = shipped("synthetic_cases/past-jobs.csv")


@pytest.fixture(scope="module")
def shop():
    """The demo with few draws, as if its fit had started from the beliefs shipped now."""
    found = open_shop(today=date(2026, 9, 1))
    draws = {name: held.isel(draw=slice(None, None, 10)) for name, held in found.posterior.draws.items()}
    manifest = replace(found.posterior.manifest, prior_hash=found.priors.digest)
    return replace(found, posterior=replace(found.posterior, draws=draws, manifest=manifest))


@pytest.fixture(scope="module")
def record(shop):
    return record_behind(shop.posterior, PAST_JOBS, shop.catalogue)


def test_a_statement_becomes_an_assumption_that_a_fit_starts_from_as_stated(shop):
    found = state_belief("joint-cracked", Statement(15, 20, 11), shop.catalogue, shop.priors, "why")
    assert found.before.chance == 0.5 and found.belief.reason == "why"
    # Errors of the whole shop and of the family are within the belief, not beside it.
    chances = prior_chances(shop.catalogue, with_belief(shop.priors, found.belief))["joint-cracked"]
    for item in found.matched.quantiles:
        assert np.quantile(chances, item.level) == pytest.approx(item.achieved, abs=0.02)
    assert found.alone.low >= found.before_alone.low and found.alone.mean > found.before_alone.mean
    with pytest.raises(BeliefError, match="nearest known: joint-cracked"):
        state_belief("joint-crackd", Statement(15), shop.catalogue, shop.priors)


def test_a_record_moves_and_narrows_what_was_believed(shop):
    rows = {row.kind: row for row in beside_record(shop.posterior, shop.priors, shop.catalogue)}
    row = rows["connector-crushed"]
    assert row.believed.chance == pytest.approx(row.prior.mean, abs=0.02)
    assert row.prior.mean < row.posterior.mean < row.fixed / row.attempts
    assert row.posterior.high - row.posterior.low < row.prior.high - row.prior.low
    assert not {"account-locked", "board-bent"} & set(rows)


def test_belief_alone_goes_through_the_ordinary_plan(shop):
    sure = replace(shop, priors=with_belief(shop.priors, KindBelief("touch-fault", 0.999, 900)))
    found = beliefs_in_money.belief_in_money(Unit("u", "upper", (Finding("touch-fault"),)), sure, ask=10.0)
    assert found.belief.expected_margin > found.record.expected_margin + 5
    assert found.belief.findings[0].prior_only and found.belief.findings[0].attempts == 0
    assert not found.record.findings[0].prior_only and "minutes" in found.learned


def test_another_record_or_other_beliefs_are_refused(shop, record, tmp_path):
    path = tmp_path / "jobs.csv"
    path.write_text("job,date,finding,outcome\na,2026-01-02,frame-bent,fixed\n")
    with pytest.raises(HistoryError, match="is not the record of 2600 jobs"):
        record_behind(shop.posterior, path, shop.catalogue)
    with pytest.raises(StalePosteriorError, match="another set of assumptions"):
        beliefs_in_money.conflicts(shop.posterior, record, shop.catalogue, PriorSet())


@pytest.mark.slow
def test_a_fit_that_forgot_is_held_against_the_record_as_it_weighed_it(shop, record):
    forgot = replace(shop.posterior.manifest.models["success"], fading=Fading(30.0, ("torch-dead",)))
    manifest = replace(shop.posterior.manifest, models={"success": forgot})
    draws = {"success": shop.posterior.draws["success"].isel(draw=slice(40))}
    before, after = (
        {
            item.kind: item.record.value
            for item in beliefs_in_money.conflicts(held, record, shop.catalogue, shop.priors)
        }
        for held in (replace(shop.posterior, draws=draws), Posterior(draws, manifest))
    )
    assert after["torch-dead"] < before["torch-dead"] / 2
    assert after["cell-worn"] == pytest.approx(before["cell-worn"], rel=0.2)


def test_what_is_accepted_is_saved_and_its_jobs_are_not_fitted_again(shop, record, tmp_path):
    proposal = tuning.propose_from(shop.posterior, record, shop.catalogue, shop.priors)
    assert proposal.until == "2026-08-31" and len(proposal.jobs) == 2600
    demo = shipped("models/priors/demo")
    saved = tuning.accept(proposal, ["torch-dead"], tmp_path / "tuned", demo, shop.catalogue)
    (item,) = [item for item in proposal.kinds if item.kind == "torch-dead"]
    held = load_priors(saved.folder, shop.catalogue)
    assert held.success.belief("torch-dead").chance == item.chance
    assert {change.place.split(",")[0] for change in saved.changes} == {"kind torch-dead"}
    assert held.tuned == tuned_on(record)
    from triage.workflows.fitting.fit import fit_history

    with pytest.raises(HistoryError, match="2600 of 2600 jobs.*from 2026-09-01"):
        fit_history(record, shop.catalogue, held)
    with pytest.raises(BeliefError, match="another set"):
        tuning.accept(proposal, ["torch-dead"], tmp_path / "again", saved.folder, shop.catalogue)
    with pytest.raises(BeliefError, match="'cell-worn' is not proposed"):
        tuning.accept(proposal, ["cell-worn"], tmp_path / "again", demo, shop.catalogue)
    assert [path.name for path in tmp_path.iterdir()] == ["tuned"]


def test_sets_are_compared_only_on_jobs_that_none_was_tuned_on():
    history = simulated(20)
    late = PriorSet(tuned=TunedJobs(frozenset({"f"}), "2025-06-30"))
    with pytest.raises(HistoryError, match="from 2025-07-01 on"):
        tuning.compare_sets({"a": PriorSet(), "b": late}, history, shop_catalogue(), SETTINGS)


def test_fits_that_fail_in_a_comparison_are_counted_for_each_set(monkeypatch):
    """The back-test of each set is played by one that says which of its fits failed."""
    failed, told = iter((0, 2)), []

    def played(history, catalogue, priors, settings, options, progress):
        progress({"event": "block", "place": 0, "of": 3})
        table = pd.DataFrame({"job": ["a", "a", "b"], "model": [0.8, 0.6, 0.5], "fixed": [True, False, True]})
        scores = {"model": Scores(0.2, 0.5, 0.9)}
        return SimpleNamespace(
            forecasts=table, scores=scores, failed_fits=next(failed), blocks=(1, 2, 3), jobs=2, attempts=3
        )

    monkeypatch.setattr("triage.workflows.looking_back.backtest.backtest", played)
    sets = {"a": PriorSet(), "b": PriorSet()}
    found = tuning.compare_sets(sets, simulated(5), shop_catalogue(), SETTINGS, progress=told.append)
    assert [(one.fits, one.failed_fits) for one in found.sets] == [(3, 0), (3, 2)]
    assert [(event["set"], event["set_place"], event["sets"]) for event in told] == [("a", 0, 2), ("b", 1, 2)]


def test_a_proposal_up_to_a_day_leaves_the_later_jobs_to_learn_from(monkeypatch):
    """The fit is played by one that says what it was given; its draws are the prior's."""
    catalogue, history, given, failures = shop_catalogue(), simulated(300), [], []

    def played(past, catalogue, priors, seed, sampler, tell):
        given.append(past)
        return BlockFit(success_prior_draws(catalogue, priors, 50), tuple(failures))

    monkeypatch.setattr("triage.workflows.looking_back.backtest_fits.fit_success", played)
    until = date(2025, 3, 1)
    found = tuning.propose_until(until, history, catalogue, PriorSet())
    later = history.since(date(2025, 3, 2))
    assert found.until == "2025-03-01" and given[0].rows["date"].max() <= pd.Timestamp(until)
    assert len(found.jobs) == len(given[0].jobs) == len(history.jobs) - len(later.jobs)
    tuned = TunedJobs(frozenset(found.jobs), found.until)
    refuse_double_use(later, tuned)
    with pytest.raises(HistoryError, match="from 2025-03-02"):
        refuse_double_use(history, tuned)
    failures.append("chains disagree")
    with pytest.raises(NotConvergedError, match="chains disagree; nothing is proposed"):
        tuning.propose_until(until, history, catalogue, PriorSet())


@pytest.mark.slow
def test_sets_back_tested_on_later_blocks_are_told_apart():
    from triage.workflows.looking_back.backtest import BacktestOptions

    catalogue, history = shop_catalogue(), simulated(300)
    early = tuned_on(replace_until(history, "2025-03-01"))
    wrong = tuple(KindBelief(f"kind-{n}", 0.95 if n < 3 else 0.1, 400) for n in range(6))
    sets = {"plain": PriorSet(tuned=early), "wrong": PriorSet(success=SuccessPriors(kind=wrong))}
    options = BacktestOptions(
        blocks=1, replicates=20, sampler=SamplerSettings(300, 300, 2, 2, stored_draws=400)
    )
    found = tuning.compare_sets(sets, history, catalogue, SETTINGS, options)
    assert found.first == date(2025, 3, 2)
    later = history.since(found.first)
    assert 0.3 < found.jobs / len(later.jobs) < 0.6
    plain, bad = found.sets
    assert plain.fits == bad.fits == 1
    assert plain.gain is None and bad.high < 0 and bad.joint_log > plain.joint_log
    assert bad.gain == pytest.approx(plain.joint_log - bad.joint_log)


def replace_until(history, day):
    rows = history.rows[history.rows["date"] <= pd.Timestamp(day)]
    return replace(history, rows=rows.reset_index(drop=True), as_of=date.fromisoformat(day))
