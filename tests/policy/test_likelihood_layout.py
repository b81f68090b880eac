"""W laid out in any way is the plain sum over scenarios of the product of its factors."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from synthetic_cases.lot import invented_lot, lot_text
from synthetic_cases.truth import load_truth
from triage.domain.lot_files import read_lot_text
from triage.policy import likelihood_layout
from triage.policy.likelihood_layout import DrawsCrossed, Halves, lay_out
from triage.policy.state_space import TableFactor
from triage.workflows.desk import lay_out as lay_out_unit
from triage.workflows.shop import open_shop

NODES, DRAWS, SIZES = 3, 400, (2, 3, 3, 4, 3, 3)
FOUND_OUT, REPAIRS = (1, 2), (3, 4, 5)  # columns; the first is certain


def made(seed, count):
    """States, their factors and the weights of their scenarios, at random."""
    rng = np.random.default_rng(seed)
    every = np.stack(np.meshgrid(*map(np.arange, SIZES), indexing="ij"), axis=-1).reshape(-1, len(SIZES))
    states = np.asfortranarray(every[rng.permutation(len(every))[:count]], dtype=np.int8)
    factors = []
    for column in (*FOUND_OUT, *REPAIRS):
        by_draw = column in FOUND_OUT
        table = rng.uniform(0.1, 0.9, (SIZES[column], DRAWS if by_draw else DRAWS * NODES))
        table = np.repeat(table, NODES, axis=1) if by_draw else table
        table[0] = 1.0
        factors.append(TableFactor((column,), table, by_draw))
    weights = rng.uniform(0.1, 1.0, DRAWS * NODES)
    return states, factors, weights / weights.sum()


def plain(states, factors, weights):
    joint = np.tile(weights, (len(states), 1))
    for factor in factors:
        joint *= factor.table[states[:, factor.columns[0]]]
    return joint.sum(axis=1)


@pytest.mark.parametrize("small_table", [0, likelihood_layout._SMALL_TABLE])
@pytest.mark.parametrize(("seed", "count"), [(1, 1), (2, 40), (3, 300), (4, 648)])
def test_every_layout_is_the_plain_sum(seed, count, small_table, monkeypatch):
    monkeypatch.setattr(likelihood_layout, "_SMALL_TABLE", small_table)
    states, factors, weights = made(seed, count)
    wanted = plain(states, factors, weights)
    columns = [factor.columns for factor in factors]
    for layout in (
        Halves(states, columns),
        DrawsCrossed(states, columns, [0, 1], [2, 3, 4]),
        lay_out(states, factors),
    ):
        assert layout.likelihoods(factors, weights, NODES) == pytest.approx(wanted, rel=1e-12)
    turned = factors[::-1]
    assert lay_out(states, turned).likelihoods(turned, weights, NODES) == pytest.approx(wanted, rel=1e-12)


def test_what_is_found_out_does_not_hang_on_the_job():
    """The premise, on units of a lot: mysteries and readings are as likely at every node of a draw."""
    shop = open_shop(today=date(2026, 11, 25))
    text = lot_text(invented_lot(load_truth(), 40, 5))
    met = 0
    for row in read_lot_text(text, "lot", shop.catalogue, shop.prices).rows:
        problem = lay_out_unit(row.unit, shop).inputs.problem
        assert problem.nodes == 7 and len(problem.weights) % problem.nodes == 0
        tables = [mystery.chance for mystery in problem.mysteries]
        tables += [np.stack([check.sensitivity, check.specificity]) for check in problem.checks]
        for table in tables:
            by_draw = table.reshape(len(table), -1, problem.nodes)
            assert (by_draw == by_draw[:, :, :1]).all()
            met += 1
    assert met > 20
