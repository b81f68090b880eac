"""One seed, one record: the same draws in every process, whatever was compiled there before.

PyTensor regroups sums unless it is told not to, and did so otherwise for code that it read from its folder
than for code compiled afresh: measured on 2026-11-30, all but one of six models differed in the last digits
between the first and the second process, and one fit was refused in one and accepted in the other.
"""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from tests.outcome_models.small_shop import small_catalogue, small_history
from triage.inference.sampling import SamplerSettings, belief_draws, fit_model
from triage.outcome_models.registry import MODELS
from triage.priors.prior_set import PriorSet
from triage.shipped import shipped

CHILD = """
import hashlib, sys
from tests.inference import test_reproducible as here
for draws in here.fits(int(sys.argv[1]), sys.argv[2].split(",")):
    digest = hashlib.sha256()
    for name in sorted(draws.data_vars):
        digest.update(name.encode() + draws[name].to_numpy().tobytes())
    print(digest.hexdigest())
"""
# One with the likelihood's own operation, one whose draws differed, and one drawn from its prior.
FITTED, BELIEVED = ("success", "sale_price"), "parts_cost"


def fits(cores, order):
    """Draws by model in the order of `FITTED`, fitted in another; then those of a prior."""
    catalogue, priors = small_catalogue(), PriorSet()
    settings = SamplerSettings(draws=150, tune=150, chains=2, cores=cores)
    found = {}
    for record in [small_history(90, seed=2)] * (order[0] == "other") + [small_history(60)]:
        for name in order:
            if name != "other":
                model = MODELS[name]
                built = model.build(model.design(record, catalogue, priors), priors)
                found[name] = fit_model(built, model.stored, 5, settings, retry=False).draws
    model = MODELS[BELIEVED]
    believed = belief_draws(
        model.build(model.prior_design(catalogue, priors), priors), model.stored, 5, settings
    )
    return [*(found[name] for name in FITTED), believed]


@pytest.mark.slow  # three processes that compile and sample
def test_a_seed_gives_the_same_draws_cold_and_warm_on_any_cores_and_after_other_fits(tmp_path):
    def draws(cores, hashes, *order):
        there = {**os.environ, "PYTHONHASHSEED": hashes, "PYTHONPATH": str(shipped("app.py").parent)}
        there |= {"PYTENSOR_FLAGS": f"base_compiledir={tmp_path}", "OPENBLAS_NUM_THREADS": str(cores)}
        child = [sys.executable, "-c", CHILD, str(cores), ",".join(order)]
        ran = subprocess.run(child, env=there, capture_output=True, text=True, check=True)
        return ran.stdout.splitlines()[-3:]

    cold = draws(1, "1", "success", "sale_price")
    assert len(set(cold)) == 3 and any(tmp_path.rglob("*.nbc")), "the folder was empty, and is no longer"
    assert draws(2, "2", "sale_price", "success") == cold  # compiled before, in another order
    assert draws(2, "3", "other", "success", "sale_price") == cold  # after fits of another record
