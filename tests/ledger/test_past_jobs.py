"""A file of past jobs is imported and exported unchanged; the shop's own jobs are exported in the format."""

from __future__ import annotations

import csv
import io
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.ledger.job_files import imported, job_file
from triage.domain.catalogue import load_catalogue
from triage.domain.history import COMEBACK_KINDS, DATA_OUTCOMES, LOOK_DEPTHS, LOOK_REASONS, WHY_NOT
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
from triage.errors import HistoryError
from triage.ledger.history.history_cells import read_cells, split_csv
from triage.ledger.history.history_csv import parse_history
from triage.ledger.history.history_rows import columns_of, content_key, history_of, rows_of
from triage.ledger.history.past_jobs import past_jobs
from triage.shipped import shipped

CATALOGUE = load_catalogue()


def jobs_of(text, currency="EUR"):
    header, rows, faults = split_csv(text, "jobs.csv")
    cells, found = read_cells(header, rows, "jobs.csv", CATALOGUE)
    assert not faults and not found, [*faults, *found]
    return past_jobs(cells, currency, "jobs.csv")


def written(files):
    out = io.StringIO()
    rows = [row for job in files for row in rows_of(job)]
    sheet = csv.DictWriter(out, columns_of(rows), lineterminator="\n", extrasaction="ignore")
    sheet.writeheader()
    sheet.writerows(rows)
    return out.getvalue()


@pytest.mark.slow
def test_the_demo_record_comes_back_byte_for_byte():
    text = shipped("synthetic_cases/past-jobs.csv").read_text(encoding="utf-8")
    past = jobs_of(text)
    files = [imported(job) for job in past]
    assert written(files) == text
    assert history_of(files, CATALOGUE).digest == parse_history(text, "jobs.csv", CATALOGUE).digest
    # The key is a hash of the cells, so a record can be compared by its export.
    assert all(content_key(f.label, rows_of(f)) == job.key for f, job in zip(files, past, strict=True))


KINDS = ("frame-bent", "touch-fault", "camera-dead")
MONEY = st.integers(0, 10**6).map(lambda cents: f"{cents / 100:.2f}") | st.just("")
AFTER = st.dates(date(2026, 2, 1), date(2026, 12, 31)).map(str) | st.just("")
PER_JOB = {
    "route": st.sampled_from(("", "bought", "walk-in")),
    "tier": st.sampled_from(("", "top")),
    "technician": st.sampled_from(("", "window-bench")),
    "working_price": MONEY,
    "paid": MONEY,
    "sold": MONEY,
    "sold_date": AFTER,
    "closed": AFTER,
    "hidden_faults": st.sampled_from(("", "none", "joint-cracked", "joint-cracked;cell-bent")),
    "look_depth": st.sampled_from(("", *LOOK_DEPTHS)),
    "look_reason": st.sampled_from(("", *LOOK_REASONS)),
    "data_outcome": st.sampled_from(("", *DATA_OUTCOMES)),
    "data_minutes": st.sampled_from(("", "0", "42.5")),
    "comeback_date": AFTER,
    "comeback_kind": st.sampled_from(("", *COMEBACK_KINDS)),
    "warranty_days": st.sampled_from(("", "0", "90")),
}
PER_ROW = {
    "shelf_cost": MONEY,
    "intake_severity": st.sampled_from(("", "1", "3")),
    "finding": st.sampled_from(KINDS),
    "zone": st.sampled_from(("", "corner", "front")),
    "minutes": st.sampled_from(("", "0", "41.5", "120")),
    "book_cost": MONEY,
    "parts_cost": MONEY,
}
OUTCOME = st.sampled_from(
    (("fixed", ""), ("not-fixed", ""), *(("not-attempted", why) for why in ("", *WHY_NOT)))
)
# Given on every row of a job or on none: a blank severity among others is written as the 2 it means.
SEEN = st.sampled_from((("", ""), ("1", "opening"), ("3", "intake")))


@st.composite
def sheets(draw):
    columns = draw(st.sets(st.sampled_from(sorted({*PER_JOB, *PER_ROW, "seen"} - {"finding"}))))
    rows = []
    for job in range(draw(st.integers(1, 4))):
        shared = {name: draw(PER_JOB[name]) for name in PER_JOB if name in columns}
        if not shared.get("hidden_faults"):  # no look, so none of a depth
            shared |= dict.fromkeys({"look_depth", "look_reason"} & shared.keys(), "")
        if not shared.get("data_outcome"):  # no data saved, so no minutes of it
            shared |= dict.fromkeys({"data_minutes"} & shared.keys(), "")
        seen = draw(SEEN)
        for _ in range(draw(st.integers(1, 4))):
            row = {name: draw(PER_ROW[name]) for name in PER_ROW if name in columns or name == "finding"}
            outcome, why = draw(OUTCOME)
            row |= {"job": f"j{job}", "date": "2026-01-05", "outcome": outcome, "why_not": why, **shared}
            row |= {"severity": seen[0], "known_at": seen[1]} if "seen" in columns else {}
            rows.append(row)
    return rows


@settings(max_examples=60, deadline=None)
@given(sheets())
def test_every_cell_comes_back_and_blanks_stay_blank(rows):
    out = io.StringIO()
    sheet = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
    sheet.writeheader()
    sheet.writerows(rows)
    files = [imported(job) for job in jobs_of(out.getvalue())]
    back = list(csv.DictReader(io.StringIO(written(files))))
    assert back == [{column: row.get(column, "") for column in back[0]} for row in rows]
    seldom = {"shelf_cost", "intake_severity", "look_depth", "look_reason", "data_outcome", "data_minutes"}
    assert set(rows[0]) <= {*back[0], *seldom}


def test_two_places_of_one_damage_stay_separate():
    text = (
        "job,date,finding,outcome,zone\n"
        "7,2026-01-05,side-key-dead,not-fixed,left-side\n7,2026-01-05,side-key-dead,fixed,left-side\n"
        "7,2026-01-05,side-key-dead,fixed,right-side\n"
    )
    (job,) = jobs_of(text)
    assert [r.zone for r in job.records if isinstance(r, FoundDamage)] == ["left-side", "right-side"]
    assert [row["zone"] for row in rows_of(imported(job))] == ["left-side", "left-side", "right-side"]


def test_the_ending_of_a_past_job_follows_from_its_columns():
    text = (
        "job,date,finding,outcome,route,closed,sold,sold_date\n"
        "stock,2026-01-05,touch-fault,fixed,bought,2026-01-06,,\n"
        "fetched,2026-01-05,touch-fault,fixed,walk-in,2026-01-06,80,2026-01-07\n"
        "hopeless,2026-01-05,touch-fault,not-fixed,walk-in,2026-01-06,0,2026-01-07\n"
        "bench,2026-01-05,touch-fault,fixed,bought,,,\n"
    )
    states = {job.label: imported(job).state for job in jobs_of(text)}
    assert states == {
        "stock": "ready", "fetched": "returned-fixed", "hopeless": "returned-unfixed", "bench": "in-work"
    }  # fmt: skip


ENDINGS = (
    "job,date,finding,outcome,route,closed,sold,sold_date,parts_cost,ending,parts_value,shelf_cost\n"
    "1,2026-01-05,touch-fault,fixed,bought,2026-01-06,90,2026-01-09,3,sold,,\n"
    "2,2026-01-05,touch-fault,not-fixed,bought,2026-01-06,,2026-01-09,,stripped,30,4.5\n"
    "3,2026-01-05,touch-fault,not-fixed,,2026-01-06,,,,disposed,,\n"
    "4,2026-01-05,touch-fault,not-fixed,,2026-01-06,0,2026-01-07,,returned-unfixed,,\n"
    "5,2026-01-05,touch-fault,fixed,walk-in,2026-01-06,40,2026-01-07,,returned-fixed,,\n"
    "6,2026-01-05,touch-fault,fixed,walk-in,2026-01-06,40,2026-03-07,,sold,,\n"
    "7,2026-01-05,touch-fault,fixed,bought,2026-01-06,,,,,,\n"
)


def test_endings_that_are_told_are_kept_and_come_back():
    files = [imported(job) for job in jobs_of(ENDINGS)]
    assert [file.state for file in files] == [
        "sold", "stripped", "disposed", "returned-unfixed", "returned-fixed", "sold", "ready"
    ]  # fmt: skip
    assert [file.route for file in files][2:4] == ["bought", "walk-in"]
    told = list(csv.DictReader(io.StringIO(ENDINGS)))
    amounts = {"90": "90.00", "3": "3.00", "30": "30.00", "4.5": "4.50", "0": "0.00", "40": "40.00"}
    for row, back in zip(told, csv.DictReader(io.StringIO(written(files))), strict=True):
        money = ("sold", "parts_cost", "parts_value", "shelf_cost")
        assert {name: back[name] for name in row} == row | {n: amounts.get(row[n], "") for n in money}


@pytest.mark.parametrize(
    "route, ending, more, wrong",
    [
        ("bought", "returned-fixed", "", "'returned-fixed' cannot be of a device that was bought"),
        ("walk-in", "stripped", "", "'stripped' cannot be of an owner's device"),
        ("", "disposed", "2026-02-01", "'disposed' cannot be of a device that came back"),
        ("", "eaten", "", "'eaten' is not a known ending"),
        ("", "sold", ",30", "is given for a device that was not stripped"),
        ("", "", ",30", "is given for a device that was not stripped"),
    ],
)
def test_an_ending_that_cannot_be_is_refused(route, ending, more, wrong):
    more += "," if "," not in more else ""
    text = (
        "job,date,finding,outcome,route,ending,comeback_date,parts_value\n"
        f"1,2026-01-05,touch-fault,fixed,{route},,{more}\n1,2026-01-05,camera-dead,fixed,,{ending},,\n"
    )
    with pytest.raises(HistoryError, match=wrong):
        parse_history(text, "jobs.csv", CATALOGUE)


def test_an_ending_is_not_known_before_its_day():
    early = parse_history(ENDINGS, "jobs.csv", CATALOGUE, date(2026, 1, 8)).jobs
    assert early["ending"].tolist() == ["", "", "disposed", "returned-unfixed", "returned-fixed", "", ""]
    assert early["parts_value"].isna().all()


def native(*more):
    day = date(2026, 3, 2)
    return job_file(
        "SL-1",
        "walk-in",
        Intake(day, "[device]", tier="upper", technician="window-bench", working_price_minor=30000),
        FoundDamage("frame-bent", 2, "corner"),
        FoundDamage("touch-fault", 3, "front"),
        FoundDamage("camera-dead", chance=0.4),
        Moved("take", "taken", day),
        Payment("deposit", 2000, day),
        LookedInside("joint-cracked"),
        LookedInside("cell-bent;joint-cracked"),
        Attempt("frame-bent", "fixed", "straighten-frame", "", 40.0, 0, 350),
        *more,
    )


def test_only_the_first_round_of_a_job_is_exported():
    over = (
        Moved("make-ready", "ready", date(2026, 3, 5)),
        Payment("repair", 6500, date(2026, 3, 9)),
        HandOver(date(2026, 3, 9), "working", warranty_days=90),
        Moved("return-fixed", "returned-fixed", date(2026, 3, 9)),
        Comeback(date(2026, 4, 1), "new-damage", "declined"),
        Attempt("frame-bent", "not-fixed", round=1),
        Payment("refund", -8500, date(2026, 4, 2)),
        Comeback(date(2026, 5, 1), "same-fault"),
        HandOver(date(2026, 5, 2), "unfixed"),
    )
    fixed, untried = rows_of(native(*over))
    said = {name: fixed[name] for name in ("date", "closed", "sold", "sold_date", "warranty_days", "paid")}
    assert said == {
        "date": "2026-03-02", "closed": "2026-03-05", "sold": "85.00", "sold_date": "2026-03-09",
        "warranty_days": "90", "paid": "",
    }  # fmt: skip
    assert (fixed["comeback_date"], fixed["comeback_kind"]) == ("2026-04-01", "new-damage")
    assert fixed["hidden_faults"] == "joint-cracked;cell-bent"
    assert (fixed["outcome"], fixed["minutes"], fixed["book_cost"]) == ("fixed", "40", "3.50")
    # Seen and never tried; a suspected finding gives no row.
    assert (untried["finding"], untried["outcome"], untried["severity"]) == (
        "touch-fault", "not-attempted", "3"
    )  # fmt: skip


def test_an_open_job_alone_gives_no_history():
    with pytest.raises(HistoryError, match="has no closed job"):
        history_of([native()], CATALOGUE)
    assert [row["closed"] for row in rows_of(native())] == [""]


def test_a_history_in_two_currencies_is_refused():
    day = Moved("make-ready", "ready", date(2026, 3, 5))
    files = [native(day), job_file("SL-2", "bought", *[Intake(date(2026, 1, 1), ""),
             Attempt("touch-fault", "fixed"), day], currency="JPY")]  # fmt: skip
    with pytest.raises(HistoryError, match="has jobs in EUR, JPY"):
        history_of(files, CATALOGUE)


def test_yen_have_no_decimals():
    text = "job,date,finding,outcome,paid\n7,2026-01-05,touch-fault,fixed,1400\n"
    (job,) = jobs_of(text, "JPY")
    assert Payment("purchase", -1400, date(2026, 1, 5)) in job.records
    assert rows_of(imported(job, "JPY"))[0]["paid"] == "1400"
