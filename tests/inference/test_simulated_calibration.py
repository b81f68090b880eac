"""The machinery of simulation-based calibration, and the calibration that ships.

`python -m tests.benchmarks.fitting.calibration` makes the ranks; here they are compared with the summary.
"""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest

from tests.benchmarks.fitting.calibration import LEAST, SUMMARY, Shops, all_held, fit, numbers, summary
from tests.benchmarks.fitting.calibration_lift import LOG_LIKELIHOOD, Lifted
from tests.benchmarks.fitting.calibration_ranks import DRAWS, band_p, chi_square_p, rank, with_failures
from tests.benchmarks.fitting.calibration_shop import JOBS
from triage.workflows.fitting.calibration import model_structure


def ranks_of(sampler, shops: int = 300, seed: int = 8) -> np.ndarray:
    """Ranks where truths are N(0, 1) and a reading is N(truth, 1): the posterior is N(y / 2, 1 / 2)."""
    rng = np.random.default_rng(seed)
    truth = rng.normal(size=shops)
    reading = truth + rng.normal(size=shops)
    return np.array([rank(t, sampler(y, rng)) for t, y in zip(truth, reading, strict=True)])


def sampler(sd: float, shrinkage: float = 0.5):
    return lambda y, rng: shrinkage * y + sd * rng.normal(size=DRAWS)


def test_a_correct_sampler_is_accepted():
    """Talts et al. 2018, from memory: its ranks are uniform."""
    assert band_p(ranks_of(sampler(np.sqrt(0.5)))) > 0.05


@pytest.mark.parametrize(
    ("wrong", "why"),
    [
        (sampler(0.5), "variance where the sd belongs: too narrow, ranks pile up at both ends"),
        (sampler(1.0), "the reading's sd, not the posterior's: too wide, ranks pile up in the middle"),
        (sampler(np.sqrt(0.5), 1.0), "no shrinkage"),
        (lambda y, rng: rng.normal(size=DRAWS) + 0.3, "the prior, moved, with nothing learned"),
    ],
)
def test_a_wrong_sampler_is_rejected(wrong, why):
    assert band_p(ranks_of(wrong)) < 0.01, why


def test_p_values_of_uniform_ranks_are_small_at_their_nominal_rate():
    rng = np.random.default_rng(4)
    found = [band_p(rng.integers(0, DRAWS + 1, 200)) for _ in range(400)]
    # 400 p values: 20 below .05 expected, 4 sds either way.
    assert 3 <= np.sum(np.array(found) < 0.05) <= 37
    assert chi_square_p(np.arange(200) % (DRAWS + 1)) == pytest.approx(1.0)


def test_failed_fits_count_against_calibration():
    even = np.arange(200) % (DRAWS + 1)
    assert band_p(with_failures(even, 0)) > 0.9
    assert band_p(with_failures(even, 20)) < 0.001


def test_shipped_calibration_matches_its_ranks():
    held, shipped = all_held(), json.loads(SUMMARY.read_text(encoding="utf-8"))
    # Once through JSON, so that floats compare as they were written.
    assert shipped == json.loads(json.dumps(summary(held)))
    for name, model in shipped["models"].items():
        ranks = held[name]["ranks"]
        if model["structure"] == model_structure(name):  # otherwise the page calls it an earlier form
            assert set(ranks) == {what for what, *_ in numbers(name)}
        assert {len(each) for each in ranks.values()} == {model["shops"] - model["failed"]}
        enough = model["shops"] >= LEAST
        assert model["passed"] == (enough and all(q["inside_band"] for q in model["quantities"]))
        assert model["passed"] or not enough, f"{name} is not calibrated"


@pytest.mark.slow
def test_a_calibration_shop_has_every_special_case_and_the_products_fit():
    """Stops, second tries, unopened jobs, comebacks out of warranty; and the density of one record."""
    from tests.benchmarks.fitting.calibration_shop import played
    from triage.outcome_models.registry import MODELS

    shops = Shops()
    rows = pd.concat([played(shops.truth(shop), shops.priors, shop).rows for shop in range(8)])
    assert rows["job"].nunique() == JOBS
    assert {"job-stopped", "no-part"} <= set(rows["why_not"])
    assert {"other-way", "other-lens-way", "whole-shell"} <= set(rows["method"])
    assert (rows["hidden_faults"] == "").any() and (rows["hidden_faults"] != "").any()
    assert rows["sold_date"].isna().any() and set(rows["comeback_kind"]) - {""}
    assert rows["minutes"].max() <= shops.priors.bench_minutes.give_up_minutes
    designs = [d for _, (_, d) in zip(range(7), shops.designs("comeback", 0), strict=False)]
    lifted = Lifted([shops.model("comeback", d) for d in designs[:6]])
    model = shops.model("comeback", designs[6])
    data = lifted.data(model)
    draws, refused = fit("comeback", lifted, data, 1)
    assert refused < 3 and draws.sizes["draw"] == DRAWS
    named = (*model.free_RVs, *model.deterministics)
    at = {v.name: draws[v.name].to_numpy()[5] for v in named}
    assert lifted.log_likelihood(at, data) == pytest.approx(float(draws[LOG_LIKELIHOOD][5]), abs=1e-9)
    from tests.outcome_models.test_second_opinion import likelihood_at

    names = MODELS["comeback"].stored
    found, _ = likelihood_at(model, names, tuple(draws[name].to_numpy()[5] for name in names))
    assert found == pytest.approx(float(draws[LOG_LIKELIHOOD][5]), abs=1e-9)
