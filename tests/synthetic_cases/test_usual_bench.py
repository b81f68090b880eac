"""What decides on a device without the product: rules of thumb, and the shop's own bench.

Where the plan and the bench do the same work, they must earn the same on the same luck: two
programs that share only the settling of an ended job.
"""

import json
from datetime import date

import numpy as np
import pytest

from tests.benchmarks.plans import money_per_decision
from tests.benchmarks.plans.decisions import offered, ratio_with_interval
from tests.benchmarks.plans.invented_world import draw_world, wrecks
from tests.benchmarks.plans.money_per_decision import tuned
from tests.benchmarks.plans.true_play import play_plan
from tests.benchmarks.plans.usual_bench import work_as_usual
from triage.workflows.answers.pricing import priced_at, unit_pricing
from triage.workflows.shop.shop import open_shop


@pytest.mark.parametrize(
    ("kind", "least"),
    [
        ("port-dirty", 1.0),  # cleaned without opening it: nothing else can happen
        ("cell-swollen", 0.9),  # opened, made safe, fitted with another, closed
    ],
)
def test_the_same_work_earns_the_same(truth, kind, least):
    shop = open_shop(today=date(2026, 11, 25))
    wreck = next(wreck for wreck in wrecks(truth, 120, 9) if list(wreck.seen) == [kind])
    pricing = unit_pricing(wreck.unit, shop)
    priced = priced_at(pricing, 5.0)
    world = draw_world(truth, wreck, pricing, 40, 9)
    planned, usual = play_plan(priced, world), work_as_usual(priced, world)
    same = np.isclose(planned.margin, usual.margin, atol=0.005) & np.isclose(planned.minutes, usual.minutes)
    assert same.mean() >= least
    assert 0 < planned.finished.mean() < 1  # successes and failures were compared


def test_a_dial_is_tuned_on_the_other_half():
    """By hand: even places earn most down to 3, odd ones down to 5; -1 and 0 are never worth it."""
    figure = np.array([5.0, 6.0, 3.0, 5.0, -1.0, 0.0])
    margin = np.array([10.0, 4.0, 2.0, 3.0, -50.0, -50.0])
    assert tuned(figure, margin).tolist() == [5.0, 3.0, 5.0, 3.0, 5.0, 3.0]
    assert (tuned(figure, -np.ones(6)) == np.inf).all()  # buying nothing is best


def test_an_interval_is_over_runs_and_clusters():
    """A quarter with an outcome of 4 in 100 clusters of one run: sd .173 of the mean, by the binomial."""
    told = ratio_with_interval(np.array([[4.0] * 25 + [0.0] * 75]), np.ones(100))
    assert told["mean"] == 1.0
    assert told["high"] - told["low"] == pytest.approx(2 * 1.645 * 4 * np.sqrt(0.25 * 0.75 / 100), rel=0.06)
    still = ratio_with_interval(np.full((3, 7), 2.0), np.full(7, 4.0))
    assert still == {"mean": 0.5, "low": 0.5, "high": 0.5}


def test_all_ways_to_decide_meet_the_same_devices(tmp_path, truth):
    out = tmp_path / "money.json"
    asked = ["--units", "4", "--plays", "2", "--seed", "3", "--out", str(out)]
    assert money_per_decision.main(asked) == 0
    told = json.loads(out.read_text())
    assert told["devices"] == 4
    for world in told["worlds"].values():
        rows = world["rows"]
        assert rows["product"]["product_less_this"]["mean"] == 0
        assert rows["every device"]["bought"] == 1
        assert rows["product"]["bought"] == rows["product buys, usual bench"]["bought"]
    dearer = [wreck.asked for wreck in offered(truth, 40, 3)]
    paid = [wreck.asked for wreck in wrecks(truth, 40, 3)]
    assert 1.4 < np.median(np.divide(dearer, paid)) < 2.9
