"""A job in words: one line a state, as the list of jobs shows it."""

from dataclasses import replace
from datetime import date

import pytest

from tests.domain.job_files import DAY, LOOKED, job, kept, quote, yes
from triage.domain.catalogue import load_catalogue
from triage.domain.job.records import Attempt, Comeback, FoundDamage, LineChecked, Moved, PartOrdered, Stop
from triage.domain.shop.settings import Settings
from triage.workflows.jobs.words import job_words

C = load_catalogue()
S = Settings("bench", "EUR")
LOCKED = Stop("it is locked to somebody who is not here", "ownership")
PORT = Attempt("port-pins-damaged", "fixed", "resolder-port")
SOLD = tuple(LineChecked(line, "pass") for line in ("wipe-proof", "identity-numbers", "cosmetic-grade"))
BOOK = "stock-and-tax-record"


def waiting(file, wait_for, note=""):
    return replace(file, moves=(kept(90, Moved("wait", "waiting", DAY, wait_for, note)),))


@pytest.mark.parametrize(
    ("file", "act", "waits"),
    [
        (
            job("bought", "considered", intake=replace(LOOKED, battery_looked_at=False)),
            "inspect the battery",
            "",
        ),
        (job("bought", "taken", LOCKED), f"resolve the stop: {LOCKED.reason}", ""),
        (job("bought", "taken"), "start work", ""),
        (job("bought", "in-work", FoundDamage("torch-dead")), "repair: torch dead", ""),
        (job("bought", "in-work", *SOLD), "final check: 1 line to do", ""),
        (job("bought", "in-work", *SOLD, LineChecked(BOOK, "fail")), "a line of the final check failed", ""),
        (job("bought", "in-work", *SOLD, LineChecked(BOOK, "pass")), "complete the final check", ""),
        (
            job("walk-in", "in-work", PORT, LineChecked("solder-look", "fail")),
            "redo, final check failed",
            "",
        ),
        (job("bought", "verified"), "mark it as ready", ""),
        (job("bought", "ready"), "sell it", ""),
        (job("walk-in", "ready"), "return it", ""),
        (
            job("bought", "came-back", Comeback(DAY, "same-fault", "rework")),
            "complete the remedy: rework",
            "",
        ),
        (job("walk-in", "uncollected"), "", "waits for its owner to collect it"),
        (job("bought", "stripped"), "", ""),
        (job("walk-in", "considered", quote()), "decide", "the owner's answer to quote 1, due 4 Dec"),
        (
            waiting(job("walk-in", "waiting", quote(), yes(3)), "owner-answer"),
            "",
            "the owner's answer, since 20 Nov",
        ),
        (waiting(job("bought", "waiting"), "payment"), "", "waits for a payment, since 20 Nov"),
        (waiting(job("bought", "waiting"), "tool", "the stencil"), "", "waits for the stencil, since 20 Nov"),
        (
            waiting(
                job(
                    "bought",
                    "waiting",
                    PartOrdered("battery", "the other source", 1),
                    PartOrdered("charge-port", "the usual source", 1, due=date(2027, 1, 3)),
                ),
                "part",
            ),
            "",
            "the charge port from the usual source, due 3 Jan 2027; the battery from the other source",
        ),
    ],
)
def test_a_job_says_what_is_next_and_what_it_waits_for(file, act, waits):
    words = job_words(file, C, DAY, S)
    assert words.next_act.startswith(act) and bool(words.next_act) == bool(act)
    assert waits in words.waits_for and bool(words.waits_for) == bool(waits)


def test_an_unanswered_quote_ends_in_reassembly_and_return():
    asked = waiting(job("walk-in", "waiting", quote()), "owner-answer")
    assert job_words(asked, C, date(2026, 12, 4), S).next_act == ""
    said = job_words(asked, C, date(2026, 12, 5), S).next_act
    assert said == "no answer by 4 Dec: reassemble and return it"


def test_days_late_are_counted_while_the_shop_owes_the_unit():
    promised = replace(LOOKED, promised_for=date(2026, 11, 17))
    assert job_words(job("bought", "taken", intake=promised), C, DAY, S).days_late == 3
    assert job_words(job("bought", "taken", intake=promised), C, date(2026, 11, 16), S).days_late == 0
    assert job_words(job("bought", "sold", intake=promised), C, DAY, S).days_late == 0
    assert job_words(job("walk-in", "considered", intake=promised), C, DAY, S).days_late == 3
    assert job_words(job("walk-in", "declined", intake=promised), C, DAY, S).days_late == 0
