"""The answer for a unit of the paper shop, and its expected figures."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.gold.paper import paper_forecast
from tests.gold.paper_shop import paper_shop
from triage.domain.catalogue import load_catalogue
from triage.policy.problem.normalise import normalise
from triage.reports.wording.plan import if_not_words, step_words, stop_words
from triage.workflows.answers.assess import assess

CATALOGUE = load_catalogue()


def worked(unit, work, ask=None, walk_in=False, salvage=None, checks=(), yields=(), **more):
    shop = paper_shop(salvage, checks)
    tiers = tuple(replace(tier, yields=yields) for tier in shop.prices.tier)
    shop = replace(shop, prices=replace(shop.prices, tier=tiers))
    unit = normalise(unit, shop.catalogue)
    return assess(unit, shop, ask, walk_in, paper_forecast(unit, shop.catalogue, work, **more))


def lines(answered):
    return {line.label: line.amount for line in answered.lines}


def acts(answered):
    return [CATALOGUE.repairs[step.subject].name for step in answered.steps if step.kind == "repair"]


def step_of(answered, kind):
    """The first step of a kind."""
    return next(step for step in answered.steps if step.kind == kind)


def said(step):
    return step_words(step, CATALOGUE)


def if_not(answered, step):
    return if_not_words(step, CATALOGUE, answered.route)


def stop_point(answered):
    return stop_words(answered, CATALOGUE)


def kinds(answered):
    return [step.kind for step in answered.steps]


def check(answered, verdict, margin, losses, minutes, limit):
    assert answered.verdict == verdict, answered.sentence
    assert answered.expected_margin == pytest.approx(margin, abs=1e-9)
    assert answered.losses_in_20 == losses
    assert answered.minutes == pytest.approx(minutes, abs=1e-9)
    assert answered.limit == (None if limit is None else pytest.approx(limit, abs=0.0051))
    assert sum(line.amount for line in answered.lines) == pytest.approx(margin, abs=1e-9)
