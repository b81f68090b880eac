"""What an assumption of a chance and its worth is on the logit."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import expit
from scipy.stats import norm

from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import DamageKind, Family
from triage.elicitation.success_prior import success_prior_draws
from triage.prediction.success import fresh_chances
from triage.priors.kind_beliefs import belief_logit, belief_of_logit, kind_beliefs, shared_variance
from triage.priors.prior_set import PriorSet
from triage.priors.success import Belief, KindBelief, SuccessPriors, SuccessScales

BELIEFS = {"rare": (0.05, 30.0), "even": (0.5, 10.0), "usual": (0.85, 3.0), "firm": (0.9, 200.0)}


@pytest.mark.parametrize(("jobs", "sd"), [(3, 1.45), (8, 0.84), (18, 0.55)])
def test_logit_sd_of_three_in_four(jobs, sd):
    assert belief_logit(0.75, jobs)[1] == pytest.approx(sd, abs=0.005)


@pytest.mark.parametrize(("chance", "jobs"), [*BELIEFS.values(), (0.75, 8.0)])
def test_the_chance_has_the_mean_and_the_sd_stated(chance, jobs):
    mean, sd = belief_logit(chance, jobs)

    def moment(power: int) -> float:
        return quad(lambda z: expit(mean + sd * z) ** power * norm.pdf(z), -10, 10, epsabs=1e-12)[0]

    assert moment(1) == pytest.approx(chance, abs=1e-9)
    assert moment(2) - moment(1) ** 2 == pytest.approx(chance * (1 - chance) / (jobs + 1), rel=1e-7)
    assert belief_of_logit(mean, sd) == pytest.approx((chance, jobs), rel=1e-6)


def test_a_belief_worth_next_to_nothing_stays_bounded():
    assert belief_logit(0.99, 0.1)[1] <= 4


@pytest.mark.parametrize("families", [1, 3, 6])
@pytest.mark.parametrize("shop", [0.1, 0.4, 1.5])
def test_drawn_from_the_prior_a_stated_belief_is_worth_what_it_says(families, shop):
    """Whatever shop and family add: the mean and the sd of the chance, within 5 Monte Carlo errors."""
    names = [f"f{number}" for number in range(families)]
    catalogue = Catalogue(
        kind=tuple(DamageKind(slug, slug, names[at % families]) for at, slug in enumerate(BELIEFS)),
        family=tuple(Family(name, name) for name in names),
    )
    stated = tuple(KindBelief(slug, *belief) for slug, belief in BELIEFS.items())
    priors = PriorSet(success=SuccessPriors(kind=stated, scales=SuccessScales(shop=shop)))
    draws = 40_000
    chances = fresh_chances(success_prior_draws(catalogue, priors, draws), 2)
    for found, (chance, jobs) in zip(chances.T, BELIEFS.values(), strict=True):
        sd = np.sqrt(chance * (1 - chance) / (jobs + 1))
        assert found.mean() == pytest.approx(chance, abs=5 * sd / draws**0.5)
        away = (found - chance) ** 2
        assert away.mean() == pytest.approx(sd**2, abs=5 * away.std() / draws**0.5)


def test_what_kinds_share_is_at_most_half_of_each_and_leaves_its_variance():
    catalogue = Catalogue(kind=(DamageKind("told", "told", "f"), DamageKind("other", "other", "f")))
    believed = kind_beliefs(catalogue, SuccessPriors(kind=(KindBelief("told", 0.75, 18.0),)))
    for scale in (0.01, 0.3, 2.0):
        variance = shared_variance(scale, 0.5, 4)
        share, own = believed.parts(variance, 1.0)
        np.testing.assert_allclose(share**2 * variance + own**2, believed.sd**2, rtol=1e-12)
        assert (share**2 * variance <= believed.sd**2 / 2 + 1e-12).all()
    one, other = believed.parts(1.0, 2.0)[1] / believed.parts(1.0, 1.0)[1]
    assert (one, other) == (1, 2)  # only the default's spread is learned


def test_the_default_keeps_its_sd_on_the_logit_though_its_spread_is_learned():
    catalogue = Catalogue(kind=(DamageKind("any", "any", "f"),), family=(Family("f", "f"),))
    priors = PriorSet(success=SuccessPriors(default=Belief(0.75, 8.0)))
    logits = success_prior_draws(catalogue, priors, 200_000)["kind_logit"].to_numpy()
    assert logits.std() == pytest.approx(belief_logit(0.75, 8.0)[1], rel=0.01)
