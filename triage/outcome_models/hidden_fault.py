"""Hidden faults: how likely each is, given the findings that raise it.

`log odds = base of the hidden kind + sum of weight x severity factor` over the
intake findings that the catalogue says make it likelier. A fault is shown by a
look that goes as deep as it lies, with the chance `look` of its prior file, so

    found ~ Bernoulli(look x chance that it is there);

a job that was not opened that deep says nothing about it: unobserved, not
absent. A look that was made because a fault was suspected finds more, and has a
log-odds shift of its own where the record tells the reason.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import logit

from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.domain.look_depths import job_depths
from triage.outcome_models.base import OutcomeModel
from triage.outcome_models.data_inputs import of_levels, of_rows
from triage.outcome_models.effects import estimated_spread
from triage.priors.hidden_fault import pair_label, raising_pairs
from triage.priors.prior_set import PriorSet

NONE_FOUND = "none"
SUSPECTED = "suspected"


@dataclass(frozen=True)
class HiddenFaultDesign:
    """Jobs opened deep enough, counted by hidden kind and by what was seen at intake.

    coords : `hidden_kind`, `pair` (a finding's kind and a hidden kind it raises), and
        `look_reason`, which has a level only where a look was made on suspicion.
    base, base_sd : ndarray, shape (hidden_kind,), log odds believed.
    added : ndarray, shape (pair,), log odds believed to be added.
    hidden : ndarray of int, shape (pattern,), hidden kind of each pattern.
    factor : ndarray, shape (pattern, pair), severity factor of each raising
        finding that is there, else 0.
    shows : ndarray, shape (pattern,), chance that a look shows the fault.
    suspected : ndarray of int, shape (pattern,), 1 where the look was made on suspicion.
    opened, found : ndarray of int, shape (pattern,), jobs opened deep enough, and with the fault.
    """

    coords: dict[str, list[str]]
    base: np.ndarray
    base_sd: np.ndarray
    added: np.ndarray
    hidden: np.ndarray
    factor: np.ndarray
    shows: np.ndarray
    suspected: np.ndarray
    opened: np.ndarray
    found: np.ndarray


def prior_design(catalogue: Catalogue, priors: PriorSet) -> HiddenFaultDesign:
    """Return the design without jobs."""
    return _design(Counter(), Counter(), catalogue, priors)


def design(history: History, catalogue: Catalogue, priors: PriorSet) -> HiddenFaultDesign | None:
    """Count jobs opened deep enough by pattern, or None when there is none."""
    opened: Counter = Counter()
    found: Counter = Counter()
    for look in looks(history, catalogue):
        pattern = look.hidden, look.raised, look.suspected
        opened[pattern] += 1
        found[pattern] += look.present
    return _design(opened, found, catalogue, priors) if opened else None


@dataclass(frozen=True)
class Look:
    """One job and one hidden fault that its look could have shown.

    hidden : place among the catalogue's hidden kinds.
    raised : by pair, the severity at intake of the finding that raises it, or 0.
    suspected : whether the look was made because a fault was suspected.
    """

    job: str
    hidden: int
    raised: tuple[int, ...]
    suspected: bool
    present: bool


def looks(history: History, catalogue: Catalogue) -> list[Look]:
    """What each job showed of each hidden fault not seen at intake that it was opened deep enough for."""
    if not history.has("hidden_faults") or not catalogue.hidden_kinds:
        return []
    # A forecast is made from the severities of the intake, so their part is learned from those too.
    rows, jobs = history.as_seen_at_intake().rows, history.jobs
    at_intake = rows[rows["known_at"].isin(["intake", ""])] if "known_at" in rows else rows
    severity = at_intake["severity"] if "severity" in at_intake else np.full(len(at_intake), 2)
    seen: dict[Hashable, dict[str, int]] = {}
    for job, kind, grade in zip(at_intake["job"], at_intake["finding"], severity, strict=True):
        findings = seen.setdefault(job, {})
        findings[kind] = max(int(grade), findings.get(kind, 0))
    later: dict[Hashable, set[str]] = {}
    for job, kind in rows.loc[~rows.index.isin(at_intake.index), ["job", "finding"]].itertuples(index=False):
        later.setdefault(job, set()).add(kind)
    depths = job_depths(history, catalogue)
    suspected = set(jobs.index[jobs["look_reason"] == SUSPECTED]) if "look_reason" in jobs else set()
    pairs = raising_pairs(catalogue)
    made = []
    for job, text in jobs["hidden_faults"].items():
        if not isinstance(text, str) or not text:
            continue
        present = {slug.strip() for slug in text.split(";")} - {NONE_FOUND} | later.get(job, set())
        findings = seen.get(job, {})
        for position, kind in enumerate(catalogue.hidden_kinds):
            there = kind.slug in present
            if kind.slug in findings or depths[job].reached(there) < kind.depth:
                continue  # seen at intake, so not hidden on this unit; or out of sight
            raised = tuple(findings.get(a, 0) if b == kind.slug else 0 for a, b in pairs)
            made.append(Look(str(job), position, raised, job in suspected, there))
    return made


def _design(opened: Counter, found: Counter, catalogue: Catalogue, priors: PriorSet) -> HiddenFaultDesign:
    believed = priors.hidden_fault
    kinds = [kind.slug for kind in catalogue.hidden_kinds]
    pairs = raising_pairs(catalogue)
    chance, spread = np.array([believed.base(kind) for kind in kinds]).reshape(-1, 2).T
    patterns = sorted(opened)
    grades = np.array([raised for _, raised, _ in patterns], dtype=int).reshape(len(patterns), len(pairs))
    suspected = np.array([reason for _, _, reason in patterns], dtype=int)
    return HiddenFaultDesign(
        coords={
            "hidden_kind": kinds,
            "pair": [pair_label(*pair) for pair in pairs],
            "look_reason": [SUSPECTED] if suspected.any() else [],
        },
        base=logit(chance),
        base_sd=spread,
        added=np.array([believed.log_odds_added(*pair) for pair in pairs]),
        hidden=np.array([position for position, _, _ in patterns], dtype=int),
        factor=np.array([0.0, *believed.severity_factor])[grades],
        shows=np.array([believed.look_shows(kinds[position]) for position, _, _ in patterns]),
        suspected=suspected,
        opened=np.array([opened[pattern] for pattern in patterns], dtype=int),
        found=np.array([found[pattern] for pattern in patterns], dtype=int),
    )


def build(design: HiddenFaultDesign, priors: PriorSet) -> Any:
    """Return the PyMC model of a design."""
    import pymc as pm

    believed = priors.hidden_fault
    with pm.Model(coords=design.coords) as model:
        shared = pm.Normal("weight_shared", 0.0, believed.weight.sd)
        scale = estimated_spread("weight_sd", believed.weight_scale)
        if not design.coords["hidden_kind"]:
            return model
        mean, sd = of_levels("base", design.base), of_levels("base_sd", design.base_sd)
        log_odds = pm.Normal("base", mean, sd, dims="hidden_kind")[of_rows("hidden", design.hidden)]
        if design.coords["pair"]:
            unit = pm.Normal("weight_unit", dims="pair")
            weight = pm.Deterministic(
                "weight", of_levels("added", design.added) + shared + scale * unit, dims="pair"
            )
            log_odds = log_odds + pm.math.dot(of_rows("factor", design.factor), weight)  # (pattern,)
        if design.coords["look_reason"]:
            added = believed.suspected
            shift = pm.Normal("suspected", added.mean, added.sd, dims="look_reason")
            log_odds = log_odds + of_rows("suspected", design.suspected) * shift[0]
        if len(design.opened):
            opened, found = of_rows("opened", design.opened), of_rows("found", design.found)
            chance = of_rows("shows", design.shows) * pm.math.sigmoid(log_odds)
            pm.Binomial("found", opened, chance, observed=found)
    return model


MODEL = OutcomeModel(
    name="hidden_fault",
    purpose="how likely a hidden fault is, given what is seen at intake",
    needs="hidden_faults of at least one job opened deep enough",
    design=design,
    prior_design=prior_design,
    build=build,
    stored=("base", "weight", "weight_sd", "suspected"),
    form=2,
)
