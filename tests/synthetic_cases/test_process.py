"""The generated record shows the chances that the truth states.

Every check compares with a sum or an integral computed here, not with the code
that draws: shares within 4 standard errors, seeds fixed.
"""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from synthetic_cases.chances import Drift, conditional_logit, fresh_job_chance
from synthetic_cases.generate import generate_history
from tests.synthetic_cases.one_damage import plain_shop

KINDS = (
    "main-rail-short",
    "display-glass-cracked",
    "port-pins-damaged",
    "frame-bent",
    "cell-worn",
    "liquid-on-board",
    "microphone-dead",
    "depth-sensor-fault",
    "antenna-flex-torn",
)


def over_job_effects(function, sd):
    """Average a function of the job effect by the trapezoid rule on a fine grid."""
    effect = np.linspace(-9, 9, 20_001) * sd
    density = np.exp(-0.5 * (effect / sd) ** 2)
    return (function(effect) * density).sum() / density.sum()


def sigmoid(x):
    return 1 / (1 + np.exp(-x))


@pytest.mark.slow
def test_single_findings_are_fixed_as_often_as_the_truth_says(truth):
    shop = plain_shop(truth, [(kind,) for kind in KINDS])
    rows = generate_history(shop, seed=11, jobs=16_000)
    assert not rows["job"].duplicated().any() and (rows["outcome"] != "not-attempted").all()
    share = rows.assign(fixed=rows["outcome"] == "fixed").groupby(["finding", "severity"])["fixed"]
    for (kind, severity), (mean, count) in share.agg(["mean", "count"]).iterrows():
        chance = truth.kinds[kind].chance[severity - 1]
        assert count > 400
        assert abs(mean - chance) < 4 * np.sqrt(chance * (1 - chance) / count), (kind, severity)


def test_the_conversion_is_exact():
    logits = conditional_logit(np.array([0.02, 0.3, 0.85, 0.99]), 0.8)
    expected = [over_job_effects(lambda u, x=x: sigmoid(x + u), 0.8) for x in logits]
    np.testing.assert_allclose(expected, [0.02, 0.3, 0.85, 0.99], atol=1e-10)
    np.testing.assert_allclose(fresh_job_chance(logits, 0.8), [0.02, 0.3, 0.85, 0.99], atol=1e-12)


@pytest.mark.slow
def test_the_job_effect_correlates_the_repairs_of_one_unit(truth):
    # Two optional kinds: a failure of the first leaves the second to be tried.
    shop = plain_shop(truth, [("depth-sensor-fault", "fingerprint-sensor-dead")])
    rows = generate_history(shop, seed=12, jobs=9_000)
    middle = rows[rows.groupby("job")["severity"].transform("nunique") == 1]
    middle = middle[middle["severity"] == 2]
    both = (middle["outcome"] == "fixed").groupby(middle["job"]).all()
    chances = np.array([truth.kinds[slug].chance[1] for slug in middle["finding"].unique()])
    a, b = conditional_logit(chances, truth.job_effect_sd)
    expected = over_job_effects(lambda u: sigmoid(a + u) * sigmoid(b + u), truth.job_effect_sd)
    error = np.sqrt(expected * (1 - expected) / len(both))
    assert len(both) > 800
    assert abs(both.mean() - expected) < 4 * error
    assert expected - chances.prod() > 0.02  # what independence would have said


@pytest.mark.slow
def test_a_second_try_shares_the_difficulty_of_the_first(truth):
    shop = plain_shop(truth, [("port-pins-damaged",)])
    shop = replace(shop, bench=replace(shop.bench, second_try=1.0))
    rows = generate_history(shop, seed=13, jobs=14_000)
    rows = rows[rows["severity"] == 3]
    second = rows[rows["method"] == "swap-charge-board"]["outcome"] == "fixed"
    chance = np.array(truth.kinds["port-pins-damaged"].chance[2])
    first = float(conditional_logit(chance, truth.job_effect_sd))
    shared = truth.bench.shared_difficulty

    def fixed_second(u):
        p, q = sigmoid(first + u), sigmoid(first + truth.methods["swap-charge-board"].difference + u)
        return shared * np.maximum(q - p, 0) + (1 - shared) * q * (1 - p)

    failed_first = over_job_effects(lambda u: 1 - sigmoid(first + u), truth.job_effect_sd)
    expected = over_job_effects(fixed_second, truth.job_effect_sd) / failed_first
    assert len(second) > 700
    assert abs(second.mean() - expected) < 4 * np.sqrt(expected * (1 - expected) / len(second))


def test_hidden_faults_have_the_rate_implied_by_visible_damage(truth, history):
    rows = pd.concat([history, generate_history(truth, seed=14).assign(job=lambda d: "b" + d["job"])])
    opened = rows[rows["hidden_faults"] != ""]
    shown = opened[opened["known_at"] == "intake"].groupby("job")["finding"].agg(set)
    found = opened.groupby("job")["hidden_faults"].first().str.split(";").reindex(shown.index)
    for slug, fault in truth.hidden.items():
        base = np.log(fault.base / (1 - fault.base))
        weights = [sum(fault.raised_by.get(kind, 0) for kind in kinds) for kinds in shown]
        chance = sigmoid(base + np.array(weights))
        count = sum(slug in faults for faults in found)
        assert abs(count - chance.sum()) < 4 * np.sqrt((chance * (1 - chance)).sum()), slug


def test_a_repair_that_looks_hopeless_is_informative_about_the_job(truth):
    # Among units given up on sight the other optional repair, tried first, did worse.
    shop = plain_shop(truth, [("depth-sensor-fault", "fingerprint-sensor-dead")])
    giving_up = replace(shop.bench, hopeless=-1.0, hopeless_job_effect=truth.bench.hopeless_job_effect)
    rows = generate_history(replace(shop, bench=giving_up), seed=15, jobs=5_000)
    wide = rows.pivot(index="job", columns="finding", values="outcome")
    tried = wide[wide["fingerprint-sensor-dead"] != "not-attempted"]
    good = tried["fingerprint-sensor-dead"] == "fixed"
    gone = tried["depth-sensor-fault"] == "not-attempted"
    error = np.sqrt(good.mean() * (1 - good.mean()) * (1 / gone.sum() + 1 / (~gone).sum()))
    assert good[~gone].mean() - good[gone].mean() > 4 * error


@pytest.fixture(scope="module")
def many_jobs(truth):
    return generate_history(truth, seed=16, jobs=8_000)


@pytest.mark.slow
@pytest.mark.parametrize("piece", [(0, 30), (30, 90), (90, 400)])
def test_comebacks_match_their_hazards_up_to_the_day_the_record_ends(truth, catalogue, many_jobs, piece):
    """Observed less cumulated hazard has mean 0 and, as variance, the hazard (counting process)."""
    start, end = piece
    rows = many_jobs
    fixed = rows[(rows["outcome"] == "fixed") & rows["warranty_days"].notna()]
    families = fixed["finding"].map(lambda slug: catalogue.kinds[slug].family).groupby(fixed["job"]).agg(set)
    jobs = fixed.groupby("job").first().reindex(families.index)
    sold = pd.to_datetime(jobs["sold_date"])
    known = (pd.Timestamp(truth.as_of) - sold).dt.days
    back = (pd.to_datetime(jobs["comeback_date"]) - sold).dt.days
    seen = np.minimum(np.minimum(known, jobs["warranty_days"].astype(int)), back.fillna(np.inf))
    hazard = [sum(truth.families[f].comeback[[0, 30, 90].index(start)] for f in set_) for set_ in families]
    exposure = np.clip(seen - start, 0, end - start) / 30
    ours = jobs["comeback_kind"].isin(["same-fault", "our-damage", "dead-part"])
    observed = (ours & (back > start) & (back <= end)).sum()
    expected = (np.array(hazard) * exposure).sum()
    # Days are whole: a return on day d was exposed for half a day less on average.
    assert observed > 20
    assert abs(observed - expected) < 4 * np.sqrt(expected)


def test_sale_prices_have_the_ratio_of_their_tier_and_grade(truth, catalogue, history):
    bought = history[history["route"] == "bought"]
    repairs = bought[bought["finding"].map(lambda slug: catalogue.kinds[slug].role == "repair")]
    best = repairs.assign(fixed=repairs["outcome"] == "fixed").groupby(["job", "finding"])["fixed"].any()
    whole = best.groupby("job").all()
    jobs = bought.groupby("job").first().loc[whole[whole].index].dropna(subset=["sold"])
    for slug, tier in truth.tiers.items():
        ratio = np.log(jobs.loc[jobs["tier"] == slug].eval("sold / working_price").astype(float))
        error = truth.sales.sale_sd / np.sqrt(len(ratio))
        assert abs(ratio.mean() - np.log(tier.sale_ratio[0])) < 4 * error


def test_failures_take_longer_and_end_by_the_give_up_time(truth, history):
    minutes = history[history["finding"] == "liquid-on-board"].groupby("outcome")["minutes"].median()
    assert minutes["not-fixed"] > 1.1 * minutes["fixed"]
    assert history["minutes"].max() <= truth.minutes.give_up
    assert history["minutes"].min() >= 1


def attempts(rows):
    tried = rows[rows["outcome"] != "not-attempted"]
    return tried.set_index(["job", "finding", "method"])


@pytest.mark.slow
def test_a_drift_lowers_its_own_kind_and_leaves_every_other_outcome_alone(truth):
    date = "2025-03-01"
    drift = Drift("cell-worn", pd.Timestamp(date).date(), 0.5)
    before = attempts(generate_history(truth, seed=17, jobs=6_000))
    after = attempts(generate_history(truth, seed=17, jobs=6_000, drift=drift))
    pair = before.join(after, how="inner", suffixes=("_before", "_after")).reset_index()
    changed = pair[pair["outcome_before"] != pair["outcome_after"]]
    assert set(changed["finding"]) == {"cell-worn"}
    assert (changed["date_before"] >= date).all()

    late = after.reset_index().query("finding == 'cell-worn' and severity == 2 and date >= @date")
    share = (late["outcome"] == "fixed").mean()
    # Tier, technician and cause effects shift it a little: the shop's share, not the fresh-job chance.
    assert 0.35 < share < 0.75 and len(late) > 40


@pytest.mark.slow
def test_a_gradual_drift_changes_less_than_a_step(truth):
    day = pd.Timestamp("2025-01-01").date()
    fixed = {}
    for gradual in (False, True):
        rows = generate_history(truth, 18, 5_000, Drift("port-dirty", day, 0.3, gradual))
        late = attempts(rows).reset_index().query("finding == 'port-dirty' and date >= '2025-01-01'")
        fixed[gradual] = (late["outcome"] == "fixed").mean()
    assert fixed[True] - fixed[False] > 0.1
