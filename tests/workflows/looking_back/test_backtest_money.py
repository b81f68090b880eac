"""Minutes and margins promised in a back-test, on records made by the very draws that forecast them."""

from __future__ import annotations

import json
from datetime import date

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from tests.outcome_models.attempt_records import shop_catalogue, simulated
from triage.domain.history import History
from triage.domain.shop.settings import Settings
from triage.priors.prior_set import PriorSet
from triage.reports.json_output.answer import as_json
from triage.reports.json_output.backtest import backtest_from, backtest_object, told_backtest
from triage.reports.terminal.backtest import backtest_lines
from triage.workflows.looking_back.backtest import BacktestOptions, backtest
from triage.workflows.looking_back.backtest_fits import BlockFit

CATALOGUE = shop_catalogue()
SETTINGS = Settings(shop="test bench", currency="EUR", bench_rate=30.0)
KINDS = [kind.slug for kind in CATALOGUE.kind]
FAMILIES = list(dict.fromkeys(kind.family for kind in CATALOGUE.kind))
LOG_MINUTES, FAILED, SPREAD = np.linspace(3.0, 4.0, 6), 0.3, 0.4
DRAWS = 40


def told(**columns):
    """A record whose minutes and money are drawn from the truth below."""
    rows = simulated(300).rows.assign(tier="middle", cause="", technician="", **columns)
    rng = np.random.default_rng(11)
    kind = rows["finding"].str.removeprefix("kind-").astype(int).to_numpy()
    fixed = rows["outcome"].eq("fixed").to_numpy()
    location = LOG_MINUTES[kind] + FAILED * ~fixed
    minutes = np.exp(location + SPREAD * rng.standard_normal(len(rows))).clip(0.5)
    book = 10.0 + 2 * kind
    parts = book * np.exp(0.1 + 0.2 * rng.standard_normal(len(rows)))
    rows = rows.assign(
        minutes=minutes, book_cost=book, parts_cost=parts, route="walk-in", working_price=200.0
    )
    done = fixed_jobs(rows)
    sold = pd.Series(rng.normal(180, 20, len(done)), done.index).where(done, 20.0)
    rows = rows.assign(sold=rows["job"].map(sold), working_price=200.0)
    return History(rows, date(2025, 12, 31))


def fixed_jobs(rows):
    by = rows["outcome"].eq("fixed").groupby([rows["job"], rows["finding"]]).any()
    return by.groupby("job").all()


def success_draws(*_):
    level = np.tile(np.linspace(-0.5, 2.5, 6) - 0.25, (DRAWS, 1))
    draws = xr.Dataset(
        {
            "kind_logit": (("draw", "kind"), level),
            "severity_effect": (("draw", "kind", "severity"), np.zeros((DRAWS, 6, 3)) + [0.6, 0, -0.6]),
            "job_sd": ("draw", np.full(DRAWS, 0.85)),
            "after_failure": ("draw", np.zeros(DRAWS)),
        },
        coords={"kind": KINDS, "family": FAMILIES, "severity": ["1", "2", "3"]},
    )
    return BlockFit(draws)


def other_draws(name, *_):
    if name == "parts_cost":
        ratio = np.full((DRAWS, 2), 0.1)
        draws = {"log_ratio": (("draw", "family"), ratio), "spread": ("draw", np.full(DRAWS, 0.2))}
        return BlockFit(xr.Dataset(draws, coords={"family": FAMILIES}))
    one = np.ones(DRAWS)
    draws = {
        "log_minutes": (("draw", "kind"), np.tile(LOG_MINUTES, (DRAWS, 1))),
        "severity_step": (("draw", "step"), np.zeros((DRAWS, 2))),
        "failed_effect": (("draw", "family"), np.full((DRAWS, 2), FAILED)),
        "spread": ("draw", SPREAD * one), "tail_share": ("draw", 1e-6 * one),
        "tail_shift": ("draw", one), "tail_spread": ("draw", SPREAD * one),
    }  # fmt: skip
    return BlockFit(
        xr.Dataset(draws, coords={"kind": KINDS, "family": FAMILIES, "step": ["1 to 2", "2 to 3"]})
    )


def run(history, **options):
    given = BacktestOptions(blocks=1, replicates=20, **options)
    return backtest(history, CATALOGUE, PriorSet(), SETTINGS, given, None, success_draws, other_draws)


@pytest.fixture(scope="module")
def found():
    return run(told())


@pytest.mark.slow
def test_intervals_of_true_draws_hold_and_means_are_unbiased(found):
    minutes, margins = found.promises
    assert (minutes.what, minutes.count) == ("minutes per attempt", found.attempts)
    assert (margins.what, margins.jobs) == ("margins per job", found.jobs)
    for check in found.promises:
        assert "as stated" in check.coverage_words and 0.84 < check.ninety.value < 0.96, check
        assert abs(check.gap) < 3 * check.error, check
    assert margins.realised == pytest.approx(found.decision.rules["take all"].margin / found.jobs)


def test_minutes_promised_too_low_are_told(found):
    history = told()
    slow = History(history.rows.assign(minutes=2 * history.rows["minutes"]), history.as_of)
    late = run(slow)
    minutes = late.promises[0]
    assert minutes.ninety.value < 0.8 and "too narrow" in minutes.coverage_words
    assert minutes.gap < -3 * minutes.error
    assert any("forecasts were too low" in line for line in backtest_lines(late, "EUR", "EUR, of us"))


@pytest.mark.slow
def test_a_record_without_minutes_or_without_money(found):
    history = told()
    plain = run(History(history.rows.drop(columns=["minutes"]), history.as_of))
    assert plain.promises == () and any(lack.startswith("no minutes") for lack in plain.lacks)
    free = run(History(history.rows.drop(columns=["sold", "book_cost"]), history.as_of))
    assert [check.what for check in free.promises] == ["minutes per attempt"] and free.decision is None
    assert run(history, promises=False).promises == ()


def test_the_json_object_holds_all_that_is_shown(found):
    told_ = told_backtest(found, told(), SETTINGS, invented=True)
    again = backtest_from(json.loads(as_json(told_)))
    assert backtest_object(again) == backtest_object(found)
    assert backtest_lines(again, "EUR", told_["money"]) == backtest_lines(found, "EUR", told_["money"])
    assert told_["currency"] == "EUR" and "invented" in told_["money"]


@pytest.mark.parametrize("wrong", [{}, {"schema": 1}, {"schema": 1, "calibration": {"reference": None}}])
def test_what_is_no_back_test_is_refused(wrong):
    from triage.errors import InputError

    with pytest.raises(InputError, match="the back-test"):
        backtest_from(wrong)
