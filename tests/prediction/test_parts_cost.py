import numpy as np
import pytest
from scipy.stats import norm

from tests.outcome_models.joint_draws import joint_draws
from tests.outcome_models.small_shop import small_catalogue, small_history
from tests.prediction.made_draws import made_posterior
from triage.outcome_models.parts_cost import MODEL
from triage.prediction.parts_cost import mean_parts_ratio, sample_parts_ratio
from triage.priors.prior_set import PriorSet

CATALOGUE, PRIORS = small_catalogue(), PriorSet()


def test_matches_the_graph_of_the_model():
    """Log-likelihood of the record by the graph, and from the predicted median and spread."""
    history = small_history(40)
    design = MODEL.design(history, CATALOGUE, PRIORS)
    graph = MODEL.build(design, PRIORS)
    held, in_graph = joint_draws(graph, MODEL.stored, graph.potentials[0])
    draw, middle = np.arange(held.sizes["draw"]), np.full(held.sizes["draw"], 0.5)
    medians = {slug: sample_parts_ratio(held, slug, draw, middle) for slug in design.coords["family"]}
    total = np.zeros(len(draw))
    for kind, paid, book in history.rows[["finding", "parts_cost", "book_cost"]].itertuples(index=False):
        median = medians[CATALOGUE.kinds[kind].family]
        total += norm.logpdf(np.log(paid / book), np.log(median), held["spread"].values)
    assert in_graph == pytest.approx(total, rel=1e-10)


def test_draws_average_to_the_mean():
    draws = made_posterior(CATALOGUE, draws=4).draws["parts_cost"]
    paths = 200_000
    uniform = (np.arange(paths) + 0.5) / paths
    for draw in range(4):
        ratios = sample_parts_ratio(draws, "display", np.full(paths, draw), uniform)
        # Evenly spaced points of the distribution: only the far tail's width is missing.
        assert ratios.mean() == pytest.approx(mean_parts_ratio(draws, "display")[draw], rel=1e-5)
