"""Counts of data jobs, and the chances that follow from them, with a pencil."""

from __future__ import annotations

from datetime import date

import pytest

from triage.domain.data_job import DataEnded, DataFacts
from triage.domain.shop.data_record import DataRecord, data_record
from triage.domain.shop.data_settings import DataJobs
from triage.policy.data_job.chances import reading_chances

DAY = date(2026, 11, 25)
OPEN = DataFacts()
KNOWN = DataFacts(chips="yes", touch="works", code="yes")


def ended(outcome, failed_at="", facts=OPEN):
    return facts, DataEnded(DAY, outcome, failed_at)


def test_a_job_shows_a_condition_only_as_far_as_it_came():
    # Chips fail first of all; a board that fails shows that the chips hold; a touch that fails, nothing
    # of the code; data read, that everything held.
    assert data_record([ended("none", "chips")]) == DataRecord(failed=(1, 0, 0))
    assert data_record([ended("none", "board")]) == DataRecord(held=(1, 0, 0))
    assert data_record([ended("none", "touch")]) == DataRecord(held=(1, 0, 0), failed=(0, 1, 0))
    assert data_record([ended("none", "code")]) == DataRecord(held=(1, 1, 0), failed=(0, 0, 1))
    assert data_record([ended("none", "reading")]) == DataRecord((0, 0, 1), (1, 1, 1))
    assert data_record([ended("part")]) == DataRecord((0, 1, 0), (1, 1, 1))
    assert data_record([ended("none", "stopped")]) == DataRecord()


def test_what_was_known_beforehand_is_no_evidence_of_what_is_not():
    known = [ended("all", facts=KNOWN), ended("none", "board", KNOWN)]
    assert data_record(known) == DataRecord((1, 0, 0))


def test_a_belief_worth_ten_jobs_meets_the_shop_s_own():
    # Believed .7, .2, .1 of ten jobs; own: 6 all, 1 part, 3 none. (7 + 6) / 20, (2 + 1) / 20, (1 + 3) / 20.
    # Touch believed .7 of ten, own 6 of 10: 13 / 20. Code .8 of ten, own 9 of 10: 17 / 20.
    record = DataRecord((6, 1, 3), held=(0, 6, 9), failed=(0, 4, 1))
    told = reading_chances(OPEN, DataJobs(), record)
    assert told.given_read == pytest.approx((0.65, 0.15, 0.2))
    assert told.conditions == pytest.approx({"chips": 0.95, "touch": 0.65, "code": 0.85})
    assert told.outcomes[0] == pytest.approx(0.95 * 0.65 * 0.85 * 0.65)
    assert sum(told.outcomes) == pytest.approx(1.0)
    # What is known needs no belief.
    assert reading_chances(KNOWN, DataJobs(), record).readable == 1.0
