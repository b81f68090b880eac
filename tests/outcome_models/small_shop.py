"""A small catalogue and a record simulated from stated true values, for tests of the models."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd

from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import DamageKind, Family, Repair
from triage.domain.history import History

FAMILIES = ("main-board", "display", "housing", "camera", "audio", "liquid")
RAISER, HIDDEN = "main-board-0", "joint-cracked"

# The true values of the record.
MINUTES = 30.0
SEVERITY_STEP = 0.2
FAILED = 0.3
SPREAD = 0.35
LOG_PARTS_RATIO, PARTS_SPREAD = 0.05, 0.15
HAZARD, LATER = 0.03, -0.8
BASE_LOG_ODDS, WEIGHT = -2.5, 1.5
TIER_EFFECT = {"budget": -0.04, "middle": 0.0, "top": 0.04}
DROP, SALE_SPREAD = 0.2, 0.1


def small_catalogue() -> Catalogue:
    """Six families of four kinds; the last of each is optional; one hidden fault."""
    kinds = [
        DamageKind(
            f"{family}-{i}",
            f"{family} {i}",
            family,
            needed=i != 3,
            raises=(HIDDEN,) if f"{family}-{i}" == RAISER else (),
        )
        for family in FAMILIES
        for i in range(4)
    ]
    repairs = [Repair(f"fix-{kind.slug}", f"fix {kind.name}", (kind.slug,)) for kind in kinds]
    kinds.append(DamageKind(HIDDEN, "cracked joint", "main-board", hidden=True))
    repairs.append(Repair(f"fix-{HIDDEN}", "set the joint again", (HIDDEN,)))
    repairs.append(Repair("swap-housing", "swap the housing", ("housing-0", "housing-1", "housing-3")))
    families = tuple(Family(slug, slug) for slug in FAMILIES)
    return Catalogue(family=families, kind=tuple(kinds), repair=tuple(repairs))


def small_history(jobs: int, seed: int = 1) -> History:
    """Simulate a record with every column that a model reads."""
    rng = np.random.default_rng(seed)
    kinds = [kind for kind in small_catalogue().kind if not kind.hidden]
    rows: list[dict] = []
    for job in range(jobs):
        start = pd.Timestamp("2024-01-01") + pd.Timedelta(days=700 * job // jobs)
        tier = str(rng.choice(list(TIER_EFFECT)))
        picked = [kinds[i] for i in rng.choice(len(kinds), size=rng.integers(1, 5), replace=False)]
        findings = [_finding(kind, rng) for kind in picked]
        log_odds = BASE_LOG_ODDS + sum(
            WEIGHT * (0.6, 1.0, 1.4)[f["severity"] - 1] for f in findings if f["finding"] == RAISER
        )
        opened = rng.random() < 0.9
        hidden = HIDDEN if rng.random() < 1 / (1 + np.exp(-log_odds)) else "none"
        left = start + pd.Timedelta(days=20)
        back = _comeback(sum(f["outcome"] == "fixed" for f in findings), rng)
        open_kinds = [k for k, f in zip(picked, findings, strict=True) if f["outcome"] != "fixed"]
        grade = min(2, len(open_kinds))
        sold = 200 * np.exp(TIER_EFFECT[tier] - DROP * grade + SALE_SPREAD * rng.normal())
        per_job = {
            "job": f"job-{job}", "date": start, "route": "bought", "tier": tier,
            "cause": ("dropped", "wet")[job % 2], "technician": ("north-bench", "window-bench")[job % 3 % 2],
            "hidden_faults": hidden if opened else "",
            "sold_date": left, "closed": left, "warranty_days": 90.0,
            "sold": 40.0 if any(kind.needed for kind in open_kinds) else sold, "working_price": 200.0,
            "comeback_date": left + pd.Timedelta(days=int(back)) if back < 90 else pd.NaT,
            "comeback_kind": "same-fault" if back < 90 else "",
        }  # fmt: skip
        rows += [per_job | finding for finding in findings]
    return History(pd.DataFrame(rows), date(2026, 6, 1))


def _finding(kind: DamageKind, rng: np.random.Generator) -> dict:
    severity = int(rng.integers(1, 4))
    fixed = bool(rng.random() < 0.8)
    location = np.log(MINUTES) + SEVERITY_STEP * (severity - 2) + FAILED * (not fixed)
    book = float(np.round(rng.uniform(10, 80), 2))
    return {
        "finding": kind.slug,
        "severity": severity,
        "outcome": "fixed" if fixed else "not-fixed",
        "known_at": "intake",
        "why_not": "",
        "method": f"fix-{kind.slug}",
        "minutes": float(np.round(np.exp(location + SPREAD * rng.normal()))),
        "book_cost": book,
        "parts_cost": book * float(np.exp(LOG_PARTS_RATIO + PARTS_SPREAD * rng.normal())),
    }


def _comeback(fixed: int, rng: np.random.Generator) -> float:
    """Days until a comeback under a hazard of two pieces, or infinity."""
    if not fixed:
        return np.inf
    target = rng.exponential() / (fixed * HAZARD / 30)  # in days at the first month's hazard
    return target if target <= 30 else 30 + (target - 30) / np.exp(LATER)
