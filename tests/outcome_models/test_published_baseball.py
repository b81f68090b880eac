"""Partial pooling compared with raw rates on held-out outcomes.

Efron and Morris 1975, Data Analysis Using Stein's Estimator and Its
Generalizations, JASA 70:311, and 1977, Stein's Paradox in Statistics,
Scientific American: 18 batters, 45 at-bats each, compared with the rest of
their season. Shrinkage factor .212 [read]; summed squared error raw .0754,
shrunken .0213, a ratio of 3.5 [recomputed from their Table 1].
"""

from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import DamageKind, Family
from triage.domain.history import History
from triage.inference.sampling import SamplerSettings, fit_model
from triage.outcome_models.success import MODEL
from triage.prediction.success import fresh_chances
from triage.priors.prior_set import PriorSet
from triage.priors.success import Belief, SuccessPriors, SuccessScales

AT_BATS = 45
TABLE = pd.read_csv(Path(__file__).parents[1] / "reference" / "baseball.csv", comment="#")
RAW = np.round(TABLE["hits"].to_numpy() / AT_BATS, 3)  # as published, to three digits
REST = TABLE["rest_average"].to_numpy()


def squared_error(estimate):
    return float(np.sum((estimate - REST) ** 2))


def test_the_published_errors_are_those_of_the_table():
    shrunken = RAW.mean() + 0.212 * (RAW - RAW.mean())
    assert squared_error(RAW) == pytest.approx(0.0754, abs=5e-5)
    assert squared_error(shrunken) == pytest.approx(0.0213, abs=5e-5)


@pytest.mark.slow
def test_the_success_model_pools_as_well_as_the_published_estimator():
    """Each batter a damage kind, each at-bat a job of one attempt.

    The prior is vague: a quarter, worth 60 at-bats. The batters' spread around it
    may be three times smaller or larger (two sds); the model learns it from the
    810 outcomes.
    """
    players = [f"player-{number}" for number in TABLE["player"]]
    catalogue = Catalogue(
        family=(Family("batter", "batter"),), kind=tuple(DamageKind(p, p, "batter") for p in players)
    )
    outcomes = [
        (player, "fixed" if at_bat < hits else "not-fixed")
        for player, hits in zip(players, TABLE["hits"], strict=True)
        for at_bat in range(AT_BATS)
    ]
    rows = pd.DataFrame(outcomes, columns=["finding", "outcome"])
    rows = rows.assign(job=[f"job-{n}" for n in range(len(rows))], date=pd.Timestamp("1970-06-01"))
    priors = PriorSet(
        success=SuccessPriors(
            default=Belief(0.25, 60.0), scales=SuccessScales(kind_spread=0.6, reason="to be learned")
        )
    )
    graph = MODEL.build(MODEL.design(History(rows, date(1970, 12, 31)), catalogue, priors), priors)
    fit = fit_model(graph, MODEL.stored, seed=3, settings=SamplerSettings(cores=2))
    assert not fit.failures, fit.failures
    pooled = fresh_chances(fit.draws, severity=2).mean(axis=0)  # (player,), in the catalogue's order
    ratio = squared_error(RAW) / squared_error(pooled)
    # "About 3.5": a full posterior shrinks a little more or less than the plug-in estimate.
    assert 3.0 < ratio < 4.5
    # A rate is pulled most of the way to the middle, as theirs is (by 1 - .212).
    slope = np.polyfit(RAW, pooled, 1)[0]
    assert 0.1 < slope < 0.35
