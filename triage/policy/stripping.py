"""What a unit is worth as parts, without any repair."""

from __future__ import annotations

from triage.domain.settings import GoRule, Settings
from triage.policy.plan_inputs import PlanInputs
from triage.policy.terms import PurchaseTerms
from triage.policy.valuation import highest


def strip_margin(inputs: PlanInputs, settings: Settings, paid: float) -> float:
    """Expected margin of buying a unit and stripping it at once, money."""
    terms = PurchaseTerms(inputs.sale, inputs.parts_value, paid, settings.fees, settings.tax)
    minutes = inputs.problem.stop_minutes[0] + inputs.entry_minutes
    return float(terms.stop(1.0, 0.0)) - terms.upfront - minutes * inputs.problem.rate


def highest_parts_bid(inputs: PlanInputs, settings: Settings, rule: GoRule) -> float | None:
    """Most to pay for a unit to be stripped, money: its parts have no luck, so only margins count."""
    hours = max((inputs.problem.stop_minutes[0] + inputs.entry_minutes) / 60.0, 1e-9)
    wanted = max(rule.margin, rule.margin_per_hour * hours, 0.0)
    return highest(lambda paid: strip_margin(inputs, settings, paid) >= wanted, inputs.parts_value)
