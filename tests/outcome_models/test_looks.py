"""Hidden faults learned from looks of different depth, on little shops with a known truth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from scipy.special import expit, logit
from scipy.stats import norm

from tests.outcome_models.recovery import assert_recovers, fitted
from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import DamageKind, Family, Repair
from triage.domain.history import History
from triage.outcome_models.hidden_fault import MODEL, build, design, looks
from triage.prediction.likelihood import log_likelihood
from triage.priors.hidden_fault import HiddenChance, HiddenFaultPriors
from triage.priors.prior_set import PriorSet

# "crack" is seen with the shields off only, "damp" on opening.
CATALOGUE = Catalogue(
    family=(Family("board", "board"),),
    kind=(
        DamageKind("chip", "chip", "board", seen_at="shields-off"),
        DamageKind("glass", "glass", "board"),
        DamageKind("crack", "crack", "board", hidden=True, seen_at="shields-off"),
        DamageKind("damp", "damp", "board", hidden=True, seen_at="opened"),
    ),
    repair=(
        Repair("chip-off", "x", ("chip",), access="shields-off"),
        Repair("new-glass", "x", ("glass",), access="opened"),
        Repair("reflow", "x", ("crack",), access="shields-off"),
        Repair("dry", "x", ("damp",), access="opened"),
    ),
)
PRIORS, DAY = PriorSet(), pd.Timestamp("2025-01-01")
CRACK, DAMP = 0, 1


def row(job, kind, outcome="fixed", known_at="intake", hidden="none", **more):
    return {"job": job, "date": DAY, "finding": kind, "outcome": outcome, "known_at": known_at,
            "hidden_faults": hidden, **more}  # fmt: skip


def history(rows):
    return History(pd.DataFrame(rows).fillna(""), DAY.date())


def interval(record, hidden=CRACK):
    """90 % interval of the chance of a hidden fault: its prior and its counts, on a grid of log odds."""
    made = design(record, CATALOGUE, PRIORS)
    opened, found = (int(part[made.hidden == hidden].sum()) for part in (made.opened, made.found))
    grid = np.linspace(-8, 4, 4001)
    log = norm.logpdf(grid, made.base[hidden], made.base_sd[hidden])
    log += found * np.log(expit(grid)) + (opened - found) * np.log(1 - expit(grid))
    mass = np.cumsum(np.exp(log - log.max()))
    return expit(np.interp([0.05, 0.95], mass / mass[-1], grid))


def shop(seed, jobs=2000, true=0.2, stops=False, shows_early=0.0):
    """Three devices in ten are worked on with the shields off; a crack is seen there and nowhere else.

    stops : a crack that is found ends the job before the work that brought it to light.
    shows_early : share of the cracks in the other devices that give themselves away, and are repaired.
    """
    rng, rows = np.random.default_rng(seed), []
    for job in range(jobs):
        deep, crack = rng.random() < 0.3, rng.random() < true
        found = crack and (deep or rng.random() < shows_early)
        hidden = "crack" if found else "none"
        ended = found and stops
        lead = "chip" if deep else "glass"
        rows.append(row(job, lead, "not-attempted" if ended else "fixed", hidden=hidden))
        if found:
            rows.append(row(job, "crack", "not-attempted" if ended else "fixed", "opening", hidden=hidden))
    return history(rows)


def test_a_fault_that_only_a_deep_look_shows_is_learned_from_deep_looks():
    record = shop(1)
    opened = len(record.jobs)
    assert (record.jobs["hidden_faults"] == "crack").sum() / opened == pytest.approx(0.06, abs=0.015)
    low, high = interval(record)
    assert low < 0.20 < high and high - low < 0.06


@pytest.mark.parametrize(
    "world", [{"stops": True}, {"shows_early": 0.5}, {"stops": True, "shows_early": 0.2}]
)
def test_what_is_done_about_a_fault_that_was_found_does_not_bias_its_chance(world):
    held = [low < 0.2 < high for low, high in (interval(shop(seed, **world)) for seed in range(20))]
    assert sum(held) >= 14  # of 20 intervals of 90 %, fewer than 14 in 2 of 1,000 such tests (binomial)


def test_a_shallow_look_settles_what_is_seen_on_opening():
    made = design(shop(2, jobs=50), CATALOGUE, PRIORS)
    assert made.opened[made.hidden == DAMP].sum() == 50
    assert made.opened[made.hidden == CRACK].sum() < 30


def test_a_stated_depth_counts_where_the_work_stayed_shallow():
    stated = [row(n, "glass", look_depth="shields-off") for n in range(4)]
    blank = [row(f"b{n}", "glass") for n in range(9)]
    made = design(history(stated + blank), CATALOGUE, PRIORS)
    assert made.opened[made.hidden == CRACK].tolist() == [4]


def test_a_fault_found_later_was_there():
    late = [row(1, "chip"), row(1, "crack", "not-fixed", "test")]
    (crack,) = [look for look in looks(history(late), CATALOGUE) if look.hidden == CRACK]
    assert crack.present


def test_looks_on_suspicion_have_a_shift_of_their_own():
    rng, rows = np.random.default_rng(3), []
    for job in range(400):
        suspected = job % 4 == 0
        crack = rng.random() < (0.5 if suspected else 0.1)
        why = "suspected" if suspected else "routine"
        hidden = "crack" if crack else "none"
        rows.append(row(job, "chip", hidden=hidden, look_reason=why))
    made = design(history(rows), CATALOGUE, PRIORS)
    assert made.coords["look_reason"] == ["suspected"]
    of = made.hidden == CRACK
    assert dict(zip(made.suspected[of], made.opened[of], strict=True)) == {0: 300, 1: 100}
    plain = design(shop(4, jobs=20), CATALOGUE, PRIORS)
    assert plain.coords["look_reason"] == [] and "suspected" not in build(plain, PRIORS).named_vars


def test_the_graph_is_a_binomial_of_chance_times_look():
    """By hand: 2 of 3 found by looks that show a fault in 8 of 10."""
    believed = HiddenFaultPriors(hidden=(HiddenChance("crack", 0.3, 0.5, look=0.8),))
    priors = replace(PRIORS, hidden_fault=believed)
    rows = [row(n, "chip", hidden=hidden) for n, hidden in enumerate(("crack", "crack", "none"))]
    record = history(rows)
    graph = build(design(record, CATALOGUE, priors), priors)
    found = graph.compile_logp(vars=[graph["found"]])
    start = graph.initial_point()

    def by_hand(chance):
        there = 0.8 * chance
        return np.log(3 * there**2 * (1 - there))

    odds = {"base": np.array([logit(0.3), -40.0])}  # no damp, and none found
    assert found(start | odds) == pytest.approx(by_hand(0.3), abs=1e-9)
    draws = xr.Dataset(
        {"base": (("draw", "hidden_kind"), [[logit(p), -40.0] for p in (0.2, 0.6)])},
        coords={"hidden_kind": ["crack", "damp"]},
    )
    told = log_likelihood("hidden_fault", draws, record, CATALOGUE, priors)
    assert told[1] - told[0] == pytest.approx(by_hand(0.6) - by_hand(0.2), abs=1e-9)


def test_the_shift_enters_graph_and_likelihood_alike():
    """One crack found on suspicion, none in a routine look: log of p(base + shift) (1 - p(base))."""
    rows = [
        row(1, "chip", hidden="crack", look_reason="suspected"),
        row(2, "chip", hidden="none", look_reason="routine"),
    ]
    record = history(rows)
    graph = build(design(record, CATALOGUE, PRIORS), PRIORS)
    found, start = graph.compile_logp(vars=[graph["found"]]), graph.initial_point()
    draws = xr.Dataset(
        {"base": (("draw", "hidden_kind"), [[-1.0, -40.0], [-2.0, -40.0]]),
         "suspected": (("draw", "look_reason"), [[0.5], [1.5]])},
        coords={"hidden_kind": ["crack", "damp"], "look_reason": ["suspected"]},
    )  # fmt: skip
    told = log_likelihood("hidden_fault", draws, record, CATALOGUE, PRIORS)
    for place, (base, shift) in enumerate(((-1.0, 0.5), (-2.0, 1.5))):
        by_hand = np.log(expit(base + shift)) + np.log(1 - expit(base))
        point = start | {"base": np.array([base, -40.0]), "suspected": np.array([shift])}
        assert found(point) == pytest.approx(by_hand, abs=1e-9)
        assert told[place] == pytest.approx(by_hand, abs=1e-9)


@pytest.mark.slow
def test_the_fit_recovers_chance_and_shift():
    rng, rows = np.random.default_rng(5), []
    for job in range(3000):
        suspected = rng.random() < 0.3
        crack = rng.random() < expit(-2.0 + 1.2 * suspected)
        why = "suspected" if suspected else "routine"
        rows.append(row(job, "chip", hidden="crack" if crack else "none", look_reason=why))
    draws = fitted(MODEL, history(rows), CATALOGUE, PRIORS)
    assert_recovers(draws["base"].sel(hidden_kind="crack"), -2.0)
    assert_recovers(draws["suspected"].isel(look_reason=0), 1.2)
