import dataclasses

import numpy as np
import pandas as pd
import pytest
from scipy.special import logit
from scipy.stats import bernoulli

from tests.outcome_models import small_shop
from tests.outcome_models.recovery import assert_recovers, fitted
from tests.outcome_models.small_shop import HIDDEN, RAISER, small_catalogue, small_history
from triage.domain.history import History
from triage.outcome_models.hidden_fault import MODEL, build, design, prior_design
from triage.priors.hidden_fault import HiddenFaultPriors, RaisingWeight
from triage.priors.prior_set import PriorSet

CATALOGUE, PRIORS = small_catalogue(), PriorSet()
DAY = pd.Timestamp("2025-01-01")


def record(*jobs):
    """One job an entry: (hidden_faults, [(finding, severity, known_at), ...])."""
    rows = [
        {"job": f"job-{n}", "date": DAY, "finding": kind, "severity": severity, "known_at": known,
         "outcome": "fixed", "hidden_faults": hidden}
        for n, (hidden, findings) in enumerate(jobs)
        for kind, severity, known in findings
    ]  # fmt: skip
    return History(pd.DataFrame(rows), DAY.date())


def test_an_unopened_job_is_left_out():
    plain = [("display-0", 2, "intake")]
    made = design(record(("", plain), ("none", plain), (HIDDEN, plain), ("", plain)), CATALOGUE, PRIORS)
    assert made.opened.tolist() == [2] and made.found.tolist() == [1]


def test_no_opened_job_means_no_design():
    assert design(record(("", [("display-0", 2, "intake")])), CATALOGUE, PRIORS) is None


def test_only_findings_seen_at_intake_raise_hidden_faults():
    jobs = [
        ("none", [(RAISER, 3, "intake")]),
        ("none", [(RAISER, 1, "")]),  # blank counts as intake
        (HIDDEN, [("display-0", 2, "intake"), (RAISER, 2, "opening"), (HIDDEN, 2, "opening")]),
        ("none", [("display-0", 2, "intake")]),
    ]
    made = design(record(*jobs), CATALOGUE, PRIORS)
    by_factor = dict(zip(made.factor[:, 0], zip(made.opened, made.found, strict=True), strict=True))
    assert by_factor == {0.0: (2, 1), 0.6: (1, 0), 1.4: (1, 0)}


def test_a_hidden_kind_seen_at_intake_is_not_hidden_on_that_unit():
    jobs = [(HIDDEN, [(HIDDEN, 2, "intake")]), ("none", [("display-0", 2, "intake")])]
    made = design(record(*jobs), CATALOGUE, PRIORS)
    assert made.opened.tolist() == [1] and made.found.tolist() == [0]


def test_beliefs_are_placed_at_their_pair():
    weights = (RaisingWeight(RAISER, HIDDEN, 2.2),)
    priors = dataclasses.replace(PRIORS, hidden_fault=HiddenFaultPriors(chance=0.1, raising=weights))
    made = prior_design(CATALOGUE, priors)
    assert made.base == pytest.approx([logit(0.1)]) and made.added.tolist() == [2.2]


def test_counted_patterns_give_the_likelihood_of_single_jobs():
    """Binomial counts differ from one Bernoulli a job by a constant only."""
    history = small_history(200)
    made = design(history, CATALOGUE, PRIORS)
    graph = build(made, PRIORS)
    log_likelihood = graph.compile_logp(vars=[graph["found"]])
    rows = history.rows.assign(grade=lambda r: np.where(r["finding"] == RAISER, r["severity"], 0))
    jobs = rows.groupby("job").agg(grade=("grade", "max"), hidden=("hidden_faults", "first"))
    jobs = jobs[jobs["hidden"] != ""]
    start = graph.initial_point()

    def both(base, weight_shared):
        point = start | {"base": np.array([base]), "weight_shared": np.array(weight_shared)}
        weight = PRIORS.hidden_fault.weight.mean + weight_shared  # the pair's own part is 0 at the start
        log_odds = base + weight * np.array([0, 0.6, 1.0, 1.4])[jobs["grade"]]
        alone = bernoulli.logpmf(jobs["hidden"] == HIDDEN, 1 / (1 + np.exp(-log_odds))).sum()
        return log_likelihood(point) - alone

    assert start["weight_unit"] == 0
    assert both(-1.0, 0.7) == pytest.approx(both(-3.0, -0.4), abs=1e-8)


@pytest.mark.slow
def test_the_fit_recovers_the_truth_of_the_record():
    draws = fitted(MODEL, small_history(2500, seed=2), CATALOGUE, PRIORS)
    assert_recovers(draws["base"], small_shop.BASE_LOG_ODDS)
    assert_recovers(draws["weight"], small_shop.WEIGHT)
