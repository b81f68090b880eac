"""Beliefs for kinds with little of a record, from their families."""

from __future__ import annotations

import json

import numpy as np
import pytest
from scipy.special import expit

from triage.domain.catalogue import load_catalogue
from triage.elicitation.proposal import Proposal, propose, read_proposal
from triage.errors import BeliefError
from triage.posterior.store import load_posterior
from triage.prediction.success import fresh_chances
from triage.priors.fresh_job import fresh_chance
from triage.priors.kind_beliefs import belief_logit
from triage.priors.prior_set import load_priors
from triage.shipped import shipped

CATALOGUE = load_catalogue()
PRIORS = load_priors(shipped("models/priors/demo"), CATALOGUE).success


@pytest.fixture(scope="module")
def demo():
    held = load_posterior(shipped("models/posteriors/demo"), CATALOGUE, models=["success"])
    return held.draws["success"].isel(draw=slice(None, None, 8)), held.manifest.attempts


def test_a_kind_without_attempts_has_the_mean_and_the_spread_of_its_family(demo):
    draws = demo[0].isel(draw=[0, 1]).copy(deep=True)
    peers = ["port-dirty", "port-pins-damaged", "port-data-line-open"]
    # The logits of fresh chances are -1, 0 and 1 in every draw.
    for peer, logit in zip(peers, (-1, 0, 1), strict=True):
        draws["kind_logit"].loc[{"kind": peer}] = logit
    attempts = {peer: ((0, 0), (50, 25), (0, 0)) for peer in peers}
    (found,) = propose(draws, attempts, CATALOGUE, PRIORS)
    assert found.kind == "port-ground-bracket-lost" and found.peers == 3 and found.attempts == 0
    assert (found.chance, found.jobs) == (found.family_chance, found.family_jobs)
    # Their variance is 1; a fourth one's distance from the mean of three has 1 + 1/3.
    sd = (4 / 3) ** 0.5
    assert found.chance == pytest.approx(float(fresh_chance(0.0, sd)), abs=6e-4)
    assert belief_logit(found.chance, found.jobs)[1] == pytest.approx(sd, rel=0.02)


def test_kinds_hidden_from_their_families_lie_where_those_say(demo):
    draws, attempts = demo
    kinds = [k for k in CATALOGUE.kind if k.role == "repair"]
    learned = dict(zip(map(str, draws["kind"].values), fresh_chances(draws, 2).mean(axis=0), strict=True))
    repaired = {f.slug: [k.slug for k in kinds if k.family == f.slug] for f in CATALOGUE.family}
    inside = []
    for place in range(8):
        hidden = {slugs[place] for slugs in repaired.values() if place < len(slugs)}
        seen = {kind: counts for kind, counts in attempts.items() if kind not in hidden}
        for item in propose(draws, seen, CATALOGUE, PRIORS):
            if item.kind in hidden:
                mean, sd = belief_logit(item.chance, item.jobs)
                low, high = expit(mean + sd * np.array([-1.645, 1.645]))
                inside.append(low <= learned[item.kind] <= high)
    # Of 55 kinds 50 lie inside. Of a true 90 % interval fewer than 43 would once in 400.
    assert len(inside) >= 50 and np.mean(inside) >= 43 / 55


def test_own_attempts_draw_the_proposal_towards_them(demo):
    draws, attempts = demo
    found = {item.kind: item for item in propose(draws, attempts, CATALOGUE, PRIORS)}
    item = found["storage-or-processor-dead"]
    assert item.fixed / item.attempts < item.chance < item.family_chance
    assert item.jobs > item.family_jobs
    assert all(sum(n for n, _ in attempts[kind]) < 20 for kind in found)


def test_a_proposal_comes_back_from_its_file_and_a_broken_one_is_refused(demo, tmp_path):
    kinds = propose(*demo, CATALOGUE, PRIORS)
    proposal = Proposal("abc", "2026-08-31", "demo", kinds, ("f0", "f1"))
    path = tmp_path / "proposal.json"
    path.write_text(proposal.text())
    assert read_proposal(path) == proposal
    held = json.loads(proposal.text())
    held["kinds"][0]["chance"] = 1.5
    del held["until"]
    path.write_text(json.dumps(held))
    with pytest.raises(BeliefError) as refused:
        read_proposal(path)
    assert {fault.field for fault in refused.value.faults} == {"kinds 1, chance", "until"}
