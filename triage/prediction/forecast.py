"""Everything the models say about one unit, laid out as the policy reads it.

NumPy only: an assessment never waits for PyMC. The same input gives the same
output; each quantity has its own stream of uniform numbers, so that adding a
finding to a unit leaves the luck of the others as it was.
"""

from __future__ import annotations

from functools import cached_property, lru_cache
from zlib import crc32

import numpy as np
import xarray as xr

from triage.arrays import Floats, Ints
from triage.domain.catalogue import Catalogue
from triage.domain.shop.settings import Settings
from triage.domain.units.unit import Finding, Unit
from triage.errors import PosteriorError
from triage.policy.problem.forecast import RepairForecast, UnitForecast
from triage.policy.problem.shared import SharedCosts, SharedSale
from triage.posterior.store import Posterior
from triage.prediction.bench_minutes import attempt_minutes
from triage.prediction.comeback import expected_comebacks
from triage.prediction.hidden_fault import hidden_chance
from triage.prediction.intake_grade import ByGrade, Shares, averaged, fails, minutes_drawn, on_the_bench
from triage.prediction.leads import certainly_closed, lead_of
from triage.prediction.levels import stored
from triage.prediction.parts_cost import mean_parts_ratio, sample_parts_ratio
from triage.prediction.sale_price import GRADES, mean_sale_ratio, sample_sale_ratio
from triage.prediction.success import LogitTable, scenarios
from triage.priors.prior_set import PriorSet

MODELS = ("success", "hidden_fault", "bench_minutes", "parts_cost", "comeback", "sale_price")
# A hidden fault and a symptom's cause have not been seen, so nobody has judged them.
UNSEEN_SEVERITY = 2
# Repairs, and hidden chances, that a forecaster keeps at hand: some 100 KB each.
_KEPT = 512


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
    """Forecast one unit; the parameters are those of `Forecaster`.

    Raises
    ------
    PosteriorError : a model has no stored draws.
    StalePosteriorError : the draws do not know a kind of the unit.
    """
    return Forecaster(catalogue, posterior, priors, settings, seed, draws, nodes, paths).forecast(unit)


class Forecaster:
    """Forecasts units one after another; what two of them share is worked out once.

    Parameters
    ----------
    draws : how many posterior draws to use, evenly spaced; all when None.
    nodes : quadrature nodes of the job effect; a scenario is a draw and a node.
    paths : simulated jobs, for the spread of the margin.

    Raises
    ------
    PosteriorError : a model has no stored draws.
    """

    def __init__(
        self,
        catalogue: Catalogue,
        posterior: Posterior,
        priors: PriorSet,
        settings: Settings,
        seed: int = 0,
        draws: int | None = None,
        nodes: int = 9,
        paths: int = 4000,
    ):
        self.catalogue, self.posterior, self.priors, self.settings = catalogue, posterior, priors, settings
        self.seed, self.paths, self.nodes = seed, paths, nodes
        self.held = _same_draws(posterior, draws)
        self.spread = scenarios(self.held["success"], nodes)
        self._logit_table = LogitTable(self.held["success"], catalogue)
        # Kept on the object, so that they go when it goes.
        self._on_the_bench = on_the_bench(priors.intake_grade.shares(posterior.manifest.grades))
        self._logits = lru_cache(8 * _KEPT)(self._logit_table.logits)
        self._repair = lru_cache(_KEPT)(self._fresh_repair)
        self._hidden_chance = lru_cache(_KEPT)(self._fresh_hidden_chance)
        self._minutes = lru_cache(_KEPT)(self._fresh_minutes)
        self._parts_ratio = lru_cache(_KEPT)(self._fresh_parts_ratio)
        self._comebacks = lru_cache(_KEPT)(self._fresh_comebacks)
        self._sale_ratios = lru_cache(_KEPT)(self._fresh_sale_ratios)
        self._shared_sale = lru_cache(_KEPT)(self._fresh_shared_sale)

    def forecast(self, unit: Unit) -> UnitForecast:
        """Forecast one unit.

        Raises
        ------
        StalePosteriorError : the draws do not know a kind of the unit.
        """
        causes = {symptom: self.priors.repairs.causes(symptom, self.catalogue) for symptom in unit.symptoms}
        hidden = self._hidden(unit)
        unseen = (*hidden, *(kind for shares in causes.values() for kind in shares))
        severity = dict.fromkeys(unseen, UNSEEN_SEVERITY)
        severity |= {finding.kind: finding.severity for finding in unit.findings}
        grades = {kind: Shares({grade: 1.0}) for kind, grade in severity.items()}
        guessed = (finding for finding in unit.findings if finding.known_at == "intake")
        grades |= {finding.kind: self._on_the_bench[finding.severity] for finding in guessed}
        return UnitForecast(
            weights=self.spread.weights,
            draw=self.spread.draw,
            path_scenario=self.path_scenario,
            repairs=self._repairs(unit, severity, grades),
            hidden=hidden,
            causes=causes,
            sale_ratio=self._sale_ratios(unit.tier),
            source=self.posterior.source,
            nodes=self.nodes,
            shared_sale=self._shared_sale(unit.tier),
        )

    @cached_property
    def path_scenario(self) -> Ints:
        """Scenario of each path, in proportion to the weights: one path an equal slice of them."""
        edges = np.cumsum(self.spread.weights)
        at = (np.arange(self.paths) + float(self._stream("path").random())) / self.paths * edges[-1]
        place: Ints = np.minimum(np.searchsorted(edges, at), len(edges) - 1)
        return place

    @cached_property
    def path_draw(self) -> Ints:
        """Posterior draw of each path."""
        return self.spread.draw[self.path_scenario]

    def uniform(self, name: str) -> Floats:
        """One uniform number a path, in random order, one in each of as many equal slices."""
        rng = self._stream(name)
        return (rng.permutation(self.paths) + rng.random(self.paths)) / self.paths

    def _stream(self, name: str) -> np.random.Generator:
        return np.random.default_rng([self.seed, crc32(name.encode())])

    def _hidden(self, unit: Unit) -> dict[str, Floats]:
        """Chance, shape (scenario,), of every hidden fault that something on the unit makes likelier."""
        kinds = self.catalogue.kinds
        on_unit = {finding.kind for finding in unit.findings}
        chances = {}
        for kind in self.catalogue.hidden_kinds:
            suspect = kind.battery == "hazard" and unit.battery == "suspect"
            raising = tuple(f for f in unit.findings if kind.slug in kinds[f.kind].raises)
            if kind.slug not in on_unit and (raising or suspect):
                told = tuple((f.kind, f.severity, f.chance) for f in raising)
                chances[kind.slug] = self._hidden_chance(kind.slug, told, suspect)
        return chances

    def _fresh_hidden_chance(
        self, hidden: str, raising: tuple[tuple[str, int, float], ...], suspect: bool
    ) -> Floats:
        findings = [Finding(kind, severity, chance=chance) for kind, severity, chance in raising]
        chance = hidden_chance(
            self.held["hidden_fault"], hidden, findings, self.catalogue, self.priors.hidden_fault, suspect
        )
        return chance[self.spread.draw]

    def _fresh_sale_ratios(self, tier: str) -> tuple[Floats, Floats, Floats]:
        """Sale price over working price by grade, each of shape (path,)."""
        luck, draws = self.uniform("sale"), self.held["sale_price"]
        first, second, third = (
            sample_sale_ratio(draws, tier, grade, self.path_draw, luck) for grade in GRADES
        )
        return first, second, third

    def _fresh_shared_sale(self, tier: str) -> SharedSale:
        draws = self.held["sale_price"]
        expected = np.stack([mean_sale_ratio(draws, tier, grade) for grade in GRADES])
        return SharedSale.of(expected, stored(draws, "spread"))

    def _repairs(
        self, unit: Unit, severity: dict[str, int], grades: dict[str, Shares]
    ) -> dict[tuple[str, str], RepairForecast]:
        """Forecast every repair that closes a kind that is, or may be, on the unit.

        Parameters
        ----------
        severity, grades : by kind, as judged, and the chance of each on the bench.
        """
        chosen = [repair for repair in self.catalogue.repair if set(repair.closes) & set(severity)]
        seen = {finding.kind for finding in unit.findings if finding.seen}
        leads = {repair.slug: lead_of(repair, severity, seen) for repair in chosen}
        met = (unit.tier, unit.technician, unit.cause)
        told: dict[tuple[str, str], RepairForecast] = {}
        for repair in chosen:
            closed = [kind for kind in repair.closes if kind in severity]
            others = tuple(
                other.slug for other in chosen if other != repair and set(closed) & set(other.closes)
            )
            lead = leads[repair.slug]
            families = tuple(
                self.catalogue.kinds[kind].family for kind in certainly_closed(unit, repair, lead)
            )
            forecast = self._repair(repair.slug, lead, severity[lead], grades[lead], met, others, families)
            told |= {(kind, repair.slug): forecast for kind in closed}
        return told

    def _fresh_repair(
        self,
        slug: str,
        lead: str,
        severity: int,
        grades: Shares,
        met: tuple[str, str, str],
        others: tuple[str, ...],
        families: tuple[str, ...],
    ) -> RepairForecast:
        """One repair: its lead and the lead's severity, and the other methods that may have failed first."""
        first = self._by_grade(lead, grades, met, slug)
        again = self._by_grade(lead, grades, met, slug, stored(self.held["success"], "after_failure"))
        graded = others if len(grades) > 1 else ()
        failed_first = {other: fails(self._by_grade(lead, grades, met, other)) for other in graded}
        (fixed, failed), (when_fixed, when_failed) = self._graded_minutes(slug, lead, grades, first)
        comebacks = self._comebacks(families)
        parts_ratio, parts = self._parts_ratio(slug, families[0])
        tried = self.posterior.manifest.attempts.get(lead, ((0, 0),) * 3)
        attempts, successes = np.sum(tried, axis=0)
        works = averaged(first, grades)
        return RepairForecast(
            repair=slug,
            lead=lead,
            severity=severity,
            chance=works,
            minutes_fixed=fixed,
            minutes_failed=failed,
            parts_ratio=parts_ratio,
            comebacks=comebacks[self.path_draw],
            chance_after={other: averaged(again, grades, failed_first.get(other)) for other in others},
            attempts=int(attempts),
            fixed=int(successes),
            prior_only=self._no_record(slug, lead, int(attempts)),
            why=self._logit_table.why(lead, grades, tried, met, slug, float(self.spread.weights @ works)),
            shared=SharedCosts.of(when_fixed, when_failed, parts, comebacks),
        )

    def _by_grade(
        self, lead: str, grades: Shares, met: tuple[str, str, str], slug: str, less: Floats | float = 0.0
    ) -> ByGrade:
        """Chance of a repair, shape (scenario,), by severity on the bench."""
        return {grade: self.spread.chance(self._logits(lead, grade, *met, slug) - less) for grade in grades}

    def _graded_minutes(
        self, slug: str, lead: str, grades: Shares, chance: ByGrade
    ) -> tuple[list[Floats], list[Floats]]:
        """As `_fresh_minutes`: each path at one severity, drawn given that it works, or does not."""
        held = [self._minutes(slug, lead, grade) for grade in grades]
        if len(held) == 1:
            return held[0]
        sampled, expected = [], []
        for place, given in enumerate((chance, fails(chance))):
            at_path = {grade: happened[self.path_scenario] for grade, happened in given.items()}
            minutes = [found[place] for found, _ in held]
            sampled.append(minutes_drawn(minutes, grades, at_path, self.uniform(f"{slug} severity")))
            by_draw = {grade: self.spread.by_draw(happened) for grade, happened in given.items()}
            means = dict(zip(grades, (when[place] for _, when in held), strict=True))
            expected.append(averaged(means, grades, by_draw))
        return sampled, expected

    def _fresh_minutes(self, slug: str, lead: str, severity: int) -> tuple[list[Floats], list[Floats]]:
        """Bench minutes when it works and when it does not: shape (path,), and expected, shape (draw,)."""
        stuck, within = self.uniform(f"{slug} stuck"), self.uniform(f"{slug} minutes")
        draws, believed = self.held["bench_minutes"], self.priors.bench_minutes
        both = [
            attempt_minutes(draws, lead, severity, outcome, self.catalogue, believed, slug)
            for outcome in (True, False)
        ]
        sampled = [minutes.sample(self.path_draw, stuck, within) for minutes in both]
        return sampled, [minutes.mean() for minutes in both]

    def _fresh_parts_ratio(self, slug: str, family: str) -> tuple[Floats, Floats]:
        """Parts cost over the price book's figure: shape (path,), and expected, shape (draw,)."""
        luck, draws = self.uniform(f"{slug} parts"), self.held["parts_cost"]
        return sample_parts_ratio(draws, family, self.path_draw, luck), mean_parts_ratio(draws, family)

    def _fresh_comebacks(self, families: tuple[str, ...]) -> Floats:
        """Expected comebacks given each draw, shape (draw,)."""
        return expected_comebacks(self.held["comeback"], families, self.settings.warranty_days)

    def _no_record(self, slug: str, lead: str, attempts: int) -> bool:
        """Whether nothing but belief stands behind a method's chance."""
        manifest = self.posterior.manifest
        if "success" in manifest.belief_only:
            return True
        if slug == self.catalogue.usual_method(lead):
            return attempts == 0
        return manifest.methods.get(slug, 0) == 0


def _same_draws(posterior: Posterior, most: int | None) -> dict[str, xr.Dataset]:
    """Every model's draws, thinned evenly to one number of them."""
    missing = [name for name in MODELS if name not in posterior.draws]
    if missing:
        raise PosteriorError(f"the stored fit lacks {', '.join(missing)}; run the fit again")
    held = {name: posterior.draws[name] for name in MODELS}
    count = min(found.sizes["draw"] for found in held.values())
    count = count if most is None else max(1, min(count, most))
    return {
        name: found.isel(draw=np.linspace(0, found.sizes["draw"] - 1, count).round().astype(int))
        for name, found in held.items()
    }
