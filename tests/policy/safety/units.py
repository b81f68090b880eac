"""Random units of the whole catalogue, with the forecast and the shop that go with them.

Written with a `pick` function, so that the same code serves Hypothesis, which shrinks
a failure, and a plain generator, which is fast enough for many thousands.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace

import numpy as np
from hypothesis import strategies as st

from tests.gold.paper_shop import paper_shop
from tests.policy.safety.checker import SafetyCheck
from triage.domain.catalogue import Catalogue, load_catalogue
from triage.domain.catalogue_entries import DamageKind, Repair
from triage.domain.safety.rules import load_rules
from triage.domain.units.unit import CheckResult, Finding, Unit
from triage.policy.pricing.valuation import Valuation
from triage.policy.problem.build import plan_inputs
from triage.policy.problem.forecast import RepairForecast, UnitForecast
from triage.policy.problem.normalise import normalise, unexplained_symptoms
from triage.policy.solver.reduce import small_enough
from triage.policy.solver.repair_plan import solve_plan

PATHS = 4
MAX_STATES = 6_000
BATTERY = ("not-seen", "not-seen", "not-seen", "sound", "suspect", "hazard", "absent", "reacting")
CAUSES = ("", "", "dropped", "bent", "wet", "crushed", "worn")


def own_catalogue() -> Catalogue:
    """The shipped catalogue with a shop's own kinds and repairs, one act each."""
    shipped = load_catalogue()
    own = (
        ("own-glue-loose", "warmth", "opened"),
        ("own-edge-loose", "pry", "opened"),
        ("own-lid-loose", "press", "opened"),
        ("own-line-open", "bench-supply", "opened"),
        ("own-pad-lifted", "heat", "opened"),
        ("own-setting-lost", "power", "opened"),
        ("own-gauge-lost", "charge", "closed"),
        ("own-seal-worn", "press", "closed"),
    )
    kinds = tuple(DamageKind(slug, slug.replace("-", " "), "housing", seen_at="closed") for slug, _, _ in own)
    repairs = tuple(
        Repair(f"mend-{slug}", f"Mend {slug}", (slug,), access=access, acts=(act,))
        for slug, act, access in own
    )
    torn = DamageKind("own-cell-torn", "own cell torn", "power-cell", battery="hazard")
    swap = replace(shipped.repairs["replace-cell"], closes=("own-cell-torn",), slug="own-replace-cell")
    return replace(shipped, kind=(*shipped.kind, *kinds, torn), repair=(*shipped.repair, *repairs, swap))


CATALOGUE = own_catalogue()
KINDS = [kind.slug for kind in CATALOGUE.kind if kind.role != "stop"]
SHOP = replace(paper_shop(checks=tuple(CATALOGUE.checks)), catalogue=CATALOGUE)


class Plain:
    """Picks by a plain generator."""

    def __init__(self, seed: int):
        self.rng = random.Random(seed)

    def one(self, words):
        return self.rng.choice(list(words))

    def some(self, words, most):
        words = list(words)
        return self.rng.sample(words, self.rng.randint(0, min(most, len(words))))

    def number(self, low, high):
        return self.rng.uniform(low, high)


class Drawn:
    """Picks by Hypothesis."""

    def __init__(self, draw):
        self.draw = draw

    def one(self, words):
        return self.draw(st.sampled_from(list(words)))

    def some(self, words, most):
        return self.draw(st.lists(st.sampled_from(list(words)), max_size=most, unique=True))

    def number(self, low, high):
        return self.draw(st.floats(low, high))


@dataclass(frozen=True)
class Case:
    unit: Unit
    owned: bool
    price: float
    seed: int


def random_case(pick, most_findings=4) -> Case:
    findings = tuple(
        Finding(kind, chance=pick.one((1.0, 1.0, 0.4, 0.5))) for kind in pick.some(KINDS, most_findings)
    )
    symptoms = tuple(pick.some(CATALOGUE.symptoms, 1)) if pick.one((True, False, False)) else ()
    readings = tuple(
        CheckResult(check, pick.one((True, False)))
        for check in (pick.some(CATALOGUE.checks, 2) if pick.one((True, False, False)) else ())
    )
    unit = Unit(
        "u", "middle", findings, symptoms, readings, cause=pick.one(CAUSES), battery=pick.one(BATTERY),
        working_price=pick.one((60.0, 200.0, 3000.0)), data_wanted=pick.one((True, False)),
    )  # fmt: skip
    return Case(
        unit, pick.one((True, True, False)), pick.one((1.0, 20.0, 200.0)), int(pick.number(0, 10_000))
    )


@st.composite
def cases(draw, most_findings=4):
    return random_case(Drawn(draw), most_findings)


def forecast_for(unit: Unit, seed: int) -> UnitForecast:
    """Made-up chances of everything on a unit, by a separate generator."""
    rng = np.random.default_rng(seed)
    keys = {f.kind for f in unit.findings}
    hidden = {k for f in unit.findings for k in CATALOGUE.kinds[f.kind].raises if k not in keys}
    if unit.battery == "suspect":
        hidden |= {"cell-bent"} - keys
    causes = {}
    for symptom in unexplained_symptoms(unit, CATALOGUE):
        shares = rng.dirichlet(np.ones(len(CATALOGUE.symptoms[symptom].causes) + 1))
        causes[symptom] = dict(zip(CATALOGUE.symptoms[symptom].causes, shares.tolist(), strict=False))
    every = keys | hidden | {kind for found in causes.values() for kind in found}
    repairs = {
        (kind, repair.slug): RepairForecast(
            repair.slug, kind, 2, np.array([rng.choice([0.5, 0.9, 0.97])]), np.full(PATHS, 20.0),
            np.full(PATHS, 20.0), np.ones(PATHS), np.zeros(PATHS),
        )
        for kind in sorted(every)
        for repair in CATALOGUE.repairs_for(kind)
    }  # fmt: skip
    return UnitForecast(
        np.ones(1), np.zeros(1, dtype=int), np.zeros(PATHS, dtype=int), repairs,
        {kind: np.array([rng.choice([0.1, 0.3])]) for kind in sorted(hidden)}, causes,
        (np.ones(PATHS), np.full(PATHS, 0.85), np.full(PATHS, 0.7)), "made up",
    )  # fmt: skip


def planned(case: Case, shop=SHOP, forecast=None, rules=None):
    """Inputs and solved plan of a case, made by another table of rules where one is given."""
    unit = normalise(case.unit, shop.catalogue)
    told = forecast or forecast_for(unit, case.seed)
    books = shop.books_for(unit)
    books = replace(books, rules=rules) if rules else books
    inputs = plan_inputs(unit, told, books, case.owned)
    inputs, space, _ = small_enough(inputs, MAX_STATES)
    valuation = Valuation(inputs, shop.settings, space)
    terms = valuation.purchase_terms(case.price) if case.owned else valuation.walk_in_terms(10 * case.price)
    return unit, inputs, solve_plan(space, terms)


def checked(case: Case, shop=SHOP, forecast=None, rules=None):
    """The independent check of a case against the shipped table, whichever table the plan used."""
    _, inputs, plan = planned(case, shop, forecast, rules)
    return SafetyCheck(case.unit, shop.catalogue, inputs, plan, shop.settings, load_rules(), case.owned)
