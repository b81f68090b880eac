"""An alarm and what to do about it are said together, or not at all."""

from __future__ import annotations

from datetime import date

from tests.review.drift.test_watch import CATALOGUE, record
from triage.priors.prior_set import PriorSet
from triage.review.drift.detector import Alarm
from triage.review.drift.forgetting import Discount, DiscountChoice, choose_half_life
from triage.review.drift.offer import drift_offer
from triage.review.drift.watch import watch_drift
from triage.review.forecasts.paired_bootstrap import Difference

ALARM = Alarm("hinge", "Loose hinge", "down", date(2026, 3, 1), date(2026, 6, 1), 15.0, 8.0, 60, 31.0)
BETTER = DiscountChoice(Discount(180.0, True), ("hinge",), Difference(0.02, 0.01, 0.03), None, {}, (), 90)
WORSE = DiscountChoice(None, (), Difference(-0.01, -0.02, 0.0), None, {}, (), 90)


def test_nothing_drifts_nothing_is_offered():
    offer = drift_offer((), None)
    assert (offer.alarms, offer.what_to_do, offer.half_life) == ((), "", None)


def test_an_alarm_comes_with_a_fit_that_forgets_where_that_helps():
    offer = drift_offer((ALARM,), BETTER)
    assert offer.alarms == (
        "Loose hinge: since about March 2026: expected 15 in 20, actual 8 in 20 over 60 attempts.",
    )
    assert "First look for what changed" in offer.what_to_do and "half-life of 180 days" in offer.what_to_do
    assert (offer.half_life, offer.half_life_kinds) == (180.0, ("hinge",))


def test_where_forgetting_does_not_help_it_says_so_and_offers_none():
    for choice in (WORSE, None):
        offer = drift_offer((ALARM,), choice)
        assert offer.half_life is None and "fit again" in offer.what_to_do and offer.alarms
    assert "no such fit is offered" in drift_offer((ALARM,), WORSE).what_to_do


def test_a_kind_that_falls_from_15_to_8_in_20_is_seen_and_its_jobs_are_to_be_forgotten():
    history = record(0.75, 0.4)
    watch = watch_drift(history, None, CATALOGUE)
    choice = choose_half_life(history, CATALOGUE, PriorSet(), watch.alarms)
    offer = drift_offer(watch.alarms, choice)
    assert len(offer.alarms) == 1 and "expected 15 in 20, actual 8 in 20" in offer.alarms[0]
    assert offer.half_life is not None and "scores better on later months" in offer.what_to_do
