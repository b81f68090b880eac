"""Ways to forget, back-tested: what is chosen, and that the choice is scored on other months."""

from __future__ import annotations

from datetime import date

import pandas as pd
import pytest

from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import DamageKind
from triage.domain.history import History
from triage.priors.prior_set import PriorSet
from triage.review.drift.detector import Alarm
from triage.review.drift.forgetting import Discount, choose_half_life

CATALOGUE = Catalogue(
    kind=(DamageKind("hinge", "Loose hinge", "case"), DamageKind("lamp", "Dead lamp", "case"))
)
AS_OF = date(2025, 12, 31)


def history(hinge, lamp):
    """A job a day for two years, lamp and hinge by turns; each is a chance by day, kept to evenly."""
    rows, due = [], {"hinge": 0.0, "lamp": 0.0}
    for day in range(730):
        kind, chance = ("hinge", hinge) if day % 2 else ("lamp", lamp)
        due[kind] += chance(day)
        fixed = due[kind] >= 1
        due[kind] -= fixed
        rows.append(
            {
                "job": f"{day}",
                "date": pd.Timestamp(2024, 1, 1) + pd.Timedelta(days=day),
                "finding": kind,
                "outcome": "fixed" if fixed else "not-fixed",
            }
        )
    return History(pd.DataFrame(rows), AS_OF)


def alarm(kind: str, seen: date) -> Alarm:
    return Alarm(kind, kind, "down", seen, seen, 16, 4, 40, 25.0)


def test_a_steady_shop_does_not_forget():
    found = choose_half_life(history(lambda day: 0.8, lambda day: 0.6), CATALOGUE, PriorSet())
    assert found.discount is None
    assert found.words == "a fit with forgetting does not score better on later months"
    assert found.penalties[None] == min(found.penalties.values())
    # Days 364 to 729 are the second half: months begin on days 364, 394 ... 724, and the first is not scored.
    assert found.months == 12


def test_a_kind_that_fell_is_forgotten_and_the_other_is_not():
    record = history(lambda day: 0.9 if day < 300 else 0.2, lambda day: 0.7)
    found = choose_half_life(record, CATALOGUE, PriorSet(), [alarm("hinge", date(2024, 12, 15))])
    assert found.discount == Discount(90.0, drifting=True)
    assert found.kinds == ("hinge",)
    assert found.gain.low > 0
    assert found.kind_gain.mean > found.gain.mean
    assert found.words.startswith(
        "a fit that forgets jobs with these kinds with a half-life of 90 days scores better"
    )


def test_an_alarm_is_not_known_before_it_was_seen():
    record = history(lambda day: 0.9 if day < 300 else 0.2, lambda day: 0.7)
    late = choose_half_life(record, CATALOGUE, PriorSet(), [alarm("hinge", date(2026, 1, 1))])
    targeted = [found for way, found in late.penalties.items() if way is not None and way.drifting]
    assert targeted == pytest.approx([late.penalties[None]] * 4)


def test_the_choice_is_made_before_the_month_it_is_scored_on():
    # A last month unlike all before it changes the best over all months, not what it was met with.
    first = history(lambda day: 0.9 if day < 500 else 0.2, lambda day: 0.6)
    last = first.rows["date"] > first.rows["date"].max() - pd.Timedelta(days=5)
    turned = first.rows.assign(outcome=first.rows["outcome"].where(~last, "fixed"))
    plain = choose_half_life(first, CATALOGUE, PriorSet())
    other = choose_half_life(History(turned, AS_OF), CATALOGUE, PriorSet())
    assert other.chosen == plain.chosen
    assert len(set(plain.chosen)) > 1
    assert other.gain.mean < plain.gain.mean


def test_too_short_a_record_says_so():
    record = history(lambda day: 0.8, lambda day: 0.6)
    short = History(record.rows.head(20), date(2024, 1, 21))
    found = choose_half_life(short, CATALOGUE, PriorSet())
    assert found.discount is None
    assert found.gain is None
