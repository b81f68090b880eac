"""Assumptions proposed for kinds the record says little of, from the rest of their families.

Within a family the kinds with a record of their own have a mean chance and a
spread between them, on the logit. A kind with little of its own is believed to
be another of them, with that mean and spread; the few attempts it has then speak
for themselves. The assumption proposed has the mean chance that comes of it, and is
worth as many jobs as make an assumption of its spread (`kind_beliefs.belief_logit`). Nothing is changed by a
proposal: it is read, and accepted kind by kind.

References
----------
Efron and Morris 1975, JASA 70:311 (the many inform the few); Gelman and Hill
2007, Data Analysis Using Regression, chapter 12 (prediction for a new group).
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np
import xarray as xr
from scipy.special import expit, logit

from triage.domain.catalogue import Catalogue
from triage.domain.counts import in_twenty
from triage.domain.documents import Document, build
from triage.domain.plain_files import plain_file
from triage.elicitation.quantile_matching import LEAST_JOBS, MOST_JOBS
from triage.errors import BeliefError, Fault
from triage.prediction.success import fresh_chances
from triage.priors.success import KindBelief, OpenChance, Positive, SuccessPriors

SCHEMA = 1
# Attempts below which a kind takes from its family, and from which it gives to it.
LITTLE = 20
# Fewer kinds than this cannot tell what they have in common.
LEAST_PEERS = 3
# Kinds' worth with which a family's spread is drawn to that of all families: the spread of
# three or four kinds is itself hardly known, and outliers are what an assumption must not rule out.
SHARED_SPREAD = 4


@dataclass(frozen=True)
class KindProposal:
    """An assumption proposed for one kind.

    before_chance, before_jobs : the assumption it would replace; `stated` is False
        where that is the default of the file.
    attempts, fixed : the kind's own, at any severity.
    family_chance, family_jobs : what its family alone would have it be.
    peers, peer_attempts : kinds of the family behind it, and their attempts.
    """

    kind: str
    family: str
    chance: OpenChance
    jobs: Positive
    before_chance: OpenChance
    before_jobs: Positive
    stated: bool
    attempts: int
    fixed: int
    family_chance: float
    family_jobs: float
    peers: int
    peer_attempts: int

    @property
    def words(self) -> str:
        """Where it comes from, for the file."""
        return self.why(self.family)

    def why(self, family: str) -> str:
        """Say where it comes from; `family` is what to call its family."""
        own = (
            f"{self.fixed} of its own {self.attempts} attempts worked"
            if self.attempts
            else "no attempts of its own"
        )
        return (
            f"{self.peers} kinds of {family} with {self.peer_attempts} attempts suggest "
            f"{in_twenty(self.family_chance)} for another kind, worth {_jobs_words(self.family_jobs)}; {own}"
        )


@dataclass(frozen=True)
class Proposal:
    """What is proposed, and what it rests on.

    prior_hash : digest of the set it would change. until : last day of the
        record (ISO date). source : the draws it was read from, in words.
    jobs : hashes of every job behind those draws.
    """

    prior_hash: str
    until: str
    source: str
    kinds: tuple[KindProposal, ...]
    jobs: tuple[str, ...]
    schema: int = SCHEMA

    def text(self) -> str:
        """Write the proposal's file."""
        return json.dumps(asdict(self), indent=1, ensure_ascii=False) + "\n"

    def belief(self, proposed: KindProposal) -> KindBelief:
        """Return the assumption as a prior file holds it, with its reason."""
        reason = f"tuned on jobs up to {self.until}: {proposed.words}"
        return KindBelief(proposed.kind, proposed.chance, proposed.jobs, reason)


def read_proposal(path: Path) -> Proposal:
    """Read a proposal's file.

    Raises
    ------
    BeliefError : every fault of it.
    """
    try:
        held = json.loads(plain_file(path).read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError) as problem:
        allowed = "a file written by `triage priors propose`"
        raise BeliefError([Fault(str(path), None, "file", str(problem), allowed)]) from problem
    return proposal_from(held, str(path))


def proposal_from(held: dict[str, Any], name: str) -> Proposal:
    """Rebuild a proposal from what `Proposal.text` writes.

    Parameters
    ----------
    name : what faults call it.

    Raises
    ------
    BeliefError : every fault of it.
    """
    found = build(Proposal, Document(name, held), BeliefError)
    if found.schema != SCHEMA:
        raise BeliefError([Fault(name, None, "schema", f"{found.schema} is not known", str(SCHEMA))])
    return found


def propose(
    draws: xr.Dataset,
    attempts: Mapping[str, tuple[tuple[int, int], ...]],
    catalogue: Catalogue,
    priors: SuccessPriors,
    little: int = LITTLE,
) -> tuple[KindProposal, ...]:
    """Propose assumptions from stored draws.

    Parameters
    ----------
    draws : of the success model, fitted to the record.
    attempts : by kind, (attempts, fixed) at severity 1, 2 and 3, as in the manifest.
    little : a kind with fewer attempts takes from its family.
    """
    by_severity = [  # (draw, kind)
        logit(np.clip(fresh_chances(draws, severity), 1e-9, 1 - 1e-9)) for severity in (1, 2, 3)
    ]
    total = {kind: sum(n for n, _ in found) for kind, found in attempts.items()}
    place = {str(kind): column for column, kind in enumerate(draws["kind"].values)}
    repaired: dict[str, list[str]] = {}
    for entry in catalogue.kind:
        if entry.role == "repair":
            repaired.setdefault(entry.family, []).append(entry.slug)
    giving = {f: [kind for kind in kinds if total.get(kind, 0) >= little] for f, kinds in repaired.items()}
    giving = {family: peers for family, peers in giving.items() if len(peers) >= LEAST_PEERS}
    logits = {f: by_severity[1][:, [place[kind] for kind in peers]] for f, peers in giving.items()}
    shared = _shared_variance(list(logits.values()))
    made = []
    for family, peers in giving.items():
        kinds = repaired[family]
        mean, sd = _another_of(logits[family], shared)
        family_chance, family_jobs = _belief_of(mean, sd, np.zeros((3, 2)), np.zeros(3))
        for kind in kinds:
            if kind in peers:
                continue
            own = np.array(attempts.get(kind, ((0, 0),) * 3), float)  # (severity, attempts and fixed)
            effect = [float((at - by_severity[1])[:, place[kind]].mean()) for at in by_severity]
            chance, jobs = _belief_of(mean, sd, own, np.array(effect))
            before = priors.belief(kind)
            made.append(
                KindProposal(
                    kind=kind,
                    family=family,
                    chance=chance,
                    jobs=jobs,
                    before_chance=before.chance,
                    before_jobs=before.jobs,
                    stated=kind in priors.beliefs,
                    attempts=int(own[:, 0].sum()),
                    fixed=int(own[:, 1].sum()),
                    family_chance=family_chance,
                    family_jobs=family_jobs,
                    peers=len(peers),
                    peer_attempts=sum(total[kind] for kind in peers),
                )
            )
    return tuple(made)


def _shared_variance(logits: list[np.ndarray]) -> float:
    """Variance between the kinds of a family, over all families; each array is (draw, peer)."""
    within = sum((one.shape[1] - 1) * one.var(axis=1, ddof=1).mean() for one in logits)
    return float(within / max(sum(one.shape[1] - 1 for one in logits), 1))


def _another_of(logits: np.ndarray, shared: float) -> tuple[float, float]:
    """Mean and sd, on the logit, of the chance of another kind like these.

    Parameters
    ----------
    logits : ndarray, shape (draw, peer).
    shared : variance between the kinds of a family, over all families.
    """
    peers, mean = logits.shape[1], logits.mean(axis=1)  # (draw,)
    own = logits.var(axis=1, ddof=1).mean()
    between = ((peers - 1) * own + SHARED_SPREAD * shared) / (peers - 1 + SHARED_SPREAD)
    # A new kind strays from its peers' mean as they do, and few peers leave that mean unsure.
    return float(mean.mean()), float(np.sqrt(between * (1 + 1 / peers) + mean.var(ddof=1)))


def _belief_of(mean: float, sd: float, own: np.ndarray, effect: np.ndarray) -> tuple[float, float]:
    """Chance and worth, rounded, of a kind of such a family once its own attempts have spoken.

    Parameters
    ----------
    mean, sd : of the family's kinds, on the logit at severity 2.
    own : ndarray, shape (3, 2), attempts and fixed at each severity.
    effect : ndarray, shape (3,), what each severity adds to the logit.
    """
    grid = mean + sd * np.linspace(-6, 6, 1201)
    at = grid[:, None] + effect  # (point, severity)
    tried, fixed = own.T
    log_density = -((grid - mean) ** 2) / (2 * sd**2) + at @ fixed - np.logaddexp(0, at) @ tried
    weight = np.exp(log_density - log_density.max())
    weight /= weight.sum()
    chance = float(weight @ expit(grid))
    variance = float(weight @ (expit(grid) - chance) ** 2)
    jobs = min(max(chance * (1 - chance) / variance - 1, LEAST_JOBS), MOST_JOBS)
    return min(max(round(chance, 3), 0.001), 0.999), round(jobs, 1)


def _jobs_words(jobs: float) -> str:
    return "1 job" if jobs == 1 else f"{jobs:g} jobs"


def refused_kinds(proposal: Proposal, wanted: tuple[str, ...], name: str) -> Iterator[Fault]:
    """Yield a fault for every kind wanted that is not proposed."""
    known = [item.kind for item in proposal.kinds]
    for kind in wanted:
        if kind not in known:
            yield Fault(name, None, "--kind", f"{kind!r} is not proposed", ", ".join(known) or "none is")
