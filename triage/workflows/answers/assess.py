"""One device from description to answer: the same function behind screen and command line."""

from __future__ import annotations

from dataclasses import replace

from triage.domain.catalogue_entries import Caution
from triage.domain.units.unit import Unit
from triage.policy.answer.assessment import Assessment, FindingChance, Origin
from triage.policy.answer.branches import likely_tries, likely_way
from triage.policy.answer.left import left_unrepaired
from triage.policy.answer.money_lines import money_lines
from triage.policy.answer.promise import promised
from triage.policy.answer.right_lines import right_lines
from triage.policy.answer.right_verdict import settling_steps
from triage.policy.answer.steps import StepWriter
from triage.policy.answer.stripped_now import stripped_now
from triage.policy.answer.verdict import LEAST_MINUTES
from triage.policy.problem.forecast import UnitForecast, chance_interval
from triage.policy.problem.normalise import cell_hazard, cell_suspect, covered_words, wet
from triage.policy.solver.repair_plan import STOP
from triage.policy.solver.spread import expected_shortfall, split_spread
from triage.reports.wording.fit import assumed_words
from triage.workflows.answers.break_even import part_flips
from triage.workflows.answers.pricing import PricedUnit, UnitPricing, priced_at, settled, unit_pricing
from triage.workflows.shop.shop import Shop


def assess(
    unit: Unit,
    shop: Shop,
    ask: float | None = None,
    walk_in: bool = False,
    forecast: UnitForecast | None = None,
) -> Assessment:
    """Say what to do with a unit.

    Parameters
    ----------
    ask : asking price, major units; None when it is not known.
    walk_in : the unit is an owner's, to be quoted rather than bought.
    forecast : made from the shop's stored draws when None.

    Raises
    ------
    PlanTooLargeError : more unknowns and required repairs than can be planned.
    """
    priced = priced_at(unit_pricing(unit, shop, walk_in, forecast), ask)
    return replace(answer_at(priced), flips=part_flips(priced))


def answer_at(priced: PricedUnit) -> Assessment:
    """Everything there is to say about a unit at its price, but for `flips`.

    `part_flips` finds those, and takes about as long again.
    """
    pricing, outcome, refused = priced.pricing, priced.outcome, priced.pricing.refused
    settings = pricing.shop.settings
    writer = StepWriter(pricing.unit, pricing.shop.catalogue, pricing.inputs, outcome.plan, pricing.owned)
    steps = () if refused else likely_way(writer)
    if priced.right is not None:
        steps = settling_steps(steps, priced.right)
    minutes = outcome.expected_minutes
    if pricing.unit.battery == "reacting":
        steps, minutes = writer.isolated(), 0.0
    answer = Assessment(
        unit=pricing.unit,
        route=pricing.route,
        currency=settings.currency,
        price=priced.price,
        verdict=priced.verdict,
        sentence=priced.sentence,
        limit=pricing.limit,
        limit_words=pricing.limit_words,
        minutes=minutes,
        chance_finished=outcome.plan.chance_finished,
        stops_at_once=outcome.plan.act(0) is STOP,
        steps=steps,
        findings=_finding_chances(pricing, writer),
        checks=priced.checks,
        first_cautions=_first_cautions(pricing),
        notes=_notes(priced),
        source=pricing.forecast.source,
        exact=not pricing.set_aside,
        right=priced.right,
        priced_by=pricing.priced_by,
    )
    if refused:
        return answer
    left = left_unrepaired(
        pricing.unit, pricing.shop.catalogue, settled(outcome), priced.terms, pricing.whole
    )
    return replace(
        answer,
        valued_at=priced.valued_at,
        expected_margin=outcome.expected_margin,
        losses_in_20=outcome.losses_in_20,
        dots=tuple(outcome.dots(20)),
        fine_dots=tuple(outcome.dots(50)),
        margin_per_hour=outcome.margin_per_hour if outcome.expected_minutes >= LEAST_MINUTES else None,
        lines=right_lines(
            outcome,
            money_lines(settled(outcome), priced.terms, tuple(one.name for one in left if one.takes_off)),
        ),
        left=left,
        ready_days=outcome.ready_days(settings),
        shortfall=expected_shortfall(outcome.margins),
        share_not_known=_share_not_known(priced),
        promise=promised(pricing.inputs, pricing.forecast, outcome),
        stripped=stripped_now(outcome, priced.terms),
        ways=pricing.ways_at(priced.valued_at, settled(outcome)),
    )


def _share_not_known(priced: PricedUnit) -> float | None:
    """Share of the spread that is lack of knowledge; None where there is no spread to share."""
    margins = priced.outcome.margins
    if margins.std() < 0.01:
        return None
    split = split_spread(priced.outcome.plan, priced.terms, margins, priced.pricing.right.clear)
    return split.share_not_known


def _finding_chances(pricing: UnitPricing, writer: StepWriter) -> tuple[FindingChance, ...]:
    """One row a damage: how likely it is there, and how likely its repair works: the one that is planned."""
    tries = {} if pricing.refused else likely_tries(writer)
    open_ = writer.plan.plan_space.view.open
    problem = pricing.inputs.problem
    seen = {finding.kind: finding for finding in pricing.unit.findings}
    rows = []
    for index, item in enumerate(problem.items):
        if item.unexplained:
            continue
        closing = [o for o, option in enumerate(problem.options) if index in option.closes]
        # The usual repair where the likely path has none for it.
        planned = next((tries[o] for o in closing if o in tries and open_[tries[o], index]), None)
        if planned is not None:
            closing = [option for option in closing if tries.get(option) == planned]
        told = pricing.inputs.forecasts[closing[0]] if closing else None
        before, presence = 1.0, 1.0
        origin: Origin = "seen"
        if item.latent_fault >= 0:
            latent_fault = problem.latent_faults[item.latent_fault]
            before = float(problem.weights @ latent_fault.chance[item.branch])
            presence = pricing.valuation.space.presence(item.latent_fault, item.branch)
            origin = "suspected" if item.key in seen else "hidden"
            origin = origin if latent_fault.trace_minutes is None else "cause"
        mean, low, high = chance_interval(told, pricing.forecast)
        rows.append(
            FindingChance(
                kind=item.key,
                name=pricing.shop.catalogue.kinds[item.key].name,
                severity=seen[item.key].severity if item.key in seen else 2,
                presence=presence,
                repair=pricing.inputs.repairs[closing[0]].name if closing else "",
                mean=mean,
                low=low,
                high=high,
                attempts=told.attempts if told else 0,
                fixed=told.fixed if told else 0,
                prior_only=told.prior_only if told else True,
                origin=origin,
                before=before,
                planned=None if planned is None else writer.chance(planned),
                why=told.why if told else (),
            )
        )
    return tuple(rows)


def _first_cautions(pricing: UnitPricing) -> tuple[Caution, ...]:
    """Cautions that stand beside the verdict: battery, liquid, ownership."""
    catalogue, slugs = pricing.shop.catalogue, ["ownership-first"]
    if pricing.unit.battery == "reacting":  # nothing else matters until it is over
        return tuple(
            catalogue.cautions[slug] for slug in ("cell-fire", "damaged-cell") if slug in catalogue.cautions
        )
    if wet(pricing.unit, catalogue):
        slugs.insert(0, "liquid-no-power")
    if cell_hazard(pricing.unit, catalogue) or cell_suspect(pricing.unit, catalogue):
        slugs.insert(0, "damaged-cell")
    return tuple(catalogue.cautions[slug] for slug in slugs if slug in catalogue.cautions)


def _notes(priced: PricedUnit) -> tuple[str, ...]:
    """What the reader must know beside the figures."""
    pricing = priced.pricing
    notes = [*pricing.ownership_notes, *covered_words(pricing.unit, pricing.shop.catalogue)]
    notes += pricing.unconfirmed_prices(
        {line.part: line for p in pricing.inputs.parts for line in p}.values()
    )
    if pricing.unit.battery == "absent":
        notes.append("It has no battery: a new one is included, as for a worn battery.")
    if pricing.set_aside:
        left_out = ", ".join(pricing.set_aside)
        notes.append(f"Too complex to plan exactly; the margin leaves out: {left_out}.")
    notes.append("The chances hold for devices like those this shop has taken on.")
    if assumed := assumed_words(pricing.shop.posterior.manifest):
        notes.append(assumed)
    return tuple(notes)
