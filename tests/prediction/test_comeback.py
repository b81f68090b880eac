import numpy as np
import pytest
import xarray as xr

from tests.outcome_models.joint_draws import joint_draws
from tests.outcome_models.small_shop import small_catalogue, small_history
from triage.outcome_models.comeback import MODEL, watched
from triage.prediction.comeback import chance_of_comeback, expected_comebacks
from triage.priors.prior_set import PriorSet

CATALOGUE, PRIORS = small_catalogue(), PriorSet()


def draws(rate=0.03, later=(-1.0, -2.0)):
    return xr.Dataset(
        {
            "log_rate": (("draw", "family"), [[np.log(rate), np.log(2 * rate)]]),
            "later": (("draw", "later_piece"), [list(later)]),
        },
        coords={"family": ["display", "liquid"]},
    )


def test_matches_the_graph_of_the_model():
    """Log-likelihood of the record, by the graph and job by job from the prediction."""
    history = small_history(60)
    graph = MODEL.build(MODEL.design(history, CATALOGUE, PRIORS), PRIORS)
    held, in_graph = joint_draws(graph, MODEL.stored, graph.potentials[0])
    days, came_back = watched(history, PRIORS.comeback.warranty_days)
    total = np.zeros(held.sizes["draw"])
    for job, until, back in zip(history.jobs.index, days, came_back, strict=True):
        rows = history.rows[(history.rows["job"] == job) & (history.rows["outcome"] == "fixed")]
        families = [CATALOGUE.kinds[kind].family for kind in rows["finding"]]
        if families:
            total -= expected_comebacks(held, families, until)
        if back:
            # The hazard a 30 days at the comeback: the slope of its sum just before it.
            before = expected_comebacks(held, families, until - 0.25)
            total += np.log((expected_comebacks(held, families, until) - before) * 30 / 0.25)
    assert came_back.any()
    assert in_graph == pytest.approx(total, rel=1e-10)


def test_hazard_is_summed_over_pieces_and_families():
    months = 1 + 2 * np.exp(-1.0) + np.exp(-2.0)  # 30, 60 and 30 days
    assert expected_comebacks(draws(), ["display"], 120) == pytest.approx(0.03 * months)
    assert expected_comebacks(draws(), ["display", "liquid", "liquid"], 120) == pytest.approx(0.15 * months)
    assert expected_comebacks(draws(), [], 120) == pytest.approx(0)
    assert expected_comebacks(draws(), ["display"], 0) == pytest.approx(0)


def test_chance_is_that_of_at_least_one():
    expected = expected_comebacks(draws(), ["liquid"], 90)
    assert chance_of_comeback(draws(), ["liquid"], 90) == pytest.approx(1 - np.exp(-expected))
