"""The review on made-up records whose answer is known."""

import numpy as np
import pandas as pd
import pytest

from tests.review.money_records import CATALOGUE, FREE, KINDS, SETTINGS, history, row
from triage.review.money.attribution import attribute
from triage.review.money.money_review import BY, money_review
from triage.review.money.regret import PassedUnit


def made_up(jobs=300, seed=1, costs=(0.0, -10.0, -70.0, 5.0), paid=50.0):
    """Jobs of two routes and tiers whose sale price is a base and what each finding takes off, and luck."""
    rng, rows = np.random.default_rng(seed), []
    for number in range(jobs):
        tier, technician = rng.choice(["low", "high"]), rng.choice(["a-bench", "b-bench", "c-bench"])
        kinds = np.flatnonzero(rng.random(4) < (0.5, 0.4, 0.25, 0.3))
        kinds = kinds if len(kinds) else np.array([0])
        sold = {"low": 120.0, "high": 160.0}[tier] + sum(costs[k] for k in kinds) + rng.normal(0, 15)
        shared = {
            "tier": tier,
            "technician": technician,
            "sold": max(sold, 1.0),
            "paid": paid,
            "cause": "dropped",
        }
        shared["route"] = rng.choice(["bought", "walk-in"])
        rows += [row(f"j{number}", KINDS[k], severity=int(rng.integers(1, 4)), **shared) for k in kinds]
    return history(rows)


@pytest.fixture(scope="module")
def record():
    return made_up()


def test_shares_are_worked_out_on_paper():
    # Four jobs of one base, in pairs alike: with 10,000 of each, pooling and noise play no part.
    # Base 100, one takes off 30, the other 10: alone 70 and 90, together 60.
    has = np.repeat([[1, 0], [0, 1], [1, 1]], 10_000, axis=0).astype(bool)
    margins = np.repeat([70.0, 90.0, 60.0], 10_000) + np.tile([-1.0, 1.0], 15_000)
    fitted = attribute(margins, has, np.zeros(len(has), dtype=int))
    assert fitted.bases == pytest.approx([100.0], abs=0.1)
    assert fitted.effects_of(np.eye(2, dtype=bool)).mean == pytest.approx([-30.0, -10.0], abs=0.1)
    # Each kind is half of the time alone, with a base of 100, and half together, with 50 of it.
    shares = fitted.shares_of(np.eye(2, dtype=bool)).mean
    assert shares == pytest.approx([75.0 - 30.0, 75.0 - 10.0], abs=0.1)
    assert 20_000 * shares.sum() == pytest.approx(margins.sum(), rel=1e-9)
    # Both as one group: answerable for all there is.
    assert fitted.shares_of(np.ones((1, 2), dtype=bool)).mean == pytest.approx([margins.mean()])


@pytest.mark.parametrize("by", [by for by in BY if by != "technician"])
def test_totals_add_up_to_the_money_of_the_record(record, by):
    review = money_review(record, CATALOGUE, SETTINGS, by)
    assert sum(group.total for group in review.groups) == pytest.approx(review.total, abs=1e-6)
    totals = [group.total for group in review.groups]
    assert totals == sorted(totals)
    for group in review.groups:
        assert group.mean.low < group.mean.mean < group.mean.high
        assert 0.0 <= group.pulled <= 1.0
        assert len(group.members) == group.counted == group.jobs
        assert [job.margin for job in group.members] == sorted(job.margin for job in group.members)


def test_bases_and_effects_add_up_too(record):
    from triage.review.money.money_review import _fit
    from triage.review.money.realised_margin import realised_margins

    money = realised_margins(record, CATALOGUE, SETTINGS).money
    fitted, _ = _fit(record, money)
    assert len(fitted.bases) == 4  # two routes in two tiers
    effects = fitted.effects_of(np.eye(4, dtype=bool)).mean @ fitted.has.sum(axis=0)
    assert fitted.bases[fitted.base].sum() + effects == pytest.approx(money["margin"].sum(), abs=1e-6)


def test_a_kind_made_to_lose_money_is_found_at_the_top():
    # Bought units keep 30 to 70 before damage, an owner's 120 to 160. Only a wet board takes anything off.
    review = money_review(made_up(costs=(0.0, 0.0, -115.0, 0.0), paid=90.0), CATALOGUE, FREE)
    worst, *others = review.groups
    assert worst.slug == "board-wet" and worst.mean.loss_chance > 0.99 and worst.had_it.mean < 0
    assert all(group.mean.loss_chance < 0.05 and not group.changes for group in others)
    # No fees, no tax: what brings the mean to zero is the mean.
    assert {change.route for change in worst.changes} == {"bought", "walk-in"}
    assert [change.amount for change in worst.changes] == pytest.approx([-worst.mean.mean] * 2, abs=1e-3)


def test_a_price_change_goes_through_fees_and_tax():
    rows = [
        row(f"j{n}", "hinge-loose", route=route, tier="low", paid=paid, sold=sold, minutes=100.0)
        for n, (route, paid, sold) in enumerate([("bought", 90.0, 130.0), ("walk-in", 0.0, 60.0)] * 20)
    ]
    review = money_review(history(rows), CATALOGUE, SETTINGS, "route")
    bought, owners = (next(g for g in review.groups if g.slug == slug) for slug in ("bought", "walk-in"))
    # A euro less paid saves 1.10 and bears 1/6 more tax; a euro more quoted leaves 1 - .02 - 1/6.
    assert bought.changes[0].amount == pytest.approx(-bought.mean.mean / (1.1 - 1 / 6), abs=1e-3)
    assert owners.changes[0].amount == pytest.approx(-owners.mean.mean / (1 - 0.02 - 1 / 6), abs=1e-3)


def test_a_small_group_is_moved_towards_the_others_and_says_so():
    record = made_up(costs=(0.0, -10.0, -20.0, 5.0))
    few = pd.concat([record.rows, pd.DataFrame([
        row("odd", "screen-dim", tier="low", technician="a-bench", cause="wet", paid=50.0, sold=30.0)
    ])])  # fmt: skip
    review = money_review(history(few.to_dict("records")), CATALOGUE, FREE, "cause")
    wet = next(group for group in review.groups if group.slug == "wet")
    assert wet.jobs == 1 and wet.total == pytest.approx(-20.0)
    assert wet.pulled_words == "few jobs (1): moved towards the others"
    assert wet.mean.mean > -20.0
    assert next(g for g in review.groups if g.slug == "dropped").pulled_words == ""


def test_technicians_are_adjusted_in_alphabetical_order_and_not_totalled():
    # b-bench gets all the wet boards, which lose money, and is as good as the others.
    rows = made_up(jobs=600).rows
    wet = rows.loc[rows["finding"] == "board-wet", "job"].unique()
    rows.loc[rows["job"].isin(wet[:-12]), "technician"] = "b-bench"
    review = money_review(history(rows.to_dict("records")), CATALOGUE, FREE, "technician")
    assert [group.slug for group in review.groups] == ["a-bench", "b-bench", "c-bench"]
    assert all(group.total is None and not group.changes for group in review.groups)
    assert "not ranked" in review.explained[0]
    raw = (
        history(rows.to_dict("records"))
        .jobs.eval("sold - paid")
        .where(
            history(rows.to_dict("records")).jobs["route"] == "bought",
            history(rows.to_dict("records")).jobs["sold"],
        )
    )
    by_bench = raw.groupby(history(rows.to_dict("records")).jobs["technician"]).mean()
    means = [group.mean.mean for group in review.groups]
    assert by_bench.max() - by_bench.min() > 30.0 and max(means) - min(means) < 8.0


def test_a_record_without_money_is_reviewed_for_what_it_has():
    bare = made_up(60).rows[["job", "date", "finding", "outcome"]]
    for by in BY:
        review = money_review(history(bare.to_dict("records")), CATALOGUE, SETTINGS, by)
        assert review.jobs == 0 and {"sold", "minutes", "parts_cost"} <= set(review.lacks)
        assert bool(review.groups) == (by in ("kind", "family"))
        assert (by in review.lacks) == (by not in ("kind", "family"))
        for group in review.groups:
            assert group.total is None and group.counted and group.attempts >= group.fixed


@pytest.mark.slow
def test_one_job_is_enough():
    alone = history([row("a", "hinge-loose", paid=60.0, sold=50.0, tier="low", technician="a", cause="wet")])
    for by in BY:
        (group,) = money_review(alone, CATALOGUE, FREE, by).groups
        assert np.isfinite(group.mean.mean) and group.jobs == 1


def test_passed_units_count_as_regret_where_their_fate_is_known():
    passed = [
        PassedUnit("p1", 40.0, 10.0, 35.0), PassedUnit("p2", 60.0, -5.0, -20.0),
        PassedUnit("p3", None, None, 15.0), PassedUnit("p4", 30.0, 12.0, None),
    ]  # fmt: skip
    told = money_review(made_up(40), CATALOGUE, FREE, passed=passed).regret
    assert (told.known, told.unknown, told.would_have_earned) == (3, 1, 2)
    assert (told.forgone, told.spared, told.expected_gap) == pytest.approx((50.0, 20.0, 5.0))
    assert [unit.label for unit in told.units] == ["p1", "p3", "p2"]


def test_a_damage_whose_margins_scatter_more_has_a_wider_interval():
    rows = made_up(400, costs=(0.0, -60.0, 60.0, -20.0)).rows
    wet = rows.loc[rows["finding"] == "board-wet", "job"].unique()
    swing = dict(zip(wet, np.random.default_rng(3).normal(0.0, 90.0, len(wet)), strict=True))
    rows["sold"] = (rows["sold"] + rows["job"].map(swing).fillna(0.0) + 300.0).clip(lower=1.0)
    groups = {g.slug: g for g in money_review(history(rows.to_dict("records")), CATALOGUE, FREE).groups}
    width = {slug: group.effect.high - group.effect.low for slug, group in groups.items()}
    # They come about as often; only the wet boards' margins are a matter of luck.
    assert width["board-wet"] > 1.3 * width["key-stuck"]
