import numpy as np
import pytest
from scipy.stats import norm

from tests.outcome_models.joint_draws import joint_draws
from tests.outcome_models.small_shop import small_catalogue, small_history
from tests.prediction.made_draws import made_posterior
from triage.outcome_models.sale_price import MODEL, sales
from triage.prediction.sale_price import GRADES, log_sale_ratio, mean_sale_ratio, sample_sale_ratio
from triage.priors.prior_set import PriorSet

CATALOGUE, PRIORS = small_catalogue(), PriorSet()
DRAWS = made_posterior(CATALOGUE, draws=40).draws["sale_price"]


def test_matches_the_graph_of_the_model():
    history = small_history(80)
    graph = MODEL.build(MODEL.design(history, CATALOGUE, PRIORS), PRIORS)
    held, in_graph = joint_draws(graph, MODEL.stored, graph.potentials[0])
    table = sales(history, CATALOGUE)
    assert set(table["grade"]) >= {0, 1}
    total = sum(
        norm.logpdf(row.ratio, log_sale_ratio(held, row.tier, row.grade), held["spread"].values)
        for row in table.itertuples()
    )
    assert in_graph == pytest.approx(total, rel=1e-10)


def test_price_falls_with_the_grade_in_every_draw_and_on_every_path():
    means = [mean_sale_ratio(DRAWS, "top", grade) for grade in GRADES]
    assert np.all(means[0] > means[1]) and np.all(means[1] > means[2])
    rng = np.random.default_rng(0)
    draw, luck = rng.integers(0, 40, 500), rng.random(500)
    paths = [sample_sale_ratio(DRAWS, "top", grade, draw, luck) for grade in GRADES]
    assert np.all(paths[0] > paths[1]) and np.all(paths[1] > paths[2])


def test_an_unknown_tier_has_the_average_price():
    without = DRAWS.drop_vars(["tier_effect", "tier_drop"])
    assert np.array_equal(log_sale_ratio(DRAWS, "unheard-of", 1), log_sale_ratio(without, "top", 1))
    assert not np.array_equal(log_sale_ratio(DRAWS, "top", 1), log_sale_ratio(without, "top", 1))
