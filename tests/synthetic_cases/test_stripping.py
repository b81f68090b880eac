"""Stopped devices of the invented shop end one of three ways, by pencil and in the shipped record.

Every expectation is computed here from the truth's figures. Shares within 4 standard errors, seeds fixed.
"""

from dataclasses import replace

import numpy as np
import pytest

from synthetic_cases.bench_work import JobRecord, Line
from synthetic_cases.generate import generate_history
from synthetic_cases.jobs import Jobs
from synthetic_cases.stripping import part_fates, strip

COUNT = 20_000


def record(*found, opened=True):
    """A stopped job with damage as (kind, severity, outcome)."""
    lines = tuple(Line(kind, severity, "", "intake", outcome) for kind, severity, outcome in found)
    return JobRecord(lines, opened, False, len(found), 0.0)


def fates(truth, catalogue, *found, unseen=None):
    records = [record(*found)] * COUNT
    price, rng = np.full(COUNT, 200.0), np.random.default_rng(1)
    drawn = part_fates(truth, catalogue, price, records, [unseen or {}] * COUNT, rng)
    return dict(zip(truth.parts, drawn.good.T, strict=True)), drawn


def near(hits, chance):
    return abs(hits.mean() - chance) < 4 * np.sqrt(chance * (1 - chance) / len(hits)) + 1e-12


def test_a_part_is_ruined_as_often_as_the_truth_says(truth, catalogue):
    good, drawn = fates(truth, catalogue, ("liquid-on-board", 2, "not-fixed"))
    ruins = truth.ruins["liquid-on-board"]
    for part in ("main-board", "display", "cameras", "rest"):
        assert near(good[part], 1 - ruins[part].chance[1]), part
    assert near(drawn.starts, 1 - ruins["testing"].chance[1])
    assert good["housing"].all()


def test_one_family_ruins_by_its_largest_and_families_each_for_themselves(truth, catalogue):
    kinds = ("joint-cracked", "small-parts-knocked-off")
    assert {catalogue.kinds[kind].family for kind in kinds} == {"main-board"}
    board = max(truth.ruins[kind]["main-board"].chance[0] for kind in kinds)
    good, _ = fates(truth, catalogue, *((kind, 1, "not-fixed") for kind in kinds))
    assert near(good["main-board"], 1 - board)
    good, _ = fates(
        truth, catalogue, ("joint-cracked", 1, "not-fixed"), ("liquid-mark-dry", 1, "not-attempted")
    )
    wet = truth.ruins["liquid-mark-dry"]["main-board"].chance[0]
    cracked = truth.ruins["joint-cracked"]["main-board"].chance[0]
    assert near(good["main-board"], (1 - cracked) * (1 - wet))


def test_what_was_fixed_counts_no_more_unless_it_stays_and_what_nobody_found_counts(truth, catalogue):
    good, drawn = fates(truth, catalogue, ("liquid-on-board", 3, "fixed"))
    assert good["main-board"].all() and drawn.starts.all()
    assert truth.ruins["liquid-on-board"]["cameras"].stays
    assert near(good["cameras"], 1 - truth.ruins["liquid-on-board"]["cameras"].chance[2])
    good, _ = fates(truth, catalogue, unseen={"liquid-under-shield": 1})
    assert near(good["main-board"], 1 - truth.ruins["liquid-under-shield"]["main-board"].chance[0])


def test_prices_have_their_median_and_spread_and_what_damage_leaves_of_them(truth, catalogue):
    _, drawn = fates(truth, catalogue, ("display-glass-cracked", 2, "not-fixed"))
    for place, (slug, part) in enumerate(truth.parts.items()):
        ruin = truth.ruins["display-glass-cracked"].get(slug)
        median = 200.0 * part.price * (ruin.left[1] if ruin else 1.0)
        gap = np.log(drawn.price[:, place] / median)
        assert abs(gap.mean()) < 4 * part.spread / np.sqrt(COUNT)
        assert gap.std() == pytest.approx(part.spread, rel=0.03)


def test_a_sound_device_stripped_brings_the_sum_of_its_parts(truth, catalogue):
    """By hand: all parts good, prices without luck; the cheap rest is not worth its eight minutes."""
    parts = {slug: replace(part, spread=0.0) for slug, part in truth.parts.items()}
    rules = replace(truth.stripping, minutes_sd=0.0)
    plain = replace(truth, parts=parts, stripping=rules)
    day = np.array(["2025-01-01"], dtype="datetime64[D]")
    one = np.zeros(1, dtype=int)
    jobs = Jobs(day, day, one, one, one.astype(bool), np.array([200.0]), np.zeros(1))
    done = strip(plain, catalogue, jobs, [record()], [{}], np.array([40.0]), np.random.default_rng(3))
    taken = [slug for slug in parts if slug != "rest"]
    prices = {slug: 200.0 * parts[slug].price for slug in taken}
    assert rules.minute * 8 > 200.0 * parts["rest"].price * 0.9 - rules.post
    assert done.ending[0] == "stripped"
    assert done.sold[0] == pytest.approx(sum(prices.values()))
    own = sum(parts[slug].minutes + parts[slug].test_minutes for slug in taken)
    assert done.minutes[0] == rules.start + rules.board_out + own
    assert done.fees[0] == pytest.approx(0.1 * sum(prices.values()) + 4 * rules.post)
    assert done.margin[0] == pytest.approx(sum(prices.values()) - 40.0)  # every part brought its share


def test_stopped_jobs_of_the_record_end_one_of_three_ways(history):
    jobs = history.groupby("job").first()
    ended = jobs[jobs["ending"] != ""]
    assert (ended["route"] == "bought").all() and ended["sold"].notna().all()
    assert (ended["ending"].value_counts() > 40).all() and ended["ending"].nunique() == 3
    stripped, others = ended[ended["ending"] == "stripped"], jobs[jobs["ending"] != "stripped"]
    for column in ("strip_minutes", "selling_fees", "parts_margin"):
        assert stripped[column].notna().all() and others[column].isna().all()
    assert (stripped["parts_margin"] <= stripped["sold"]).all()
    assert (ended.loc[ended["ending"] == "disposed", "sold"] == 0).all()


def test_luck_of_parts_is_apart_from_all_other_luck(truth):
    """Another truth of parts changes nothing of a record but what stopped devices brought."""
    ruins = {"board-bent": truth.ruins["board-bent"]}
    other = generate_history(replace(truth, ruins=ruins), truth.seed, jobs=600)
    same = generate_history(truth, truth.seed, jobs=600)
    money = ["sold", "ending", "strip_minutes", "selling_fees", "parts_margin"]
    assert other.drop(columns=money).equals(same.drop(columns=money))
    changed = (other["sold"] != same["sold"]) & other["sold"].notna()
    assert changed.any() and (same.loc[changed, "ending"] != "").all()
