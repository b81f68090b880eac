"""The invented shop written on the record job by job teaches and reviews what its file of past jobs does.

The truth beside it is the simulation's own: what each device was bought and sold for, and each try's cost.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest

from synthetic_cases.generate import generate_history, write_history
from synthetic_cases.truth import load_truth
from triage.domain.catalogue import load_catalogue
from triage.domain.job.records import (
    Attempt,
    Comeback,
    FoundDamage,
    HandOver,
    Intake,
    LookedInside,
    Moved,
    Payment,
)
from triage.domain.shop.settings import Fees, Tax
from triage.ledger.history.history_csv import read_history
from triage.ledger.history.history_rows import history_of
from triage.ledger.opening import open_ledger
from triage.outcome_models.registry import MODELS
from triage.priors.prior_set import load_priors
from triage.review.money.money_review import money_review
from triage.review.money.realised_margin import realised_margins
from triage.workflows.shop.shop import open_shop

JOBS = 120


@pytest.fixture(scope="module")
def table():
    made = generate_history(load_truth(), 11, JOBS)
    # A blank warranty in a file is the usual one; the record knows that none was given.
    made.loc[made["sold"].notna(), "warranty_days"] = made["warranty_days"].fillna(0)
    return made


@pytest.fixture(scope="module")
def from_file(table, tmp_path_factory):
    path = tmp_path_factory.mktemp("past") / "past.csv"
    write_history(table, path)
    return read_history(path, load_catalogue())


@pytest.fixture(scope="module")
def from_record(table, from_file, tmp_path_factory):
    ledger = open_ledger(str(tmp_path_factory.mktemp("record") / "shop.db"))
    try:
        for label, rows in table.groupby("job", sort=False):
            with ledger.writing(by="ada") as writing:
                write_job(writing, label, rows.to_dict("records"))
        with ledger.reading() as reading:
            return history_of(reading.jobs(), load_catalogue(), from_file.as_of)
    finally:
        ledger.close()


def cents(amount):
    return None if pd.isna(amount) else round(100 * amount)


def day(text):
    return date.fromisoformat(text) if text else None


def write_job(writing, label, rows):
    """A job as a bench writes it: intake, purchase, looks, tries, sale or hand-over, comeback."""
    first = rows[0]
    walk_in, begun = first["route"] == "walk-in", day(first["date"])
    intake = Intake(
        begun, "", tier=first["tier"], cause=first["cause"], technician=first["technician"],
        working_price_minor=cents(first["working_price"]), battery_looked_at=True,
    )  # fmt: skip
    job = writing.open_job(label, first["route"], "EUR", intake)
    seen = set()

    def found(known_at):
        for row in rows:
            if (row["known_at"] == "intake") == (known_at == "intake") and row["finding"] not in seen:
                seen.add(row["finding"])
                damage = FoundDamage(
                    row["finding"], row["severity"], row["zone"] or "", known_at=row["known_at"]
                )
                writing.append(job, damage)

    found("intake")
    writing.append(job, Moved("take", "taken", begun))
    if not walk_in:
        writing.append(job, Payment("purchase", -cents(first["paid"]), begun))
    writing.append(job, Moved("start", "in-work", begun))
    if first["hidden_faults"]:
        found_inside = first["hidden_faults"].replace("none", "")
        writing.append(job, LookedInside(found_inside, first["look_depth"] or None))
    found("later")
    for row in rows:
        minutes = None if pd.isna(row["minutes"]) else float(row["minutes"])
        tried = Attempt(
            row["finding"], row["outcome"], row["method"], row["why_not"], minutes,
            cents(row["parts_cost"]), cents(row["book_cost"]),
        )  # fmt: skip
        writing.append(job, tried)
    closed, left = day(first["closed"]), day(first["sold_date"])
    for move, state in (("verify", "verified"), ("make-ready", "ready")):
        writing.append(job, Moved(move, state, closed))
    if left is None:
        return
    price, warranty = (
        cents(first["sold"]),
        0 if pd.isna(first["warranty_days"]) else int(first["warranty_days"]),
    )
    writing.append(job, HandOver(left, "working", warranty_days=warranty))
    if price:
        writing.append(job, Payment("repair" if walk_in else "sale", price, left))
    fixed = any(row["outcome"] == "fixed" for row in rows)
    if walk_in:
        end = ("return-fixed", "returned-fixed") if fixed else ("return-unfixed", "returned-unfixed")
    else:
        end = ("sell", "sold")
    writing.append(job, Moved(*end, left))
    if first["comeback_date"]:
        writing.append(job, Comeback(day(first["comeback_date"]), first["comeback_kind"]))
        writing.append(job, Moved("come-back", "came-back", day(first["comeback_date"])))


@pytest.mark.parametrize("name", list(MODELS))
def test_every_model_learns_from_the_record_what_it_learns_from_the_file(name, from_record, from_file):
    catalogue = load_catalogue()
    priors = load_priors(None, catalogue)
    designs = [MODELS[name].design(history, catalogue, priors) for history in (from_record, from_file)]
    assert_same(*designs, name)


def assert_same(one, other, where):
    """Two designs hold the same arrays; fields compared in turn, so that a difference is named."""
    assert type(one) is type(other), where
    if isinstance(one, np.ndarray):
        np.testing.assert_array_equal(one, other, err_msg=where)
    elif hasattr(one, "__dataclass_fields__"):
        for field in one.__dataclass_fields__:
            assert_same(getattr(one, field), getattr(other, field), f"{where}.{field}")
    elif hasattr(one, "equals"):
        assert one.equals(other), where
    else:
        assert one == other, where


def test_the_review_of_the_record_is_the_truth(table, from_record):
    catalogue, shop = load_catalogue(), open_shop(today=from_record.as_of)
    settings = replace(shop.settings, bench_rate=30.0, fees=Fees(), tax=Tax("none", 0.0))
    true = table.groupby("job").agg(
        sold=("sold", "first"), paid=("paid", "first"), parts=("parts_cost", "sum"),
        minutes=("minutes", "sum"), back=("comeback_date", "first"),
    )  # fmt: skip
    true["margin"] = true["sold"] - true["paid"] - true["parts"] - true["minutes"].astype(float) * 30 / 60
    margins = realised_margins(from_record, catalogue, settings)
    # Every job that left is there, the losses too; only what still stands on the shelf has no margin yet.
    assert set(margins.money.index) == set(true.index[true["sold"].notna()])
    assert dict(margins.left_out) == {"not sold yet": int(true["sold"].isna().sum())}
    money = margins.money.join(true[["back", "margin"]].rename(columns={"margin": "margin_true"}))
    before_comebacks = money["margin"] + money["comeback"]
    np.testing.assert_allclose(before_comebacks, money["margin_true"], atol=1e-6)
    assert (money["comeback"] > 0).sum() > 0 and not (money["comeback"] > 0)[money["back"] == ""].any()
    review = money_review(from_record, catalogue, settings)
    told = review.total / review.jobs + money["comeback"].mean()
    assert told == pytest.approx(money["margin_true"].mean(), abs=1e-6)
