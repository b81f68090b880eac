"""Back-tests: what is known when, what stands in for a failed fit, and any shop's record."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from tests.outcome_models.attempt_records import shop_catalogue, simulated
from triage.domain.catalogue import load_catalogue
from triage.domain.history import History
from triage.domain.shop.settings import Settings
from triage.errors import HistoryError
from triage.inference.sampling import SamplerSettings
from triage.ledger.history.history_csv import known_at, read_history
from triage.priors.prior_set import PriorSet, load_priors
from triage.review.forecasts.backtest import FORECASTERS
from triage.review.forecasts.scores import joint_log_penalties
from triage.shipped import shipped
from triage.workflows.looking_back import backtest_fits as module
from triage.workflows.looking_back.backtest import BacktestOptions, backtest
from triage.workflows.looking_back.backtest_fits import BlockFit

CATALOGUE = shop_catalogue()
SETTINGS = Settings(shop="test bench", currency="EUR")
FEW = BacktestOptions(replicates=20)
RESULT = shipped("models/backtests/demo.json")


def plain_draws(catalogue, draws=30):
    rng = np.random.default_rng(7)
    kinds = [kind.slug for kind in catalogue.kind]
    level = rng.normal(1.0, 0.5, (draws, len(kinds)))
    return xr.Dataset(
        {
            "kind_logit": (("draw", "kind"), level),
            "severity_effect": (("draw", "kind", "severity"), np.zeros((*level.shape, 3)) + [0.5, 0, -0.5]),
            "job_sd": ("draw", np.full(draws, 0.8)),
            "after_failure": ("draw", np.full(draws, 1.0)),
        },
        coords={
            "kind": kinds,
            "family": list(dict.fromkeys(kind.family for kind in catalogue.kind)),
            "severity": ["1", "2", "3"],
        },
    )


class Fits:
    """A stand-in for the sampler that remembers the pasts it was given, and fails when told to."""

    def __init__(self, catalogue, fails=()):
        self.draws, self.fails, self.pasts = plain_draws(catalogue), fails, []

    def __call__(self, past, catalogue, priors, seed, sampler, tell):
        self.pasts.append(past)
        why = ("R-hat 1.2",) if len(self.pasts) - 1 in self.fails else ()
        return BlockFit(self.draws, why)


def slow_closing(jobs=120):
    """A record in order of intake whose jobs take up to 40 days."""
    rows = simulated(jobs).rows
    number = rows["job"].str.removeprefix("job-").astype(int)
    intake = pd.Timestamp("2025-01-01") + pd.to_timedelta(2 * number, unit="D")
    rows = rows.assign(date=intake, closed=intake + pd.to_timedelta(number % 41, unit="D"))
    return known_at(History(rows, date(2025, 12, 31)), date(2025, 12, 31))


def test_each_block_is_forecast_from_jobs_closed_before_it_begins():
    fits, history = Fits(CATALOGUE), slow_closing()
    found = backtest(history, CATALOGUE, PriorSet(), SETTINGS, FEW, fit=fits)
    assert len(found.blocks) == len(fits.pasts) == 4
    assert found.blocks[-1].until == history.rows["date"].max().date()
    for number, (block, past) in enumerate(zip(found.blocks, fits.pasts, strict=True)):
        assert past.rows["closed"].max().date() <= block.origin
        # 20 days on average are not enough for all jobs taken in so far: some are not known yet.
        assert len(past.jobs) == block.past_jobs < (history.jobs["date"].dt.date <= block.origin).sum()
        dates = found.forecasts.loc[found.forecasts["block"] == number, "date"].dt.date
        assert (dates > block.origin).all() and (dates <= block.until).all()
    assert sum(block.jobs for block in found.blocks) == found.jobs == 60
    assert sum(block.attempts for block in found.blocks) == found.attempts == len(found.forecasts)
    # Second tries are told apart, and are less likely after their first has failed.
    second = found.forecasts[found.forecasts["second_try"]]
    assert len(second) and (second["method"] == "other-way").all()


def test_scores_and_gains_are_those_of_the_table_of_forecasts():
    found = backtest(slow_closing(), CATALOGUE, PriorSet(), SETTINGS, FEW, fit=Fits(CATALOGUE))
    table, job = found.forecasts, pd.factorize(found.forecasts["job"])[0]
    assert set(found.scores) == set(FORECASTERS)
    for name, scores in found.scores.items():
        joint = joint_log_penalties(table[name].to_numpy(), table["fixed"].to_numpy(), job)
        assert scores.joint_log == pytest.approx(joint.mean(), abs=1e-12)
        assert scores.brier == pytest.approx(((table[name] - table["fixed"]) ** 2).mean(), abs=1e-12)
        if name != "model":
            gain = found.gains[name]
            assert gain.mean == pytest.approx(scores.joint_log - found.scores["model"].joint_log, abs=1e-12)
            assert gain.low < gain.mean < gain.high
    assert sum(group.attempts for group in found.families) == found.attempts
    assert sum(one.happened.of for one in found.bins) == found.attempts


def test_a_failed_fit_is_said_counted_and_not_used(monkeypatch):
    asked = []
    monkeypatch.setattr(module, "believed", lambda *_: asked.append(1) or plain_draws(CATALOGUE))
    events = []
    found = backtest(
        slow_closing(), CATALOGUE, PriorSet(), SETTINGS, FEW, events.append, Fits(CATALOGUE, fails=(0, 2))
    )
    assert [block.used for block in found.blocks] == ["belief only", "fit", "the fit before", "fit"]
    assert found.failed_fits == 2 and len(asked) == 1
    assert [event["used"] for event in events if event["event"] == "failed"] == [
        "belief only", "the fit before"
    ]  # fmt: skip


def test_a_record_with_nothing_after_its_first_half_is_refused():
    rows = simulated(10).rows.assign(date=pd.Timestamp("2025-01-01"))
    with pytest.raises(HistoryError, match="on one day"):
        backtest(History(rows, date(2025, 12, 31)), CATALOGUE, PriorSet(), SETTINGS, FEW, fit=Fits(CATALOGUE))


LOOMS = """\
[[kind]]
slug = "shed-jammed"
name = "jammed shed"
family = "warp"

[[kind]]
slug = "beam-warped"
name = "warped beam"
family = "warp"

[[kind]]
slug = "shuttle-split"
name = "split shuttle"
family = "weft"
"""


@pytest.fixture
def looms(tmp_path):
    """A mender of looms: only what the format requires."""
    rng = np.random.default_rng(5)
    lines = ["job,date,finding,outcome"]
    for job in range(160):
        day, lean = date.fromordinal(738000 + 3 * job), rng.normal(0, 1)
        for kind, level in zip(
            ("shed-jammed", "beam-warped", "shuttle-split"), (1.5, -0.5, 0.8), strict=True
        ):
            if rng.random() < 0.6:
                fixed = rng.random() < 1 / (1 + np.exp(-level - lean))
                lines.append(f"loom-{job},{day},{kind},{'fixed' if fixed else 'not-fixed'}")
    (tmp_path / "looms.toml").write_text(LOOMS)
    (tmp_path / "looms.csv").write_text("\n".join(lines) + "\n")
    return tmp_path


def test_a_record_that_is_not_of_phones_says_what_it_lacks(looms):
    catalogue = load_catalogue(looms / "looms.toml")
    history = read_history(looms / "looms.csv", catalogue)
    found = backtest(history, catalogue, PriorSet(), SETTINGS, FEW, fit=Fits(catalogue))
    assert found.decision is None
    said = " / ".join(found.lacks)
    for words in (
        "sold",
        "margins are not",
        "no closing dates",
        "no severity, tier, technician, cause, method",
    ):
        assert words in said, words
    assert {group.name for group in found.families} == {"warp", "weft"}


@pytest.mark.slow
def test_looms_with_the_real_fit(looms):
    catalogue = load_catalogue(looms / "looms.toml")
    history = read_history(looms / "looms.csv", catalogue)
    sampler = SamplerSettings(draws=500, tune=600)
    options = BacktestOptions(blocks=1, replicates=100, sampler=sampler)
    found = backtest(history, catalogue, PriorSet(), SETTINGS, options)
    assert found.failed_fits == 0
    # Jobs lean by one logit, and kinds differ: an overall rate knows neither.
    assert found.gains["overall"].mean > 0
    low, high = found.calibration.reference
    assert low - 1.5 < found.calibration.z < high + 1.5


@pytest.mark.slow
def test_a_small_record_of_the_invented_shop_with_the_real_fit():
    catalogue = load_catalogue()
    priors = load_priors(shipped("models/priors/demo"), catalogue)
    whole = read_history(shipped("synthetic_cases/past-jobs.csv"), catalogue)
    jobs = whole.jobs.index[:200]
    history = replace(whole, rows=whole.rows[whole.rows["job"].isin(jobs)].reset_index(drop=True))
    sampler = SamplerSettings(draws=300, tune=500)
    found = backtest(
        history, catalogue, priors, SETTINGS, BacktestOptions(blocks=1, replicates=50, sampler=sampler)
    )
    assert len(found.blocks) == 1 and found.decision is not None
    assert [check.what for check in found.promises] == ["minutes per attempt", "margins per job"]
    # Kinds with no past are forecast, and by their belief, never by one half or a bare average.
    past = set(whole.rows.loc[whole.rows["job"].isin(jobs[:90]), "finding"])
    unseen = found.forecasts[~found.forecasts["finding"].isin(past)]
    assert len(unseen) and unseen["model"].nunique() == len(unseen)
    # A hundred jobs of past: belief and pooling are worth most where raw rates know least.
    assert found.gains["raw"].mean > 0


def test_on_the_invented_shop_the_model_beats_every_baseline():
    # Made by `triage backtest --past-jobs synthetic_cases/past-jobs.csv --json > models/backtests/demo.json`.
    found = json.loads(RESULT.read_text(encoding="utf-8"))
    assert found["failed_fits"] == 0 and len(found["blocks"]) == 4
    gains = found["joint_log_gains"]
    assert all(gain["mean"] > 0 and gain["low"] < gain["mean"] < gain["high"] for gain in gains.values())
    # Ridge knows kinds, severities, tiers and benches too; what it lacks is the job effect.
    assert all(gains[name]["low"] > 0 for name in ("overall", "raw", "beta"))
    model = found["scores"]["model"]
    assert all(model[score] <= found["scores"][name][score] for name in gains for score in model)
    low, high = found["calibration"]["reference"]
    assert low - 1 < found["spiegelhalter_z"] < high + 1
    assert found["decision"]["gains"]["take all"]["low"] > 0
