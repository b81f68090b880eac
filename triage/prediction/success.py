"""From stored draws of the success model to chances, in NumPy."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, get_args

import numpy as np
import pandas as pd
import xarray as xr
from scipy.special import expit, logit

from triage.arrays import Floats, Ints
from triage.design_matrix import FACTORS, AttemptIndices, AttemptLevels
from triage.domain.catalogue import Catalogue
from triage.domain.periods import quarters_ahead
from triage.errors import PosteriorError
from triage.outcome_models.integrated_likelihood import standard_nodes
from triage.policy.problem.forecast import WhyChance
from triage.posterior.interval import interval
from triage.posterior.store import Posterior
from triage.prediction.levels import drift_ahead, new_level, stored
from triage.priors.fresh_job import inside_logit

SCENARIO_NODES = 7
# What makes up less of a difference than this share is not named; nor are more reasons than so many.
_NAMED, _MOST_NAMED = 0.2, 2


def stored_levels(draws: xr.Dataset, catalogue: Catalogue) -> AttemptLevels:
    """Levels that stored draws have effects for, as the design matrix encodes them."""
    names = ("kind", "family", "severity", *FACTORS, "method", "period")
    coords = {name: tuple(map(str, draws[name].values)) for name in names if name in draws.coords}
    if "kind" not in coords:
        raise PosteriorError("the stored fit lacks kind; run the fit again")
    named = [catalogue.kinds[kind].family for kind in coords["kind"]]
    if "family" not in coords and len(set(named)) == 1:
        coords["family"] = (named[0],)  # a single family has no effect, so its name is not stored
    if "family" not in coords:
        raise PosteriorError("the stored fit lacks family; run the fit again")
    family = np.array([coords["family"].index(slug) for slug in named])
    return AttemptLevels(coords, family, {kind: catalogue.usual_method(kind) for kind in coords["kind"]})


def logits_at(draws: xr.Dataset, rows: AttemptIndices) -> Floats:
    """Logit of the fresh chance, shape (draw, row).

    Parameters
    ----------
    draws : the stored success draws.
    rows : indices as encoded by the levels of these draws.
    """
    severity = stored(draws, "severity_effect", "draw", "kind", "severity")
    logits = stored(draws, "kind_logit", "draw", "kind")[:, rows.kind]
    logits = logits + severity[:, rows.kind, rows.severity]
    for name in (*FACTORS, "method", "period"):
        if f"{name}_effect" in draws:
            effect = stored(draws, f"{name}_effect", "draw", name)  # (draw, level)
            padded = np.column_stack([effect, np.zeros(len(effect))])
            logits = logits + padded[:, getattr(rows, name)]  # index -1 reads the zero
    if rows.again.any():
        logits = logits - stored(draws, "after_failure")[:, None] * rows.again
    return logits


def success_logits(
    draws: xr.Dataset,
    catalogue: Catalogue,
    kind: Sequence[str],
    severity: Sequence[int],
    tier: Sequence[str] | None = None,
    technician: Sequence[str] | None = None,
    cause: Sequence[str] | None = None,
    method: Sequence[str] | None = None,
    again: Sequence[bool] | None = None,
    date: Sequence[pd.Timestamp] | None = None,
) -> Floats:
    """Logit of the fresh chance for rows of labels, shape (draw, row).

    A blank tier, technician or cause means its average, one that the fit has
    never met is drawn; an unknown method means the usual one. `again` marks
    rows that follow another method's failure on the same finding; without it
    all are first tries. With a `date` after the record the shop may have
    drifted since; without one it is as at the record's end.
    """
    levels = stored_levels(draws, catalogue)
    rows = levels.indices(kind, severity, tier, technician, cause, method, again, date)
    logits = logits_at(draws, rows)
    for name, labels in zip(FACTORS, (tier, technician, cause), strict=True):
        for label in sorted(set(labels or ()) - {"", *levels.coords.get(name, ())}):
            here = np.flatnonzero([one == label for one in labels or ()])
            logits[:, here] += new_level(draws, name, label)[:, None]
    if date is not None and "period" in levels.coords:
        logits += drift_ahead(draws, quarters_ahead(date, levels.coords["period"]))
    return logits


class LogitTable:
    """Logits of success of one row of labels at a time, read from plain arrays.

    Parameters
    ----------
    draws : the stored success draws.
    """

    def __init__(self, draws: xr.Dataset, catalogue: Catalogue):
        self._draws, self._levels = draws, stored_levels(draws, catalogue)
        self._kind = np.ascontiguousarray(stored(draws, "kind_logit", "kind", "draw"))
        self._severity = np.ascontiguousarray(stored(draws, "severity_effect", "kind", "severity", "draw"))
        self._effects = {
            name: np.ascontiguousarray(stored(draws, f"{name}_effect", name, "draw"))
            for name in (*FACTORS, "method")
            if f"{name}_effect" in draws
        }

    def logits(self, kind: str, severity: int, tier: str, technician: str, cause: str, method: str) -> Floats:
        """The same as `success_logits` of one row, shape (draw,)."""
        rows = self._levels.indices([kind], [severity], [tier], [technician], [cause], [method])
        logits: Floats = self._kind[rows.kind[0]] + self._severity[rows.kind[0], rows.severity[0]]
        for name, effect in self._effects.items():
            place = getattr(rows, name)[0]
            if place >= 0:
                logits = logits + effect[place]
        for name, label in zip(FACTORS, (tier, technician, cause), strict=True):
            if label and label not in self._levels.coords.get(name, ()):
                logits = logits + new_level(self._draws, name, label)
        return logits

    def why(
        self,
        kind: str,
        severity: dict[int, float],
        tried: Sequence[Sequence[int]],
        met: tuple[str, str, str],
        method: str,
        mean: float,
    ) -> tuple[WhyChance, ...]:
        """What moves a mean chance most from the plain rate of the past attempts at its kind, largest first.

        Parameters
        ----------
        severity : chance of each severity here.
        tried : attempts and how many were fixed, at each severity. met : tier, technician and cause.
        """
        by_grade = np.asarray(tried, dtype=float)
        attempts, fixed = by_grade.sum(axis=0)
        if not attempts:
            return ()
        tier, technician, cause = ([label] for label in met)
        rows = self._levels.indices([kind], [1], tier, technician, cause, [method])
        effect = self._severity[rows.kind[0]].mean(axis=1)
        here = sum(share * effect[grade - 1] for grade, share in severity.items())
        found = {"severity": float(here - np.average(effect, weights=by_grade[:, 0]))}
        for name, level in self._effects.items():
            place = getattr(rows, name)[0]
            found[name] = float(level[place].mean()) if place >= 0 else 0.0
        # Half an attempt each way: a rate of all or none has no logit.
        moved = float(logit(mean) - logit((fixed + 0.5) / (attempts + 1.0)))
        found["related"] = moved - sum(found.values())
        least = _NAMED * abs(moved)
        named = [one for one in get_args(WhyChance) if found.get(one, 0.0) * np.sign(moved) > least]
        return tuple(sorted(named, key=lambda one: -abs(found[one]))[:_MOST_NAMED])


def fresh_chances(draws: xr.Dataset, severity: int) -> Floats:
    """Chance of every kind at one severity for a fresh job at average effects, shape (draw, kind)."""
    logits = stored(draws, "kind_logit", "draw", "kind")
    effect = stored(draws, "severity_effect", "draw", "kind", "severity")
    return expit(logits + effect[:, :, severity - 1])


def chances_table(posterior: Posterior, catalogue: Catalogue) -> pd.DataFrame:
    """Chance of every kind that can be repaired, at every severity, for a fresh job.

    Average effects, usual method, job effect integrated out; `low` and `high`
    are the 90 % equal-tailed interval.

    Returns
    -------
    DataFrame : columns `finding`, `severity`, `mean`, `sd`, `low`, `high`,
        `attempts`, `fixed`.
    """
    draws = posterior.draws["success"]
    kinds = list(stored_levels(draws, catalogue).coords["kind"])
    rows: list[dict[str, Any]] = []
    for severity in (1, 2, 3):
        chances = fresh_chances(draws, severity)  # (draw, kind)
        low, high = interval(chances)
        for place, kind in enumerate(kinds):
            if catalogue.kinds[kind].role != "repair":
                continue
            attempted, fixed = posterior.manifest.attempts.get(kind, ((0, 0),) * 3)[severity - 1]
            rows.append(
                {
                    "finding": kind,
                    "severity": severity,
                    "mean": float(chances[:, place].mean()),
                    "sd": float(chances[:, place].std(ddof=1)),
                    "low": float(low[place]),
                    "high": float(high[place]),
                    "attempts": attempted,
                    "fixed": fixed,
                }
            )
    order = {kind: place for place, kind in enumerate(kinds)}
    rows.sort(key=lambda row: (order[row["finding"]], row["severity"]))
    return pd.DataFrame(rows)


@dataclass(frozen=True)
class Scenarios:
    """Posterior draws times quadrature nodes of the job effect.

    weights : ndarray, shape (scenario,), sums to 1.
    draw : ndarray of int, shape (scenario,).
    job_effect : ndarray, shape (scenario,), added to every logit of the job.
    job_sd : ndarray, shape (draw,).
    rule : nodes of a standard normal and their weights, shape (node,) each.
    """

    weights: Floats
    draw: Ints
    job_effect: Floats
    job_sd: Floats
    rule: tuple[Floats, Floats]

    def chance(self, logits: Floats) -> Floats:
        """Chance of one repair in every scenario, from its logits of shape (draw,).

        A draw's average over its nodes is the fresh chance `expit(logits)`.
        From the logits of a second try it is the chance given that the first failed.
        """
        return expit(inside_logit(logits, self.job_sd, self.rule)[self.draw] + self.job_effect)

    def by_draw(self, values: Floats) -> Floats:
        """Average over the job effect given each draw, shape (draw,), of values of shape (scenario,)."""
        return values.reshape(self.job_sd.size, -1) @ self.rule[1]


def scenarios(draws: xr.Dataset, nodes: int = SCENARIO_NODES) -> Scenarios:
    """Expand success draws into scenarios, draw by draw."""
    z, log_weight = standard_nodes(nodes)
    weight, job_sd = np.exp(log_weight), stored(draws, "job_sd")
    return Scenarios(
        weights=np.tile(weight, job_sd.size) / job_sd.size,
        draw=np.repeat(np.arange(job_sd.size), z.size),
        job_effect=(job_sd[:, None] * z).ravel(),
        job_sd=job_sd,
        rule=(z, weight),
    )
