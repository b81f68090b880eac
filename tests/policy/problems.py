"""Small random plan problems, for properties and brute force."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from hypothesis import strategies as st

from triage.policy.problem.problem import Item, LatentFault, Option, PlanCheck, PlanProblem, Safety

ACTS = [frozenset(acts) for acts in ((), (), ("heat",), ("pry",), ("power",), ("solvent",), ("press",))]


@dataclass(frozen=True)
class SimpleTerms:
    """Fixed money by grade, and a parts value."""

    sale: tuple[float, float, float] = (200.0, 160.0, 120.0)
    parts_value: float = 40.0

    def finish(self, grade):
        return np.take(self.sale, grade)

    def finish_by_draw(self):
        return np.reshape(self.sale, (3, 1))

    def stop(self, salvage, recovered):
        return self.parts_value * salvage + recovered


@dataclass(frozen=True)
class TermsByDraw:
    """Money by grade and draw, shape (3, draw), and a parts value."""

    sale: np.ndarray
    parts_value: float = 40.0

    def finish(self, grade):
        return self.sale.mean(axis=1)[grade]

    def finish_by_draw(self):
        return self.sale

    def stop(self, salvage, recovered):
        return self.parts_value * salvage + recovered


def chances(scenarios):
    return st.lists(st.floats(0.02, 0.98), min_size=scenarios, max_size=scenarios).map(np.array)


money = st.floats(0.0, 60.0).map(lambda x: round(x, 2))


@st.composite
def plan_problems(
    draw, most_options=3, latent_faults=True, most_checks=0, most_latent_faults=1, least_checks=0
):
    scenarios = draw(st.integers(1, 3))
    weights = np.array(draw(st.lists(st.floats(0.1, 1.0), min_size=scenarios, max_size=scenarios)))
    options_count = draw(st.integers(1, most_options))
    items_count = draw(st.integers(1, options_count))
    secrets = []
    for number in range(draw(st.integers(min(least_checks, 1), most_latent_faults)) if latent_faults else 0):
        branches = draw(st.integers(1, 2))
        parts = np.stack([draw(chances(scenarios)) for _ in range(branches + 1)])
        traced = draw(st.booleans())
        secrets.append(
            LatentFault(
                f"secret-{number}",
                parts / parts.sum(axis=0),
                access=draw(st.integers(0, 1)),
                trace_minutes=draw(money) if traced else None,
                liquid=draw(st.sampled_from([False, False, True])),
            )
        )
    items = []
    for index in range(items_count):
        hides = bool(secrets) and draw(st.booleans())
        latent_fault = draw(st.integers(0, len(secrets) - 1)) if hides else -1
        branch = draw(st.integers(0, secrets[latent_fault].chance.shape[0] - 1)) if hides else -1
        required, hazard = draw(st.booleans()), draw(st.booleans()) and draw(st.booleans())
        spent, liquid = (draw(st.sampled_from([False, False, False, True])) for _ in range(2))
        items.append(
            Item(f"item-{index}", required, hazard, latent_fault, branch, spent=spent, liquid=liquid)
        )
    options = []
    for index in range(options_count):
        # The first options close one item each; the rest are other methods.
        closes = {index} if index < items_count else set()
        closes |= set(draw(st.lists(st.integers(0, items_count - 1), max_size=1)))
        closes = closes or {0}
        options.append(
            Option(
                f"option-{index}",
                tuple(sorted(closes)),
                draw(chances(scenarios)),
                minutes=(draw(money), draw(money)),
                parts=(draw(money), draw(money)),
                extra=(0.0, draw(money)),
                access=draw(st.integers(0, 2)),
                after=tuple(draw(st.lists(st.integers(0, index - 1), max_size=1))) if index else (),
                chance_after={
                    other: draw(chances(scenarios)) for other in range(options_count) if other != index
                },
                salvage=draw(st.floats(0.3, 1.0)),
                recovered=draw(money),
                comeback=draw(money),
                acts=draw(st.sampled_from(ACTS)),
                new_battery=draw(st.sampled_from([False, False, True])),
            )
        )
    checks = []
    for index in range(draw(st.integers(least_checks, most_checks)) if secrets else 0):
        about = [
            (m, draw(st.integers(0, secret.chance.shape[0] - 1)))
            for m, secret in enumerate(secrets)
            if m == 0 or draw(st.booleans())
        ]
        checks.append(
            PlanCheck(
                f"check-{index}",
                tuple(about),
                draw(chances(scenarios)),
                draw(chances(scenarios)),
                minutes=draw(st.floats(0.0, 10.0)),
                access=draw(st.integers(0, 1)),
                excludes=tuple(range(index)) if draw(st.booleans()) else (),
                result=draw(st.sampled_from([None, None, True, False])),
                acts=draw(st.sampled_from([frozenset(), frozenset({"power"}), frozenset({"bench-supply"})])),
            )
        )
    return PlanProblem(
        tuple(items),
        tuple(options),
        tuple(secrets),
        weights / weights.sum(),
        rate=0.5,
        access_minutes=(draw(money), draw(money), 5.0),
        access_extra=(0.0, draw(money), 0.0),
        finish_minutes=(5.0, 15.0),
        stop_minutes=(2.0, 12.0),
        checks=tuple(checks),
        owned=draw(st.booleans()),
        safety=draw(safety_of(items)),
    )


@st.composite
def safety_of(draw, items):
    """Battery and liquid that match the items: a visible bad cell is bad, an unknown one suspect."""
    hazards = [item for item in items if item.hazard]
    if any(item.latent_fault < 0 for item in hazards):
        battery = "bad"
    elif hazards or any(item.spent for item in items):
        battery = draw(st.sampled_from(["suspect", "suspect", "sound"]))
    else:
        battery = draw(st.sampled_from(["no-sign", "no-sign", "sound", "suspect", "absent", "reacting"]))
    liquid = "wet" if any(item.liquid and item.latent_fault < 0 for item in items) else None
    liquid = liquid or draw(st.sampled_from(["none", "none", "may-be-wet"]))
    return Safety(battery, liquid, draw(money), draw(money), draw(money))
