"""Small histories of attempts, and binomial tables as attempt patterns, for tests of success."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd

from triage.design_matrix import AttemptIndices, AttemptPatterns
from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import DamageKind, Family, Repair
from triage.domain.history import History


def shop_catalogue(kinds: int = 6) -> Catalogue:
    """`kinds` kinds in two families; kind 0 has a second method, and one repair closes kinds 1 and 2."""
    kind = tuple(DamageKind(f"kind-{i}", f"kind {i}", f"family-{i % 2}") for i in range(kinds))
    usual = tuple(Repair(f"fix-{i}", f"fix {i}", (f"kind-{i}",)) for i in range(kinds))
    more = (Repair("other-way", "other way", ("kind-0",)), Repair("both", "both", ("kind-2", "kind-1")))
    families = (Family("family-0", "one"), Family("family-1", "two"))
    return Catalogue(family=families, kind=kind, repair=usual + more)


def simulated(jobs: int, seed: int = 3, kinds: int = 6) -> History:
    """Jobs with every column of the success model, second tries among them."""
    rng = np.random.default_rng(seed)
    base = np.linspace(-0.5, 2.5, kinds)
    rows = []
    for job in range(jobs):
        effect, tier = rng.normal(0, 0.8), str(rng.choice(["budget", "middle", "top"]))
        technician, cause = str(rng.choice(["north", "south"])), str(rng.choice(["dropped", "wet"]))
        for kind in rng.choice(kinds, rng.integers(1, 4), replace=False):
            severity = int(rng.integers(1, 4))
            logit = base[kind] + effect - 0.6 * (severity - 2) - 0.5 * (cause == "wet")
            shared = {
                "job": f"job-{job}",
                "date": pd.Timestamp("2025-01-01") + pd.Timedelta(days=job % 300),
                "finding": f"kind-{kind}",
                "tier": tier,
                "technician": technician,
                "cause": cause,
                "severity": severity,
            }
            fixed = rng.random() < 1 / (1 + np.exp(-logit))
            outcome = "fixed" if fixed else "not-fixed"
            rows.append({**shared, "outcome": outcome, "method": f"fix-{kind}", "why_not": ""})
            if kind == 0 and not fixed:
                again = "fixed" if rng.random() < 0.3 else "not-fixed"
                rows.append({**shared, "outcome": again, "method": "other-way", "why_not": ""})
    return History(pd.DataFrame(rows), date(2025, 12, 31))


def binomial_patterns(fixed: np.ndarray, trials: np.ndarray, group: np.ndarray) -> AttemptPatterns:
    """A table of binomial counts as patterns: row `i` is cell `i`, each trial an attempt."""
    order = np.argsort(group, kind="stable")
    cell = np.repeat(order, trials[order])
    outcome = np.concatenate([np.arange(trials[row]) < fixed[row] for row in order])
    size = np.bincount(group, weights=trials).astype(int)
    none = np.full(len(fixed), -1)
    zeros = np.zeros(len(fixed), int)
    return AttemptPatterns(
        cells=AttemptIndices(zeros, zeros + 1, none, none, none, none, zeros, none),
        cell=cell,
        fixed=outcome,
        start=np.concatenate([[0], np.cumsum(size)]),
        count=np.ones(len(size)),
        job_pattern=np.arange(len(size)),
    )
