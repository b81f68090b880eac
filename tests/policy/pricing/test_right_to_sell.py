"""A purchase under an open right beside an enumeration of every answer to every question.

The enumeration shares nothing with the program but the questions: one repair by hand (chance, costs,
what it sells for), every combination of answers with its chance, and what each costs in turn.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import permutations, product
from math import prod

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.gold.paper import paper_forecast
from tests.gold.paper_shop import paper_shop
from triage.domain.shop.right_to_sell import RightToSell, SourceBelief
from triage.domain.shop.settings import GoRule
from triage.domain.units.unit import Finding, Ownership, Unit
from triage.policy.pricing.right_to_sell import highest_open_bid, settling_first, with_open_right
from triage.policy.pricing.valuation import highest_bid
from triage.policy.problem.open_right import OpenRight, Question, open_right
from triage.workflows.answers.pricing import unit_pricing

# The paper shop's antenna flex: open 10, work 10, part 8; finishing 20 for 200, stripping 20 for 60.
CHANCE, WORKS, FAILS, WORK, MINUTES, CONSUMABLES = 0.7, 152.0, 12.0, 48.0, 40.0, 2.0
RULE = GoRule(25.0, 10.0, 6)


@cache
def valuation():
    shop = paper_shop()
    unit = Unit("u", "middle", (Finding("antenna-flex-torn"),))
    work = {("antenna-flex-torn", "change-antenna-flex"): (CHANCE, 10, 10)}
    return unit_pricing(unit, shop, forecast=paper_forecast(unit, shop.catalogue, work)).valuation


chances = st.floats(0.0, 1.0).map(lambda x: round(x, 3)) | st.just(1.0)
costs = st.floats(0.0, 30.0).map(lambda x: round(x, 1))
places = st.sampled_from(["before-paying", "on-arrival", "once-it-works", "never"])
topics = st.permutations(["listed", "locked", "enrolled", "later"])
rights = st.builds(
    lambda names, rows, back, hand: OpenRight(
        tuple(
            Question(name, clear, when, "none", minutes, fee)
            for name, (clear, when, minutes, fee) in zip(names, rows, strict=False)
        ),
        back,
        hand,
        1.0,
    ),
    topics,
    st.lists(st.tuples(chances, places, costs, costs), max_size=4),
    chances,
    costs,
)


def enumerated(right, paid):
    """Every way it can go: (chance, margin, minutes)."""
    ways = []
    early = [q for q in right.questions if q.settled in ("before-paying", "on-arrival")]
    late = [q for q in right.questions if q.settled in ("once-it-works", "never")]
    for answers in product((True, False), repeat=len(early) + len(late)):
        chance = prod(
            q.clear if yes else 1.0 - q.clear for q, yes in zip([*early, *late], answers, strict=True)
        )
        if chance == 0.0:
            continue
        money, minutes, refused = -paid - CONSUMABLES, 0.0, False
        for q, yes in zip(early, answers[: len(early)], strict=True):
            if q.clear == 1.0:
                continue  # nobody settles what is certain
            money, minutes = money - q.minutes - q.fee, minutes + q.minutes
            if not yes:
                refused = True
                break
        back, handed = paid * right.price_back, right.hand_over
        if refused:
            ways.append((chance, money + back - handed, minutes + handed))
        elif not all(answers[len(early) :]):
            ways.append((chance, money - WORK + back - handed, minutes + MINUTES + handed))
        else:
            ways.append((chance * CHANCE, money + WORKS, minutes + MINUTES))
            ways.append((chance * (1.0 - CHANCE), money + FAILS, minutes + MINUTES))
    return ways


@settings(max_examples=200, deadline=None)
@given(rights, st.floats(0.0, 150.0).map(lambda x: round(x, 2)))
def test_a_mixture_is_what_every_combination_of_answers_comes_to(right, paid):
    outcome = with_open_right(valuation().bought_at(paid), right, paid)
    ways = enumerated(right, paid)
    assert sum(chance for chance, _, _ in ways) == pytest.approx(1.0)
    assert outcome.expected_margin == pytest.approx(sum(c * m for c, m, _ in ways), abs=1e-8)
    assert outcome.expected_minutes == pytest.approx(sum(c * t for c, _, t in ways), abs=1e-8)
    assert outcome.margins.mean() == pytest.approx(outcome.expected_margin, abs=2.5)  # of played paths
    lost = sum(c for c, m, _ in ways if m < -0.005)
    assert abs(outcome.losses_in_20 - 20 * lost) <= 0.75
    ordered = sorted(ways, key=lambda way: way[1])
    tail, left = 0.0, 0.1
    for chance, margin, _ in ordered:
        tail, left = tail + min(chance, left) * margin, left - min(chance, left)
    assert np.sort(outcome.margins)[: len(outcome.margins) // 10].mean() == pytest.approx(tail / 0.1, abs=6.0)


@settings(max_examples=60, deadline=None)
@given(rights, st.floats(0.0, 120.0).map(lambda x: round(x, 2)))
def test_settling_first_is_the_best_of_every_order(right, paid):
    """An order is followed up to the first refusal; then the rule decides on what is still open."""
    settled = valuation().bought_at(paid)

    def decided(left):
        outcome = with_open_right(settled, left, paid)
        ways = enumerated(left, paid)
        return sum(c * m for c, m, _ in ways) if outcome.meets(RULE) else 0.0

    def followed(order):
        if not order:
            return lambda left: decided(left)
        q, rest = order[0], followed(order[1:])
        return lambda left: q.clear * rest(left.without(q.topic)) - q.minutes - q.fee

    can = [q for q in right.questions if q.settled == "before-paying"]
    orders = [order for count in range(len(can) + 1) for order in permutations(can, count)]
    best = max(followed(order)(right) for order in orders)
    first = settling_first(settled, right, paid, RULE)
    assert first.gain == pytest.approx(best - decided(right), abs=1e-5)
    assert set(first.worth) == {q.topic for q in can}
    for q in can:
        assert first.worth[q.topic] == pytest.approx(followed((q,))(right) - decided(right), abs=1e-8)


@settings(max_examples=25, deadline=None)
@given(
    rights,
    st.integers(0, 3),
    st.sampled_from([RULE, GoRule(-30.0, -1e6, 20), GoRule(0.0, 40.0, 20), GoRule(-1e6, -1e6, 6)]),
)
def test_a_doubt_never_raises_a_price_and_less_of_it_never_lowers_one(right, place, rule):
    clear = highest_bid(valuation(), rule)
    bids = []
    for chance in (0.0, 0.3, 0.7, 0.9, 0.99, 1.0):
        rows = [replace(q, clear=chance) if i == place else q for i, q in enumerate(right.questions)]
        bids.append(highest_open_bid(valuation(), clear, replace(right, questions=tuple(rows)), rule))
    known = [-1.0 if bid is None else bid for bid in bids]
    assert known == sorted(known) and all(bid <= (clear or 0.0) for bid in known)


@settings(max_examples=25, deadline=None)
@given(rights, st.sampled_from([RULE, GoRule(-30.0, -1e6, 20), GoRule(0.0, 40.0, 20)]))
def test_without_a_doubt_it_is_the_clear_device_to_the_cent(right, rule):
    sure = replace(right, questions=tuple(replace(q, clear=1.0) for q in right.questions))
    clear = highest_bid(valuation(), rule)
    assert highest_open_bid(valuation(), clear, sure, rule) == clear
    outcome = valuation().bought_at(40.0)
    assert with_open_right(outcome, sure, 40.0) is outcome


# -- which questions are open ---------------------------------------------------------------------

BELIEF = RightToSell()
SHOP = paper_shop()


def asked(**more):
    """How early each open question of a device can be settled, by topic."""
    unit = replace(Unit("u", "middle", (Finding("back-glass-cracked"),), battery="sound"), **more)
    told = open_right(unit, SHOP.catalogue, SHOP.settings).questions
    return {question.topic: question.settled for question in told}


@pytest.mark.parametrize(
    ("more", "open_now"),
    [
        ({}, {}),
        # Said to be clear by nobody: a blank follows lock and numbers.
        (
            {"ownership": Ownership("clear", "not-checked")},
            {"listed": "before-paying", "enrolled": "before-paying", "later": "never"},
        ),
        (
            {"ownership": Ownership("clear", "not-checked", enrolled="clear")},
            {"listed": "before-paying", "later": "never"},
        ),
        # A number that cannot be read cannot be looked up: it is found inside.
        (
            {"ownership": Ownership("clear", "cannot-read", enrolled="clear")},
            {"listed": "on-arrival", "later": "never"},
        ),
        ({"ownership": Ownership(enrolled="not-checked")}, {"enrolled": "before-paying", "later": "never"}),
        ({"ownership": Ownership(source="trade-seller")}, {"later": "never"}),
    ],
)
def test_what_is_open(more, open_now):
    assert asked(**more) == open_now


@pytest.mark.parametrize(
    ("more", "source", "settled"),
    [
        ({}, "unknown", "before-paying"),
        ({}, "", "before-paying"),
        ({}, "auction", "on-arrival"),
        # Its battery is looked at before it is started.
        ({"battery": "suspect"}, "unknown", "on-arrival"),
        ({"battery": "hazard"}, "trade-seller", "on-arrival"),
        ({"battery": "absent"}, "unknown", "on-arrival"),
        # Wet, or without power: it cannot be started as it lies.
        ({"cause": "wet"}, "unknown", "once-it-works"),
        ({"symptoms": ("no-power",)}, "auction", "once-it-works"),
        ({"findings": (Finding("storage-or-processor-dead"),)}, "unknown", "once-it-works"),
        ({"findings": (Finding("storage-or-processor-dead", chance=0.2),)}, "unknown", "before-paying"),
        # The seller signs out of it however dead it is.
        ({"symptoms": ("no-power",), "cause": "wet"}, "owner-in-person", "before-paying"),
    ],
)
def test_when_a_lock_can_be_settled(more, source, settled):
    held = Ownership("cannot-tell", enrolled="clear", source=source)
    assert asked(**more, ownership=held)["locked"] == settled


def test_a_source_that_nobody_named_is_an_unknown_one():
    assert BELIEF.of("") == BELIEF.of("unknown") == BELIEF.unknown
    assert BELIEF.of("owner-in-person") == BELIEF.owner_in_person
    assert isinstance(BELIEF.of("auction"), SourceBelief)
