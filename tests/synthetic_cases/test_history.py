"""The shipped record: its columns, its values, and consistency within each job."""

import numpy as np
import pandas as pd
import pytest

from synthetic_cases.generate import SHIPPED, generate_history, main

COLUMNS = [
    "job",
    "date",
    "route",
    "tier",
    "cause",
    "technician",
    "finding",
    "zone",
    "severity",
    "known_at",
    "outcome",
    "why_not",
    "method",
    "minutes",
    "book_cost",
    "parts_cost",
    "working_price",
    "paid",
    "sold",
    "sold_date",
    "closed",
    "hidden_faults",
    "comeback_date",
    "comeback_kind",
    "warranty_days",
    "ending",
    "look_depth",
    "strip_minutes",
    "selling_fees",
    "parts_margin",
]
PER_JOB = [
    "date",
    "route",
    "tier",
    "cause",
    "technician",
    "working_price",
    "paid",
    "sold",
    "sold_date",
    "closed",
    "hidden_faults",
    "comeback_date",
    "comeback_kind",
    "warranty_days",
    "look_depth",
    "ending",
    "strip_minutes",
    "selling_fees",
    "parts_margin",
]
ALLOWED = {
    "route": {"bought", "walk-in"},
    "tier": {"budget", "middle", "upper", "top"},
    "cause": {"dropped", "bent", "wet", "crushed", "worn"},
    "technician": {"north-bench", "window-bench", "back-bench"},
    "severity": {1, 2, 3},
    "known_at": {"intake", "opening", "test"},
    "outcome": {"fixed", "not-fixed", "not-attempted"},
    "why_not": {"", "job-stopped", "looked-hopeless", "owner-said-no", "no-part", "too-dear"},
    "comeback_kind": {"", "same-fault", "our-damage", "dead-part", "new-damage", "no-fault-found"},
    "ending": {"", "stripped", "sold", "disposed"},
}


@pytest.fixture(scope="module")
def jobs(history):
    return history.groupby("job").first()


@pytest.fixture(scope="module")
def attempted(history):
    return history[history["outcome"] != "not-attempted"]


def test_the_shipped_file_is_what_the_command_writes(tmp_path):
    assert main(["--out", str(tmp_path / "past-jobs.csv")]) == 0
    assert (tmp_path / "past-jobs.csv").read_bytes() == SHIPPED.read_bytes()
    assert list(tmp_path.iterdir()) == [tmp_path / "past-jobs.csv"]


def test_the_seed_determines_the_whole_record(truth):
    first, again, other = (generate_history(truth, seed, jobs=200) for seed in (1, 1, 2))
    pd.testing.assert_frame_equal(first, again)
    assert not first.equals(other)


def test_size(truth, catalogue, history, attempted):
    assert history["job"].nunique() == truth.jobs >= 2_500
    assert 5_500 <= len(history) <= 6_500
    readme = (SHIPPED.parent / "README.md").read_text(encoding="utf-8")
    assert f"{truth.jobs:,} past jobs, {len(history):,} rows" in readme
    assert set(history["finding"]) >= {kind.slug for kind in catalogue.kind if kind.role == "repair"}
    assert 1 <= history[history["known_at"] == "intake"].groupby("job")["finding"].nunique().min()
    assert history[history["known_at"] == "intake"].groupby("job")["finding"].nunique().max() == 8
    count = attempted.groupby("finding").size().reindex(list(truth.kinds), fill_value=0)
    assert count.min() > 0
    assert (count < 50).mean() >= 1 / 3


def test_columns_and_allowed_values(history, catalogue):
    assert list(history.columns) == COLUMNS
    for column, allowed in ALLOWED.items():
        assert set(history[column]) == allowed, column
    assert set(history["finding"]) <= set(catalogue.kinds)
    stops = {kind.slug for kind in catalogue.kind if kind.role == "stop"}
    assert not stops & set(history["finding"])
    for kind, zone in set(zip(history["finding"], history["zone"], strict=True)):
        assert zone in (catalogue.kinds[kind].zones or ("",))
    assert history["job"].str.fullmatch(r"sl-\d{5}").all()


def test_job_columns_are_the_same_on_all_rows_of_a_job(history):
    assert (history.groupby("job")[PER_JOB].nunique(dropna=False) == 1).all(axis=None)


def test_dates_are_in_order_and_none_lies_after_the_end(truth, history, jobs):
    assert jobs["date"].is_monotonic_increasing
    assert jobs["date"].min() >= str(truth.start)
    for earlier, later in (("date", "closed"), ("closed", "sold_date"), ("sold_date", "comeback_date")):
        both = jobs[jobs[later] != ""]
        assert (both[earlier] <= both[later]).all()
    for column in ("date", "closed", "sold_date", "comeback_date"):
        assert jobs[column].max() <= str(truth.as_of)


def test_units_still_unsold_and_warranties_still_running_at_the_end(truth, jobs):
    unsold = jobs["sold"].isna()
    assert (unsold == (jobs["sold_date"] == "")).all()
    assert unsold.sum() >= 20
    assert (jobs.loc[unsold, "closed"] > "2026-05-01").mean() > 0.7
    assert jobs.loc[unsold, "warranty_days"].isna().all()
    assert (jobs.loc[unsold, "comeback_date"] == "").all()
    covered = jobs[jobs["warranty_days"].notna()]
    left = (pd.Timestamp(truth.as_of) - pd.to_datetime(covered["sold_date"])).dt.days
    assert (left < covered["warranty_days"]).sum() >= 100


def test_returns_lie_within_the_warranty(jobs):
    back = jobs[jobs["comeback_date"] != ""]
    days = (pd.to_datetime(back["comeback_date"]) - pd.to_datetime(back["sold_date"])).dt.days
    assert (days >= 1).all() and (days <= back["warranty_days"]).all()
    assert ((jobs["comeback_date"] == "") == (jobs["comeback_kind"] == "")).all()


def test_why_not_is_given_exactly_for_repairs_not_attempted(catalogue, history):
    risk = history["finding"].map(lambda slug: catalogue.kinds[slug].role == "risk")
    idle = history["outcome"] == "not-attempted"
    assert (history["why_not"] != "").equals(idle & ~risk)
    assert idle[risk].all()
    assert (history["method"] != "").equals(~idle)
    assert set(history.loc[history["why_not"] == "owner-said-no", "route"]) == {"walk-in"}


def test_one_method_in_one_job_is_one_attempt_led_by_the_first_it_closes(catalogue, attempted):
    rows = attempted.assign(
        place=[
            catalogue.repairs[method].closes.index(kind)
            for method, kind in zip(attempted["method"], attempted["finding"], strict=True)
        ]
    )
    attempts = rows.groupby(["job", "method"], sort=False)
    first = attempts.cumcount() == 0
    assert (rows["place"] == attempts["place"].transform("min"))[first].all()
    assert (attempts["outcome"].nunique() == 1).all()
    assert (rows["minutes"].notna() == first).all()
    assert (rows["parts_cost"].notna() == first).all()
    shared = attempted[attempted["method"] == "swap-housing"].groupby("job").size()
    assert (shared > 1).any()


def test_a_second_try_follows_a_failure_of_a_required_repair_by_another_method(catalogue, attempted):
    tries = attempted.groupby(["job", "finding"], sort=False)
    count = tries.size()
    assert count.max() == 2 and (count == 2).sum() >= 30
    for (_, _), rows in (group for group in tries if len(group[1]) == 2):
        assert rows["outcome"].iloc[0] == "not-fixed"
        assert rows["method"].nunique() == 2


def test_a_job_stops_where_a_needed_repair_is_lost_for_good(catalogue, history):
    needed = history["finding"].map(lambda slug: catalogue.kinds[slug].needed)
    repair = history["finding"].map(lambda slug: catalogue.kinds[slug].role == "repair")
    fixed = history["outcome"] == "fixed"
    mended = fixed.groupby([history["job"], history["finding"]]).transform("any")
    last = history.groupby("job").cumcount()
    lost = repair & needed & ~mended & ((history["outcome"] == "not-fixed") | (history["why_not"] != ""))
    first_loss = last.where(lost).groupby(history["job"]).transform("min")
    later = last > first_loss
    assert not (fixed & later).any()
    stopped = history["why_not"] == "job-stopped"
    assert lost.groupby(history["job"]).transform("any")[stopped].all()


def test_hidden_faults_are_listed_where_the_unit_was_opened(truth, history, jobs):
    never = history[history["hidden_faults"] == ""]
    assert (never["known_at"] == "intake").all()
    assert 0.02 < (jobs["hidden_faults"] == "").mean() < 0.2
    for job, rows in history[history["finding"].isin(truth.hidden)].groupby("job"):
        assert (rows["known_at"] == "opening").all()
        assert set(rows["hidden_faults"].iloc[0].split(";")) == set(rows["finding"]), job


def test_money(history, jobs):
    for column in ("book_cost", "parts_cost", "working_price", "paid", "sold"):
        value = history[column].dropna().to_numpy(float)
        assert (value >= 0).all()
        np.testing.assert_allclose(value * 100, np.round(value * 100), atol=1e-6)
    assert (jobs["paid"] > 0).equals(jobs["route"] == "bought")
    owner = jobs[(jobs["route"] == "walk-in") & jobs["sold"].notna()]
    assert ((owner["sold"] > 0) == (owner["warranty_days"] > 0)).all()


def drift(kind, start, chance):
    return ["--drift", kind, "--drift-from", start, "--drift-to-chance", chance]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--jobs", "0"], "--jobs"),
        (["--seed", "-1"], "--seed"),
        (["--drift", "cell-worn"], "go together"),
        (drift("cell-wron", "2025-01-01", "0.5"), "cell-wron"),
        (drift("cell-worn", "2025-01-01", "1"), "--drift-to-chance: 1.0"),
        (drift("cell-worn", "2030-01-01", "0.5"), "--drift-from: allowed"),
    ],
)
def test_unusable_arguments_are_named(tmp_path, capsys, arguments, words):
    with pytest.raises(SystemExit) as caught:
        main([*arguments, "--out", str(tmp_path / "out.csv")])
    assert caught.value.code == 2
    assert words in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


def test_the_drift_of_the_command_line_is_written(tmp_path):
    out = tmp_path / "drift.csv"
    options = drift("display-glass-cracked", "2025-06-01", "0.4")
    main(["--seed", "5", "--jobs", "1500", "--out", str(out), *options])
    rows = pd.read_csv(out, keep_default_na=False)
    tried = rows[(rows["finding"] == "display-glass-cracked") & (rows["outcome"] != "not-attempted")]
    fixed = (tried["outcome"] == "fixed").groupby(tried["date"] >= "2025-06-01").mean()
    assert fixed[False] - fixed[True] > 0.2
