import numpy as np
import pytest
from scipy.stats import norm

from tests.outcome_models.joint_draws import joint_draws
from tests.outcome_models.small_shop import small_catalogue, small_history
from tests.prediction.made_draws import made_posterior
from triage.outcome_models.bench_minutes import MODEL
from triage.prediction.bench_minutes import attempt_minutes
from triage.priors.prior_set import PriorSet

CATALOGUE, PRIORS = small_catalogue(), PriorSet()
DRAWS = made_posterior(CATALOGUE, draws=50).draws["bench_minutes"]


def minutes(kind="housing-0", severity=2, fixed=True, method=""):
    return attempt_minutes(DRAWS, kind, severity, fixed, CATALOGUE, PRIORS.bench_minutes, method)


def test_matches_the_graph_of_the_model():
    """The log-likelihood of a whole record, by the model's graph and by the prediction."""
    history = small_history(60)
    # One attempt by another method than the usual one, so that its effect is in it too.
    rows = history.rows
    rows.loc[rows.index[rows["outcome"] == "not-fixed"][0], "minutes"] = 5000.0  # stopped at the give-up time
    rows.loc[rows.index[rows["finding"] == "housing-0"][0], "method"] = "swap-housing"
    design = MODEL.design(history, CATALOGUE, PRIORS)
    assert (design.method >= 0).any() and design.failed.any() and set(design.severity) == {0, 1, 2}
    graph = MODEL.build(design, PRIORS)
    held, in_graph = joint_draws(graph, MODEL.stored, graph.potentials[0])
    total = np.zeros(held.sizes["draw"])
    for cell, read, count in zip(design.cell, design.minutes, design.count, strict=True):
        kind = design.coords["kind"][design.kind[cell]]
        method = design.coords["method"][design.method[cell]] if design.method[cell] >= 0 else ""
        found = attempt_minutes(
            held, kind, int(design.severity[cell]) + 1, not design.failed[cell], CATALOGUE,
            PRIORS.bench_minutes, method,
        )  # fmt: skip
        parts = (
            (1 - found.tail_share, found.location, found.spread),
            (found.tail_share, found.tail_location, found.tail_spread),
        )
        told = norm.sf if read == found.give_up else norm.pdf
        total += count * np.log(sum(share * told(np.log(read), at, sd) for share, at, sd in parts))
        if not design.failed[cell]:  # it ended before the give-up time
            at_all = sum(share * norm.cdf(np.log(found.give_up), at, sd) for share, at, sd in parts)
            total -= count * np.log(at_all)
    assert (design.minutes == PRIORS.bench_minutes.give_up_minutes).sum() == 1
    assert in_graph == pytest.approx(total, rel=1e-10)


def test_higher_severity_and_failures_take_longer():
    by_grade = [minutes(severity=grade).mean() for grade in (1, 2, 3)]
    assert np.all(by_grade[0] < by_grade[1]) and np.all(by_grade[1] < by_grade[2])
    assert np.all(minutes(fixed=False).mean() > minutes().mean())


def test_the_usual_method_has_no_effect_of_its_own_and_another_one_has():
    assert np.array_equal(minutes(method="fix-housing-0").location, minutes().location)
    first, second = (
        minutes(kind, method="swap-housing").location - minutes(kind).location
        for kind in ("housing-0", "housing-1")
    )
    assert first == pytest.approx(second, abs=1e-12) and np.all(first != 0)


def test_simulated_minutes_average_to_the_mean_of_each_draw():
    found = minutes(severity=3, fixed=False)
    rng = np.random.default_rng(1)
    for draw in (0, 17):
        which = np.full(100_000, draw)
        drawn = found.sample(which, rng.random(which.size), rng.random(which.size))
        assert abs(drawn.mean() - found.mean()[draw]) < 4 * drawn.std() / np.sqrt(drawn.size)
