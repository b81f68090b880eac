"""The drift alarm: its guarantee on a case small enough to list, and what it says of plain sequences."""

from __future__ import annotations

import itertools
import json
from datetime import date

import numpy as np
import pytest

from tests.benchmarks.program.drift_alarm import RESULTS
from triage.review.drift.detector import (
    ALARM_AT,
    FALSE_ALARMS,
    PROVED_AT,
    Stretch,
    drift_alarms,
    evidence,
    false_alarms_a_year,
    shares,
)

START = date(2025, 1, 1)
NAMES = {"hinge": "Loose hinge", "lamp": "Dead lamp"}


def stretch(fixed, chance, kind="hinge", days=3, first=START, weight=None):
    """Attempts every `days` days; `chance` holds one chance a draw."""
    fixed = np.asarray(fixed, bool)
    when = np.datetime64(first) + np.arange(len(fixed)) * days
    held = np.repeat(np.atleast_1d(np.asarray(chance, float))[:, None], len(fixed), axis=1)
    return Stretch(when, np.full(len(fixed), kind), fixed, held, weight)


def steady(ones, of, count):
    """`ones` successes in every `of`, spread evenly."""
    return [(n * ones) // of != ((n + 1) * ones) // of for n in range(count)]


@pytest.mark.parametrize("two_forecasters", [False, True])
def test_evidence_has_the_mean_that_bounds_false_alarms(two_forecasters):
    # Every sequence of seven outcomes, weighted by the null mixture of three unequal draws:
    # the mean evidence is the years watched (Doob's inequality needs no more), at every look.
    chance, weight, count = np.array([0.3, 0.6, 0.9]), np.array([0.2, 0.5, 0.3]), 7
    cut = 4 if two_forecasters else count
    second = date.fromordinal(START.toordinal() + 30 * cut)
    mean, whole = np.zeros(count), 0.0
    for fixed in itertools.product([False, True], repeat=count):
        held = [
            stretch(fixed[:cut], chance, days=30, weight=weight),
            stretch(fixed[cut:], chance, days=30, first=second, weight=weight),
        ]
        p = np.prod(
            [weight @ np.where(part.fixed, part.chance, 1 - part.chance).prod(axis=1) for part in held]
        )
        mean += p * evidence(held, np.datetime64(START))
        whole += p
    assert whole == pytest.approx(1)
    assert mean == pytest.approx(np.arange(count) * 30 / 365.25)


def test_a_fall_is_seen_with_its_day():
    fixed = steady(15, 20, 100) + steady(8, 20, 60)
    (alarm,) = drift_alarms([stretch(fixed, 0.75)], shares({"hinge": 100, "lamp": 100}), NAMES, START)
    truly = date.fromordinal(START.toordinal() + 300)
    assert abs((alarm.since - truly).days) <= 15
    assert truly < alarm.seen_on <= date.fromordinal(truly.toordinal() + 120)
    assert (alarm.direction, alarm.name, alarm.expected_in_20) == ("down", "Loose hinge", pytest.approx(15))
    assert alarm.recent_in_20 == pytest.approx(8, abs=0.6)
    assert alarm.attempts == pytest.approx(60, abs=5)
    assert alarm.evidence >= ALARM_AT
    assert (
        alarm.words
        == f"since about October 2025: expected 15 in 20, actual 8 in 20 over {alarm.attempts} attempts"
    )


def test_a_rise_is_seen_as_one():
    fixed = steady(8, 20, 60) + steady(16, 20, 60)
    (alarm,) = drift_alarms([stretch(fixed, 0.4)], {"hinge": 1.0}, NAMES, START)
    assert alarm.direction == "up"


def test_an_unsure_chance_is_no_drift():
    # A forecast of 15 in 20 from someone who is sure is left by 11 in 20; the same from
    # someone who is not has the outcomes teach it first.
    fixed, unsure = steady(11, 20, 120), np.linspace(0.5, 1.0, 51)[:-1]
    assert drift_alarms([stretch(fixed, 0.75)], {"hinge": 1.0}, NAMES, START)
    assert not drift_alarms([stretch(fixed, unsure)], {"hinge": 1.0}, NAMES, START)
    assert not drift_alarms([stretch(steady(15, 20, 400), 0.75)], {"hinge": 1.0}, NAMES, START)


def test_few_attempts_or_none_raise_nothing():
    share = shares({"hinge": 0, "lamp": 0})
    assert share == {"hinge": 0.5, "lamp": 0.5}
    assert drift_alarms([], share, NAMES, START) == ()
    assert drift_alarms([stretch([], 0.75)], share, NAMES, START) == ()
    assert drift_alarms([stretch([False, False], 0.9)], share, NAMES, START) == ()


def test_outcomes_before_the_watch_only_teach():
    # What fell long before the watch began is what the draws then expect, if they may move.
    fixed = steady(15, 20, 20) + steady(8, 20, 280)
    unsure = np.linspace(0.1, 0.95, 86)
    late = date.fromordinal(START.toordinal() + 600)
    assert not drift_alarms([stretch(fixed, unsure)], {"hinge": 1.0}, NAMES, late)
    assert drift_alarms([stretch(fixed, 0.75)], {"hinge": 1.0}, NAMES, late)


def test_an_alarm_says_when_it_is_not_yet_proved():
    fixed = steady(15, 20, 100) + steady(8, 20, 60)
    told = [
        drift_alarms([stretch(fixed[:count], 0.75)], {"hinge": 0.5, "lamp": 0.5}, NAMES, START)
        for count in range(100, 161)
    ]
    proved = [alarm.proved for found in told for alarm in found]
    assert proved == sorted(proved) and False in proved and True in proved
    for (alarm,) in filter(None, told):
        assert alarm.words.endswith("likely, not proven") != alarm.proved
        assert alarm.proved == (alarm.evidence >= PROVED_AT)


def test_the_rate_that_is_said_is_the_one_that_was_measured():
    measured = json.loads(RESULTS.read_text(encoding="utf-8"))["steady shops"]
    assert {int(kinds): round(100 * one["rate_a_year"]) for kinds, one in measured.items()} == FALSE_ALARMS
    assert all(one["at"] == ALARM_AT for one in measured.values())
    assert [false_alarms_a_year(kinds) for kinds in (0, 1, 4, 5, 30, 80)] == [17, 17, 17, 16, 6, 4]


def test_more_than_the_whole_rate_cannot_be_shared_out():
    with pytest.raises(ValueError, match="more than 1"):
        drift_alarms([], {"hinge": 0.7, "lamp": 0.7}, NAMES, START)


def test_the_order_within_a_day_says_nothing():
    # Twelve tries a day, three of them failing. An open bet that reads a day's failures first peaks at
    # noon, and 27 of 40 steady shops were alarmed for that alone.
    days = np.repeat(np.arange(40), 12)
    first = np.tile(np.arange(12) >= 3, 40)
    chance = np.repeat(np.linspace(0.65, 0.85, 9)[:, None], days.size, axis=1)
    told = []
    for fixed in (
        first,
        first[::-1],
        np.random.default_rng(3).permuted(first.reshape(40, 12), axis=1).ravel(),
    ):
        held = Stretch(np.datetime64(START) + 7 * days, np.full(days.size, "hinge"), fixed, chance)
        told.append(evidence([held], np.datetime64(START)))
    assert told[1] == pytest.approx(told[0], rel=1e-9) and told[2] == pytest.approx(told[0], rel=1e-9)
    assert told[0].reshape(40, 12).std(axis=1) == pytest.approx(0)  # looked at once a day
