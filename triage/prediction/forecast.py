"""Everything the models say about one unit, laid out as the policy reads it.

NumPy only: an assessment never waits for PyMC. The same input gives the same
output; each quantity has its own stream of uniform numbers, so that adding a
finding to a unit leaves the luck of the others as it was.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from zlib import crc32

import numpy as np
import xarray as xr

from triage.domain.catalogue import Catalogue, Repair
from triage.domain.settings import Settings
from triage.domain.units import Unit
from triage.errors import PosteriorError
from triage.policy.forecast import RepairForecast, UnitForecast
from triage.posterior.store import Posterior
from triage.prediction.bench_minutes import attempt_minutes
from triage.prediction.comeback import expected_comebacks
from triage.prediction.hidden_fault import hidden_chance
from triage.prediction.parts_cost import sample_parts_ratio
from triage.prediction.sale_price import GRADES, sample_sale_ratio
from triage.prediction.success import Scenarios, scenarios, success_logits
from triage.priors.prior_set import PriorSet

MODELS = ("success", "hidden_fault", "bench_minutes", "parts_cost", "comeback", "sale_price")
# A hidden fault and a symptom's cause have not been seen, so nobody has judged them.
UNSEEN_SEVERITY = 2


def forecast_unit(
    unit: Unit,
    catalogue: Catalogue,
    posterior: Posterior,
    priors: PriorSet,
    settings: Settings,
    seed: int = 0,
    draws: int | None = None,
    nodes: int = 9,
    paths: int = 4000,
) -> UnitForecast:
    """Forecast one unit.

    Parameters
    ----------
    draws : how many posterior draws to use, evenly spaced; all when None.
    nodes : quadrature nodes of the job effect; a scenario is a draw and a node.
    paths : simulated jobs, for the spread of the margin.

    Raises
    ------
    PosteriorError : a model has no stored draws.
    StalePosteriorError : the draws do not know a kind of the unit.
    """
    held = _same_draws(posterior, draws)
    spread = scenarios(held["success"], nodes)
    causes = {symptom: priors.repairs.causes(symptom, catalogue) for symptom in unit.symptoms}
    hidden = _hidden(unit, catalogue, held["hidden_fault"], priors)
    bench = _Bench(unit, catalogue, posterior, priors, settings, held, spread, seed, paths)
    unseen = (*hidden, *(kind for shares in causes.values() for kind in shares))
    severity = dict.fromkeys(unseen, UNSEEN_SEVERITY)
    severity |= {finding.kind: finding.severity for finding in unit.findings}
    return UnitForecast(
        weights=spread.weights,
        draw=spread.draw,
        path_scenario=bench.path_scenario,
        repairs=bench.repairs(severity),
        hidden={kind: chance[spread.draw] for kind, chance in hidden.items()},
        causes=causes,
        sale_ratio=bench.sale_ratios(),
        source=posterior.source,
    )


def _same_draws(posterior: Posterior, most: int | None) -> dict[str, xr.Dataset]:
    """Every model's draws, thinned evenly to one number of them."""
    missing = [name for name in MODELS if name not in posterior.draws]
    if missing:
        raise PosteriorError(f"the stored posterior holds no draws of {', '.join(missing)}; fit again")
    held = {name: posterior.draws[name] for name in MODELS}
    count = min(found.sizes["draw"] for found in held.values())
    count = count if most is None else max(1, min(count, most))
    return {
        name: found.isel(draw=np.linspace(0, found.sizes["draw"] - 1, count).round().astype(int))
        for name, found in held.items()
    }


def _hidden(unit: Unit, catalogue: Catalogue, draws: xr.Dataset, priors: PriorSet) -> dict[str, np.ndarray]:
    """Chance, shape (draw,), of every hidden fault that something on the unit makes likelier."""
    on_unit = {finding.kind for finding in unit.findings}
    raised = {kind for finding in unit.findings for kind in catalogue.kinds[finding.kind].raises}
    chances = {}
    for kind in catalogue.hidden_kinds:
        suspect = kind.battery == "hazard" and unit.battery == "suspect"
        if kind.slug not in on_unit and (kind.slug in raised or suspect):
            chances[kind.slug] = hidden_chance(
                draws, kind.slug, unit.findings, catalogue, priors.hidden_fault, suspect
            )
    return chances


@dataclass(frozen=True)
class _Bench:
    """What every repair's forecast on one unit is made from."""

    unit: Unit
    catalogue: Catalogue
    posterior: Posterior
    priors: PriorSet
    settings: Settings
    held: dict[str, xr.Dataset]
    spread: Scenarios
    seed: int
    paths: int

    @cached_property
    def path_scenario(self) -> np.ndarray:
        """Scenario of each path, in proportion to the weights: one path an equal slice of them."""
        edges = np.cumsum(self.spread.weights)
        at = (np.arange(self.paths) + self._uniform_one("path")) / self.paths * edges[-1]
        return np.minimum(np.searchsorted(edges, at), len(edges) - 1)

    @cached_property
    def path_draw(self) -> np.ndarray:
        """Posterior draw of each path."""
        return self.spread.draw[self.path_scenario]

    def uniform(self, name: str) -> np.ndarray:
        """One uniform number a path, in random order, one in each of as many equal slices."""
        rng = self._stream(name)
        return (rng.permutation(self.paths) + rng.random(self.paths)) / self.paths

    def _uniform_one(self, name: str) -> float:
        return float(self._stream(name).random())

    def _stream(self, name: str) -> np.random.Generator:
        return np.random.default_rng([self.seed, crc32(name.encode())])

    def sale_ratios(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Sale price over working price by grade, each of shape (path,)."""
        luck, draws = self.uniform("sale"), self.held["sale_price"]
        first, second, third = (
            sample_sale_ratio(draws, self.unit.tier, grade, self.path_draw, luck) for grade in GRADES
        )
        return first, second, third

    def repairs(self, severity: dict[str, int]) -> dict[tuple[str, str], RepairForecast]:
        """Forecast every repair that closes a kind that is, or may be, on the unit.

        Parameters
        ----------
        severity : by kind.
        """
        chosen = [repair for repair in self.catalogue.repair if set(repair.closes) & set(severity)]
        if not chosen:
            return {}
        leads = {repair.slug: self._lead(repair, severity) for repair in chosen}
        logits = success_logits(  # (draw, repair)
            self.held["success"],
            self.catalogue,
            kind=list(leads.values()),
            severity=[severity[lead] for lead in leads.values()],
            tier=[self.unit.tier] * len(chosen),
            technician=[self.unit.technician] * len(chosen),
            cause=[self.unit.cause] * len(chosen),
            method=list(leads),
        )
        by_slug = dict(zip(leads, logits.T, strict=True))
        told: dict[tuple[str, str], RepairForecast] = {}
        for repair in chosen:
            closed = [kind for kind in repair.closes if kind in severity]
            others = [other for other in chosen if other != repair and set(closed) & set(other.closes)]
            lead, own = leads[repair.slug], by_slug[repair.slug]
            after = {other.slug: self.spread.chance_after(by_slug[other.slug], own) for other in others}
            forecast = self._forecast(repair, lead, severity[lead], own, after)
            told |= {(kind, repair.slug): forecast for kind in closed}
        return told

    def _lead(self, repair: Repair, severity: dict[str, int]) -> str:
        """The first kind the repair closes among those seen, else among those that may be there."""
        seen = {finding.kind for finding in self.unit.findings if finding.seen}
        closed = [kind for kind in repair.closes if kind in severity]
        return next((kind for kind in closed if kind in seen), closed[0])

    def _forecast(
        self, repair: Repair, lead: str, severity: int, logits: np.ndarray, after: dict[str, np.ndarray]
    ) -> RepairForecast:
        held, draw, catalogue = self.held, self.path_draw, self.catalogue
        stuck, within = self.uniform(f"{repair.slug} stuck"), self.uniform(f"{repair.slug} minutes")
        believed = self.priors.bench_minutes
        fixed, failed = (
            attempt_minutes(
                held["bench_minutes"], lead, severity, outcome, catalogue, believed, repair.slug
            ).sample(draw, stuck, within)
            for outcome in (True, False)
        )
        families = [catalogue.kinds[kind].family for kind in self._certainly_closed(repair, lead)]
        comebacks = expected_comebacks(held["comeback"], families, self.settings.warranty_days)
        parts_luck = self.uniform(f"{repair.slug} parts")
        attempts, successes = np.sum(self.posterior.manifest.attempts.get(lead, ((0, 0),)), axis=0)
        return RepairForecast(
            repair=repair.slug,
            lead=lead,
            severity=severity,
            chance=self.spread.chance(logits),
            minutes_fixed=fixed,
            minutes_failed=failed,
            parts_ratio=sample_parts_ratio(held["parts_cost"], families[0], draw, parts_luck),
            comebacks=comebacks[draw],
            chance_after=after,
            attempts=int(attempts),
            fixed=int(successes),
            prior_only=self._no_record(repair, lead, int(attempts)),
        )

    def _no_record(self, repair: Repair, lead: str, attempts: int) -> bool:
        """Whether nothing but belief stands behind a method's chance."""
        manifest = self.posterior.manifest
        if "success" in manifest.belief_only:
            return True
        if repair.slug == self.catalogue.usual_method(lead):
            return attempts == 0
        return manifest.methods.get(repair.slug, 0) == 0

    def _certainly_closed(self, repair: Repair, lead: str) -> Iterator[str]:
        """The lead, and every other seen finding the repair closes."""
        yield lead
        for finding in self.unit.findings:
            if finding.seen and finding.kind != lead and finding.kind in repair.closes:
                yield finding.kind
