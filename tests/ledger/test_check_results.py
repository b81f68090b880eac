"""Results of checks counted from jobs, with what the bench then found."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.domain.job_files import DAY, job, kept
from triage.domain.catalogue import load_catalogue
from triage.domain.job.records import Attempt, CheckMade, Comeback, FoundDamage, LookedInside, Moved
from triage.domain.shop.check_record import CheckRecord
from triage.ledger.history.check_results import check_records
from triage.priors.check_accuracy import accuracy_draws

C = load_catalogue()
# Reveals cracked joints and a split board, among others; all are seen with the shields off.
CHECK = "bench-supply-boot-current"
FAULT, CLEAR = CheckMade(CHECK, True), CheckMade(CHECK, False)
SUSPECTED, SEEN = FoundDamage("joint-cracked", chance=0.4), FoundDamage("joint-cracked")
REFLOW = Attempt("joint-cracked", "not-fixed", "reflow-or-reball-joint")
BESIDE = Attempt("display-panel-dead", "fixed")
DEEP = Attempt("board-chip-fault", "fixed")


def one(*records, state="stripped"):
    """What a single job adds to the check's record."""
    return check_records([job("bought", state, *records)], C).get(CHECK)


@pytest.mark.parametrize(
    ("records", "counted"),
    [
        ([FAULT, SUSPECTED, REFLOW], CheckRecord(positive_present=1)),
        ([CLEAR, LookedInside("joint-cracked")], CheckRecord(negative_present=1)),
        ([FAULT, LookedInside(), DEEP], CheckRecord(positive_absent=1)),
        ([CLEAR, LookedInside(), DEEP], CheckRecord(negative_absent=1)),
        # Opened, but not as deep as what the check reveals lies.
        ([FAULT, LookedInside(), BESIDE], CheckRecord(positive_unseen=1)),
        ([CLEAR, BESIDE], CheckRecord(negative_unseen=1)),
        # Recorded because of the check and never worked on: nobody saw it.
        ([FAULT, replace(SEEN, known_at="test")], CheckRecord(positive_unseen=1)),
        # The result was known before the check.
        ([SEEN, FAULT, REFLOW], None),
        # The last result before any work on what it reveals.
        ([FAULT, CLEAR, SUSPECTED, REFLOW], CheckRecord(negative_present=1)),
        ([SUSPECTED, REFLOW, CLEAR], None),
        # What happens after a comeback rewrites nothing.
        ([BESIDE, Comeback(DAY, "same-fault"), FAULT], None),
    ],
)  # fmt: skip
def test_what_one_job_adds(records, counted):
    assert one(*records) == counted


def test_an_open_job_adds_nothing_and_a_declined_one_was_never_seen():
    assert one(FAULT, state="in-work") is None
    assert one(FAULT, state="declined") == CheckRecord(positive_unseen=1)


def test_a_passed_final_check_shows_that_the_fault_was_absent():
    file = job("bought", "sold", CLEAR, BESIDE)
    passed = replace(file, moves=(kept(90, Moved("verify", "verified", DAY)), *file.moves))
    assert check_records([passed], C) == {CHECK: CheckRecord(negative_absent=1)}


def test_a_shop_that_opens_only_positives_learns_no_wrong_sensitivity():
    """Sensitivity .80, specificity .90, 1 device in 20 has the fault, 3,000 jobs.

    Counting the jobs that were opened would say 1; taking the assumption for jobs at an even chance, as
    this program once did, .35. The record tells little, so the interval is that of the assumption.
    """
    rng = np.random.default_rng(11)
    jobs = []
    for there in rng.random(3000) < 0.05:
        if rng.random() < (0.8 if there else 0.1):
            after = (SUSPECTED, REFLOW) if there else (LookedInside(), DEEP)
            jobs.append(job("bought", "stripped", FAULT, *after))
        else:
            jobs.append(job("bought", "declined", CLEAR))
    record = check_records(jobs, C)[CHECK]
    assert record.jobs == 3000 and record.negative_unseen > 2500
    assert record.negative_present == record.positive_unseen == 0
    sensitivity, specificity = accuracy_draws(record, 0.8, 0.9, 20, 40_000, np.random.default_rng(12))
    assert sensitivity.mean() == pytest.approx(15 / 19, abs=0.01)
    low, high = np.quantile(specificity, (0.05, 0.95))
    assert low < 0.9 < high and high - low < 0.03
