import numpy as np
import pytest
import xarray as xr
from scipy.integrate import quad
from scipy.stats import norm

from tests.outcome_models.joint_draws import joint_draws
from tests.outcome_models.small_shop import small_catalogue, small_history
from tests.prediction.made_draws import made_posterior
from triage.outcome_models.parts_cost import MODEL
from triage.prediction.parts_cost import mean_parts_ratio, parts_log_likelihood, sample_parts_ratio
from triage.priors.prior_set import PriorSet

CATALOGUE, PRIORS = small_catalogue(), PriorSet()


def test_matches_the_graph_of_the_model():
    """Log-likelihood of the record by the graph, and from the predicted median and spread."""
    history = small_history(40)
    design = MODEL.design(history, CATALOGUE, PRIORS)
    graph = MODEL.build(design, PRIORS)
    held, in_graph = joint_draws(graph, MODEL.stored, graph.potentials[0])
    draw, again = np.arange(held.sizes["draw"]), held["bought_again"].values
    # Midmost of what is bought once, and of what is bought again.
    once, twice = (
        {slug: np.log(sample_parts_ratio(held, slug, draw, at)) for slug in design.coords["family"]}
        for at in ((1 - again) / 2, 1 - again / 2)
    )
    total = np.zeros(len(draw))
    for kind, paid, book in history.rows[["finding", "parts_cost", "book_cost"]].itertuples(index=False):
        slug, ratio = CATALOGUE.kinds[kind].family, np.log(paid / book)
        sd = held["spread"].sel(family=slug).values
        parts = ((1 - again) * norm.pdf(ratio, once[slug], sd), again * norm.pdf(ratio, twice[slug], sd))
        total += np.log(sum(parts))
        assert twice[slug] - once[slug] == pytest.approx(np.log(2), abs=1e-6)
    assert in_graph == pytest.approx(total, rel=1e-8)


def test_draws_average_to_the_mean():
    draws = made_posterior(CATALOGUE, draws=4).draws["parts_cost"]
    paths = 200_000
    uniform = (np.arange(paths) + 0.5) / paths
    for draw in range(4):
        ratios = sample_parts_ratio(draws, "display", np.full(paths, draw), uniform)
        # Evenly spaced points of the distribution: only the far tail's width is missing.
        assert ratios.mean() == pytest.approx(mean_parts_ratio(draws, "display")[draw], rel=1e-5)


def test_mean_and_likelihood_are_those_of_the_density():
    """By quadrature over the density of paid over listed, computed afresh."""
    draws = made_posterior(CATALOGUE, draws=3).draws["parts_cost"]
    for draw in range(3):
        at = draws.isel(draw=draw)
        middle, sd = float(at["log_ratio"].sel(family="display")), float(at["spread"].sel(family="display"))
        again = float(at["bought_again"])

        def density(x, middle=middle, sd=sd, again=again):
            twice = norm.pdf(x, middle + np.log(2), sd)
            return (1 - again) * norm.pdf(x, middle, sd) + again * twice

        mean = quad(lambda x: np.exp(x) * density(x), -3, 4, points=[0, 0.7], epsrel=1e-12, limit=300)[0]
        assert mean_parts_ratio(draws, "display")[draw] == pytest.approx(mean, rel=1e-10)
        ratios = np.array([-0.1, 0.0, 0.3, 0.75])
        theirs = np.log(density(ratios)).sum() + 2 * np.log(2 * np.pi)
        assert parts_log_likelihood(draws, "display", ratios)[draw] == pytest.approx(theirs, abs=1e-10)


def test_draws_of_a_fit_that_knew_no_buying_again_give_what_they_gave():
    """One spread for all families, one log-normal: as it was, to the last digit of its formula."""
    now = made_posterior(CATALOGUE, draws=5).draws["parts_cost"]
    old = xr.Dataset({"log_ratio": now["log_ratio"], "spread": now["spread"].isel(family=0, drop=True)})
    middle, sd = old["log_ratio"].sel(family="display").values, old["spread"].values
    assert np.array_equal(mean_parts_ratio(old, "display"), np.exp(middle + sd**2 / 2))
    uniform = np.linspace(0.001, 0.999, 5)
    expected = np.exp(middle + sd * norm.ppf(uniform))
    assert sample_parts_ratio(old, "display", np.arange(5), uniform) == pytest.approx(expected, rel=1e-12)
    ratios = np.array([0.1, 0.2])
    theirs = norm.logpdf(ratios, middle[:, None], sd[:, None]).sum(axis=1) + np.log(2 * np.pi)
    assert parts_log_likelihood(old, "display", ratios) == pytest.approx(theirs, abs=1e-10)
