"""Small random plan problems of units that yield parts, and terms to buy them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import strategies as st

from tests.policy.problems import money, plan_problems
from triage.domain.shop.settings import Fees, Tax
from triage.policy.problem.parts.unit_parts import Harm, UnitPart
from triage.policy.problem.payoffs import PurchaseTerms

SCHEMES = [Tax(), Tax("standard", 0.2), Tax("second-hand-margin", 0.2)]
FEES = Fees(selling_share=0.1, outbound_postage=4.0, disposal=1.0)
PARTS = ("main-board", "display", "housing")
chance = st.sampled_from([0.0, 0.3, 0.3, 0.7, 1.0])


@st.composite
def parts_of(draw, most=3, spread=True):
    count = draw(st.integers(1, most))
    prices = [draw(st.floats(0.0, 120.0)) for _ in range(count)]
    total = sum(prices) or 1.0
    return tuple(
        UnitPart(
            PARTS[place],
            price,
            price / total,
            draw(st.floats(0.0, 30.0)),
            draw(st.floats(0.0, 30.0)),
            draw(st.integers(0, 2)),
            draw(st.sampled_from([0.0, 0.5, 0.9])),
            draw(st.sampled_from([0.0, 0.4])) if spread else 0.0,
            draw(st.sampled_from([False, False, True])),
        )
        for place, price in enumerate(prices)
    )


@st.composite
def harms(draw, keys, seen, most=3):
    found = []
    for part in draw(st.lists(st.sampled_from([*keys, "testing"]), max_size=most, unique=True)):
        left = draw(st.sampled_from([1.0, 0.5])) if seen and part != "testing" else 1.0
        mechanism = draw(st.sampled_from(["drop", "drop", "wet"]))
        found.append(Harm(part, draw(chance), mechanism, left, draw(st.sampled_from([False, False, True]))))
    return tuple(found)


@st.composite
def problems_with_parts(draw, most_parts=3, spread=True, **more):
    """A problem of an owned unit whose damage harms its parts."""
    problem = draw(plan_problems(**more))
    parts = draw(parts_of(most_parts, spread))
    keys = [part.key for part in parts]
    items = tuple(replace(item, harms=draw(harms(keys, item.latent_fault < 0))) for item in problem.items)
    options = tuple(
        replace(o, replaces=frozenset(draw(st.lists(st.sampled_from(keys), max_size=1))))
        for o in problem.options
    )
    return replace(
        problem,
        items=items,
        options=options,
        owned=True,
        parts=parts,
        harms=draw(harms(keys, True, 1)),
        stop_minutes=(draw(money) / 10.0, 0.0),
    )


@st.composite
def purchases(draw):
    """Terms of a purchase at one price."""
    sale = np.sort([draw(st.floats(10.0, 300.0)) for _ in range(3)])[::-1]
    paths = np.linspace(0.6, 1.4, 5)[None, :] * sale[:, None]
    return PurchaseTerms(paths, 0.0, draw(st.floats(0.0, 250.0)), FEES, draw(st.sampled_from(SCHEMES)))
