"""One device from description to answer: the same function behind screen and command line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from triage.domain.money import money_text
from triage.domain.units import Unit
from triage.policy.assessment import Assessment, CheckIdea, FindingChance, PartFlip
from triage.policy.buying import before_deciding
from triage.policy.check_ideas import check_ideas
from triage.policy.forecast import RepairForecast, UnitForecast
from triage.policy.intake import cell_hazard, cell_suspect, normalise, wet
from triage.policy.money_lines import money_lines
from triage.policy.ownership import CHECK_FIRST, NO_PRICE, Ruling, rule_on
from triage.policy.plan_inputs import UNEXPLAINED, PlanInputs, plan_inputs
from triage.policy.plan_steps import StepWriter
from triage.policy.repair_plan import STOP
from triage.policy.set_aside import set_aside_alike, small_enough
from triage.policy.stripping import highest_parts_bid
from triage.policy.valuation import Outcome, Valuation, highest, highest_bid, lowest_quote
from triage.policy.verdict import Decision, decide_purchase, decide_walk_in
from triage.prediction.forecast import forecast_unit
from triage.workflows.shop import Shop

# Posterior draws and quadrature nodes that a plan is solved on.
DRAWS, NODES = 1000, 7
# 90 % interval of a chance, over what the shop does not know.
INTERVAL = (0.05, 0.95)
MOST_FLIPS = 3


def assess(unit: Unit, shop: Shop, ask: float | None = None, walk_in: bool = False) -> Assessment:
    """Say what to do with a unit.

    Parameters
    ----------
    ask : asking price, major units; None when it is not known.
    walk_in : the unit is an owner's, to be quoted rather than bought.

    Raises
    ------
    PlanTooLargeError : more unknowns and required repairs than can be planned.
    """
    unit = normalise(unit, shop.catalogue)
    forecast = forecast_unit(
        unit, shop.catalogue, shop.posterior, shop.priors, shop.settings, draws=DRAWS, nodes=NODES
    )
    return answer(unit, forecast, shop, ask, walk_in)


def answer(
    unit: Unit, forecast: UnitForecast, shop: Shop, ask: float | None = None, walk_in: bool = False
) -> Assessment:
    """The same from a forecast in hand; `unit` is normalised."""
    inputs = plan_inputs(unit, forecast, shop.bench(), owned=not walk_in)
    inputs, space, dropped = small_enough(inputs)
    desk = _Desk(unit, forecast, shop, inputs, Valuation(inputs, shop.settings, space), dropped)
    return desk.walk_in() if walk_in else desk.purchase(ask)


@dataclass(frozen=True)
class _Desk:
    """Everything at hand while one unit is being answered."""

    unit: Unit
    forecast: UnitForecast
    shop: Shop
    inputs: PlanInputs
    valuation: Valuation
    set_aside: tuple[str, ...]

    def purchase(self, ask: float | None) -> Assessment:
        settings, rule = self.shop.settings, self.shop.settings.go_rule
        ruling = rule_on(self.unit, self.shop.catalogue, buying=True)
        limit, words = self._bid_limit(ruling)
        price = ask if ask is not None else (limit or 0.0)
        outcome = self.valuation.bought_at(price)
        terms = self.valuation.purchase_terms(price)
        checks = self._checks(outcome, terms, ruling)
        decision = decide_purchase(outcome, price, limit, ruling, rule, checks, settings.currency)
        return self._assessment(
            "buy", ask, decision, outcome, terms, limit, words, checks, ruling,
            lambda valuation: valuation.bought_at(price),
        )  # fmt: skip

    def walk_in(self) -> Assessment:
        settings, rule = self.shop.settings, self.shop.settings.go_rule
        ruling = rule_on(self.unit, self.shop.catalogue, buying=False)
        quote = None if ruling.standing == NO_PRICE else lowest_quote(self.valuation, rule)
        at = quote if quote is not None else self.inputs.working_price
        outcome = self.valuation.quoted_at(at)
        terms = self.valuation.walk_in_terms(at)
        decision = decide_walk_in(outcome, quote, self.inputs.working_price, ruling, settings.currency)
        checks = self._checks(outcome, terms, ruling)
        words = "lowest fixed price, no fix no fee" if quote is not None else "no price covers it"
        return self._assessment(
            "walk-in", quote, decision, outcome, terms, quote, words, checks, ruling,
            lambda valuation: valuation.quoted_at(at),
        )  # fmt: skip

    def _bid_limit(self, ruling: Ruling) -> tuple[float | None, str]:
        rule = self.shop.settings.go_rule
        if ruling.standing == NO_PRICE:
            return None, "no price at all"
        if ruling.standing == CHECK_FIRST:
            return (
                highest_parts_bid(self.inputs, self.shop.settings, rule),
                "lawful parts value, until the numbers are checked",
            )
        limit = highest_bid(self.valuation, rule)
        return limit, "highest price that meets your rule" if limit is not None else "no price is low enough"

    def _checks(self, outcome: Outcome, terms, ruling: Ruling) -> tuple[CheckIdea, ...]:
        if ruling.standing == NO_PRICE:
            return ()
        rule = self.shop.settings.go_rule

        def takes(state: int) -> bool:
            if outcome.plan.policy.value[state] - outcome.upfront < rule.margin:
                return False
            return self.valuation.after(outcome, terms, state).meets(rule)

        before = before_deciding(outcome.plan, outcome.upfront, takes)
        return check_ideas(before, self.inputs.problem, self.shop.catalogue)

    def _assessment(
        self, route, price, decision: Decision, outcome: Outcome, terms, limit, words, checks, ruling, revalue
    ) -> Assessment:
        catalogue, settings = self.shop.catalogue, self.shop.settings
        refused = ruling.standing == NO_PRICE
        owned = route == "buy"
        writer = StepWriter(self.unit, catalogue, self.inputs, outcome.plan, owned)
        steps = () if refused else writer.steps()
        return Assessment(
            unit=self.unit,
            route=route,
            currency=settings.currency,
            price=price,
            verdict=decision.verdict,
            sentence=decision.sentence,
            limit=limit,
            limit_words=words,
            expected_margin=None if refused else outcome.expected_margin,
            losses_in_20=None if refused else outcome.losses_in_20,
            dots=() if refused else tuple(outcome.dots(20)),
            fine_dots=() if refused else tuple(outcome.dots(50)),
            minutes=outcome.expected_minutes,
            margin_per_hour=None if refused else outcome.margin_per_hour,
            chance_finished=outcome.plan.chance_finished,
            stop_words=_stop_words(steps, outcome, owned),
            steps=steps,
            findings=self._finding_chances(),
            lines=() if refused else money_lines(outcome, terms),
            checks=checks,
            flips=() if refused else self._flips(revalue),
            first_cautions=self._first_cautions(),
            notes=self._notes(ruling),
            ready_days=(0.0, 0.0) if refused else outcome.ready_days(settings),
            source=self.forecast.source,
            exact=not self.set_aside,
        )

    def _finding_chances(self) -> tuple[FindingChance, ...]:
        problem, catalogue = self.inputs.problem, self.shop.catalogue
        seen = {finding.kind: finding for finding in self.unit.findings}
        rows = []
        for index, item in enumerate(problem.items):
            if item.key.startswith(UNEXPLAINED):
                continue
            closing = [o for o, option in enumerate(problem.options) if index in option.closes]
            told = self.inputs.forecasts[closing[0]] if closing else None
            mystery = problem.mysteries[item.mystery] if item.mystery >= 0 else None
            before = 1.0 if mystery is None else float(problem.weights @ mystery.chance[item.branch])
            presence = 1.0 if mystery is None else self.valuation.space.presence(item.mystery, item.branch)
            finding = seen.get(item.key)
            origin = "seen" if mystery is None else "suspected" if finding else "hidden"
            if mystery is not None and mystery.trace_minutes is not None:
                origin = "cause"
            mean, low, high = self._interval(told)
            rows.append(
                FindingChance(
                    item.key,
                    catalogue.kinds[item.key].name,
                    finding.severity if finding else 2,
                    presence,
                    self.inputs.repairs[closing[0]].name if closing else "",
                    mean,
                    low,
                    high,
                    told.attempts if told else 0,
                    told.fixed if told else 0,
                    told.prior_only if told else True,
                    origin,
                    before,
                )  # fmt: skip
            )
        return tuple(rows)

    def _interval(self, told: RepairForecast | None) -> tuple[float, float, float]:
        """Mean chance and its interval over draws, the job effect integrated out."""
        if told is None:
            return 0.0, 0.0, 0.0
        weights, draw = self.forecast.weights, self.forecast.draw
        per_draw = np.bincount(draw, weights * told.chance) / np.bincount(draw, weights)
        low, high = np.quantile(per_draw, INTERVAL)
        return float(weights @ told.chance), float(low), float(high)

    def _flips(self, revalue) -> tuple[PartFlip, ...]:
        """For the dearest and the unconfirmed parts, the price at which the verdict turns."""
        lines = {line.part: line for parts in self.inputs.parts for line in parts if line.price > 0}
        ranked = sorted(lines.values(), key=lambda line: (line.confirmed, -line.price))[:MOST_FLIPS]
        rule = self.shop.settings.go_rule
        flips = []
        for line in ranked:

            def holds(price: float, part: str = line.part) -> bool:
                bench = self.shop.bench({part: price})
                changed = plan_inputs(self.unit, self.forecast, bench, owned=self._owned)
                alike = set_aside_alike(changed, self.inputs)
                return revalue(self.valuation.with_inputs(alike)).meets(rule)

            top = max(4.0 * line.price, self.inputs.working_price)
            turn = highest(holds, top, step=0.5)
            flips.append(
                PartFlip(line.part, line.price, None if turn is None or turn >= top else turn, line.confirmed)
            )
        return tuple(flips)

    @property
    def _owned(self) -> bool:
        return self.inputs.problem.stop_minutes[0] > 0

    def _first_cautions(self):
        """Cautions that stand beside the verdict: battery, liquid, ownership."""
        catalogue = self.shop.catalogue
        slugs = []
        if cell_hazard(self.unit, catalogue) or cell_suspect(self.unit, catalogue):
            slugs.append("damaged-cell")
        if wet(self.unit, catalogue):
            slugs.append("liquid-no-power")
        slugs.append("ownership-first")
        return tuple(catalogue.cautions[slug] for slug in slugs if slug in catalogue.cautions)

    def _notes(self, ruling: Ruling) -> tuple[str, ...]:
        notes = [reason[:1].upper() + reason[1:] + "." for reason in ruling.reasons]
        for part, line in {line.part: line for parts in self.inputs.parts for line in parts}.items():
            if not line.confirmed:
                name = self.shop.catalogue.parts[part].name
                price = money_text(line.price, self.shop.settings.currency)
                notes.append(f"Price of the {name} not confirmed; {price} is assumed.")
        if self.set_aside:
            notes.append(
                "Too many possibilities to weigh all: not counted on, so the margin is a lower bound: "
                + ", ".join(self.set_aside)
                + "."
            )
        notes.append("Chances are for devices like those this shop has taken on.")
        return tuple(notes)


def _stop_words(steps, outcome: Outcome, owned: bool) -> str:
    """Where the plan stops, in one line."""
    if not steps:
        return "do not start"
    if outcome.plan.act(0) == STOP:
        return "strip it straight away" if owned else "return it as it is"
    for step in steps:
        if step.stop_point and step.kind == "repair":
            return f"{step.text.split(';')[0]}: if it fails, {step.if_not}"
        if step.stop_point:
            return f"{step.text.split('. ')[0]} {step.if_not}"
    return "nothing here ends it early"
