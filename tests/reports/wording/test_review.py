"""The money review as charts and words."""

import pytest

from tests.review.money_records import CATALOGUE, FREE, history, row
from triage.reports.charts.answer import GAIN, LOSS
from triage.reports.charts.review import charted, mean_intervals, review_words
from triage.reports.wording.review import (
    change_words,
    job_detail,
    job_head,
    lead_words,
    missing_words,
    regret_words,
)
from triage.review.money.job_lines import job_lines
from triage.review.money.money_review import money_review
from triage.review.money.regret import PassedUnit


@pytest.fixture(scope="module")
def record():
    def job(number, kind, sold, **more):
        shared = {"tier": "low", "technician": f"bench-{number % 2}", "cause": "dropped"}
        return row(f"j{number}", kind, paid=40.0, sold=sold + number % 3, **shared, **more)

    jobs = [job(n, "board-wet", 15.0) for n in range(20)] + [
        job(n, "hinge-loose", 70.0) for n in range(20, 60)
    ]
    return history(jobs)


def layers(chart):
    return {layer["mark"]["type"]: layer for layer in chart.to_dict()["layer"]}


def test_means_are_sorted_by_total_and_say_how_many_jobs(record):
    marks = layers(mean_intervals(money_review(record, CATALOGUE, FREE)))
    rows = marks["point"]["data"]["values"]
    assert [r["line"] for r in rows] == ["board wet, 20 jobs", "hinge loose, 40 jobs"]
    assert marks["point"]["encoding"]["y"]["sort"] == [r["line"] for r in rows]
    assert rows[0]["mean"] < 0 < rows[1]["mean"] and rows[0]["money"].startswith("−€")
    scale = marks["point"]["encoding"]["color"]["scale"]
    assert scale == {"domain": ["loss", "gain"], "range": [LOSS, GAIN]}


def test_every_mean_has_its_interval_in_the_same_order(record):
    review = money_review(record, CATALOGUE, FREE)
    rows = layers(mean_intervals(review))["point"]["data"]["values"]
    assert [r["mean"] for r in rows] == [group.mean.mean for group in review.groups]
    assert all(r["low"] < r["mean"] < r["high"] for r in rows)


def test_the_words_say_what_the_picture_shows(record):
    review = money_review(record, CATALOGUE, FREE)
    words = review_words(review)
    assert "1 of the 2 means drawn are losses" in words and "board wet, 20 jobs: −€" in words
    assert review_words(
        money_review(history([row("a", "board-wet", sold=float("nan"))]), CATALOGUE, FREE)
    ) == ("The record holds no job with a margin.")


def test_long_reviews_are_shown_from_both_ends(record):
    review = money_review(record, CATALOGUE, FREE)
    assert charted(review, 1) == review.groups[:1]
    assert charted(review, 2) == review.groups


def test_the_lead_names_the_worst_and_how_certain_that_is(record):
    review = money_review(record, CATALOGUE, FREE)
    lost = f"€{-review.groups[0].total:.0f}"
    assert lead_words(review) == (
        f"Board wet lost {lost} over 20 jobs; the chance that its true mean is below 0 is more than 19 in "
        f"20. 1 of 2 damage kinds lost money, {lost} in total."
    )
    assert lead_words(money_review(record, CATALOGUE, FREE, "tier")).startswith(
        "No price class loses money in total."
    )
    assert "same mix of work" in lead_words(money_review(record, CATALOGUE, FREE, "technician"))


def test_a_job_s_line_adds_up(record):
    review = money_review(record, CATALOGUE, FREE)
    line = job_lines(review.groups[0], record, CATALOGUE, FREE)[0]
    assert job_head(line, "EUR") == "lost €25.00"
    assert job_detail(line, "EUR") == (
        "2 Jan 2026, bought: board wet (fixed). Sold €15.00, less paid €40.00."
    )
    untold = history([row("a", "board-wet", "not-attempted", sold=float("nan"))])
    (line,) = job_lines(money_review(untold, CATALOGUE, FREE).groups[0], untold, CATALOGUE, FREE)
    assert (job_head(line, "EUR"), line.margin) == ("costs incomplete", None)
    assert job_detail(line, "EUR") == "2 Jan 2026, bought: board wet (not attempted)."


def test_technicians_are_in_alphabetical_order(record):
    review = money_review(record, CATALOGUE, FREE, "technician")
    assert "in alphabetical order: bench-0" in review_words(review)
    assert len(layers(mean_intervals(review))["point"]["data"]["values"]) == 2


def test_price_changes_and_regret_in_words(record):
    passed = [PassedUnit("p", 40.0, 5.0, 30.0), PassedUnit("q", 40.0, 5.0, None)]
    review = money_review(record, CATALOGUE, FREE, passed=passed)
    amount = round(-review.groups[0].mean.mean)
    assert change_words(review.groups[0], "EUR") == f"pay €{amount} less"
    assert change_words(review.groups[1], "EUR") == ""
    assert regret_words(review) == (
        "You declined 2 devices; what became of 1 is known. If accepted, 1 would have earned €30.00.",
        "On average they came to €25.00 more than expected when declined.",
    )
    assert missing_words(review) == (
        "Bench time counts only where minutes were recorded; work without them, such as opening, costs "
        "nothing here.",
    )
