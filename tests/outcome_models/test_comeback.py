from datetime import date

import numpy as np
import pandas as pd
import pytest
from scipy.stats import gamma

from tests.outcome_models import small_shop
from tests.outcome_models.recovery import assert_recovers, fitted
from tests.outcome_models.small_shop import small_catalogue, small_history
from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import DamageKind, Family
from triage.domain.history import History
from triage.outcome_models.comeback import MODEL, build, design, watched
from triage.priors.comeback import exposure_by_piece, piece_of
from triage.priors.prior_set import PriorSet

CATALOGUE, PRIORS = small_catalogue(), PriorSet()
LEFT = pd.Timestamp("2025-01-01")
ONE_KIND = Catalogue(family=(Family("unit", "unit"),), kind=(DamageKind("unit", "unit", "unit"),))


def record(*jobs, as_of=date(2026, 1, 1), finding="display-0"):
    """One job an entry: overrides of the columns."""
    base = {
        "date": LEFT, "finding": finding, "outcome": "fixed", "route": "bought", "sold_date": LEFT,
        "closed": LEFT, "warranty_days": 90.0, "comeback_date": pd.NaT, "comeback_kind": "",
    }  # fmt: skip
    return History(pd.DataFrame([base | {"job": f"job-{n}"} | job for n, job in enumerate(jobs)]), as_of)


def after(days, kind="same-fault"):
    return {"comeback_date": LEFT + pd.Timedelta(days=days), "comeback_kind": kind}


def test_the_end_of_the_exposure_of_each_job():
    days, came_back = watched(
        record(
            {},  # end of warranty
            after(40),  # first comeback
            after(40, "new-damage"),  # not the shop's doing: seen until then
            after(100),  # out of warranty
            {"sold_date": pd.NaT},  # unsold
            {"sold_date": pd.NaT, "route": "walk-in"},  # ready, and never fetched
            {"warranty_days": np.nan},  # the shop's own
            after(0),
            {"route": "walk-in", "closed": LEFT - pd.Timedelta(days=60)} | after(40),  # fetched late
        ),
        warranty_days=60,
    )
    assert days.tolist() == [90, 40, 40, 90, 0, 0, 60, 0.5, 40]
    assert came_back.tolist() == [False, True, False, False, False, False, False, True, True]


def test_a_record_without_hand_overs_counts_from_the_day_a_job_was_closed():
    told = record({}, {"route": "walk-in"})
    days, _ = watched(History(told.rows.drop(columns="sold_date"), told.as_of), warranty_days=60)
    assert days.tolist() == [90, 90]


def test_what_is_stripped_or_disposed_of_is_never_exposed():
    days, _ = watched(record(*({"ending": end} for end in ("sold", "stripped", "disposed"))), 60)
    assert days.tolist() == [90, 0, 0]


def test_a_unit_sold_last_week_has_been_exposed_for_a_week():
    days, _ = watched(record({}, as_of=date(2025, 1, 8)), warranty_days=90)
    assert days.tolist() == [7]


def test_exposure_is_split_at_30_and_90_days():
    assert exposure_by_piece(np.array([15.0, 60.0, 120.0])) * 30 == pytest.approx(
        np.array([[15.0, 0, 0], [30, 30, 0], [30, 60, 30]])
    )
    assert piece_of(np.array([0.5, 30, 31, 90, 91])).tolist() == [0, 0, 1, 1, 2]


def test_every_fixed_finding_adds_its_exposure():
    jobs = [{"job": "a"}, {"job": "a", "finding": "display-1"}, {"job": "a", "finding": "audio-0"}]
    jobs += [{"job": "a", "finding": "camera-0", "outcome": "not-fixed"}]
    jobs += [{"job": "a", "finding": "display-1"}]  # done again: still one finding
    made = design(record(*jobs), CATALOGUE, PRIORS)
    months = dict(zip(made.coords["family"], made.exposure.sum(axis=1), strict=True))
    assert (months["display"], months["audio"], months["camera"]) == (6.0, 3.0, 0.0)


def test_without_a_fixed_finding_or_a_sale_there_is_no_design():
    assert design(record({"outcome": "not-fixed"}), CATALOGUE, PRIORS) is None
    assert design(record({"sold_date": pd.NaT}), CATALOGUE, PRIORS) is None


def exposed(days_each, comebacks):
    """A record of jobs watched for whole months, and some that came back on stated days."""
    jobs = [{"warranty_days": float(days)} for days in days_each]
    jobs += [{"warranty_days": 30.0} | after(day) for day in comebacks]
    return record(*jobs, finding="unit")


def log_likelihood(history):
    """The model's log-likelihood as a function of the comebacks a day, hazard constant."""
    import pytensor.tensor as pt
    from pytensor.graph.replace import vectorize_graph

    graph = build(design(history, ONE_KIND, PRIORS), PRIORS)
    (total,) = graph.replace_rvs_by_values(graph.potentials)
    start = graph.initial_point() | {"later": np.zeros(2)}
    values = {var: start[var.name] for var in graph.value_vars if var.name != "level"}
    level, levels = graph.rvs_to_values[graph["level"]], pt.dvector("levels")
    others = {var: pt.as_tensor(value) for var, value in values.items()}
    at_levels = vectorize_graph(total, others | {level: levels})
    typical = np.log(PRIORS.comeback.typical("unit"))
    return lambda rates: at_levels.eval({levels: np.log(30 * rates) - typical})


def quantile(log_density, at, grid):
    """Quantile of a density known on an even grid up to a constant."""
    density = np.exp(log_density - log_density.max())
    below = np.cumsum((density[1:] + density[:-1]) / 2 * np.diff(grid))
    return np.interp(at, below / below[-1], grid[1:])


@pytest.mark.slow
def test_mean_time_between_failures_matches_the_handbook():
    """NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.5.1 [from memory, recomputed].

    800 hours and 2 failures: MTBF 400, 90 % interval 127 to 2251. Its lower end
    is the posterior under a flat prior on the rate, its upper end that under a
    prior of 1/rate. Hours stand as days here: 25 units watched for 30 days, two
    that came back on day 25.
    """
    history = exposed([30] * 25, [25, 25])
    # Fine enough for linear interpolation to be right to a hundredth of an hour.
    rates = np.linspace(1e-6, 0.05, 20_001)
    likelihood = log_likelihood(history)(rates)
    assert rates[likelihood.argmax()] == pytest.approx(1 / 400, abs=3e-6)
    assert 1 / quantile(likelihood, 0.95, rates) == pytest.approx(127, abs=0.5)
    assert 1 / quantile(likelihood - np.log(rates), 0.05, rates) == pytest.approx(2251, abs=0.5)


def test_gamma_prior_matches_the_handbook():
    """NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.6 [from memory, recomputed].

    Prior Gamma(2, 1400 h), 1909 h and 2 failures: Gamma(4, 3309), 80 % interval
    of the MTBF 495.3 to 1896.5 h.
    """
    history = exposed([30] * 62, [24, 25])
    rates = np.linspace(1e-7, 0.01, 20_001)
    posterior = log_likelihood(history)(rates) + gamma.logpdf(rates, 2, scale=1 / 1400)
    exact = gamma.logpdf(rates, 4, scale=1 / 3309)
    assert posterior - posterior.max() == pytest.approx(exact - exact.max(), abs=1e-8)
    assert 1 / quantile(posterior, 0.9, rates) == pytest.approx(495.3, abs=0.1)
    assert 1 / quantile(posterior, 0.1, rates) == pytest.approx(1896.5, abs=0.5)


@pytest.mark.slow
def test_the_fit_recovers_the_truth_of_the_record():
    draws = fitted(MODEL, small_history(3000, seed=2), CATALOGUE, PRIORS)
    assert_recovers(draws["log_rate"], np.log(small_shop.HAZARD))
    assert_recovers(draws["later"][:, 0], small_shop.LATER)
