"""What an owner said yes to, and parts bought on it: one case a refusal. Common practice, no source."""

from dataclasses import replace
from datetime import date

import pytest

from tests.domain.job_files import DAY, job, quote, says, yes
from triage.domain.catalogue import load_catalogue
from triage.domain.job.bench_rules import attempt_refusals, check_refusals, look_refusals
from triage.domain.job.owner_consent import answer_overdue, answer_refusals, quote_refusals, standing_consent
from triage.domain.job.part_orders import NEXT_FATES, fate_refusals, order_refusals
from triage.domain.job.records import (
    Answer,
    Attempt,
    CheckMade,
    PartFate,
    PartOrdered,
    Payment,
)
from triage.domain.job.rules import move_refusals
from triage.domain.shop.settings import Settings

C = load_catalogue()
S = Settings("bench", "EUR")
PORT = Attempt("port-pins-damaged", "fixed", "resolder-port")
# An owner's unit with a yes: the quote is record 3.
AGREED = (quote(), yes(3))
PORT_ORDER = PartOrdered("charge-port", "usual", 7000, 1000, returnable_until=DAY)


OWNERS = job("walk-in", "considered", quote())


@pytest.mark.parametrize(
    ("file", "given", "words"),
    [
        (job("bought", "taken"), quote(), ["quotes are for walk-in jobs only"]),
        (job("walk-in", "ready"), quote(), ["no quote is possible while the job is ready"]),
        (OWNERS, quote(), ["number 2"]),
        (OWNERS, quote(number=2, price=9000, ceiling=8000), ["cannot be lower than the price"]),
        (OWNERS, quote(number=2, until=date(2026, 11, 1)), ["expire before it is given"]),
        (OWNERS, quote('["rust"]', number=2), ["the catalogue has no damage 'rust'"]),
        (OWNERS, quote(number=2), []),
    ],
)
def test_a_quote(file, given, words):
    assert says(quote_refusals(file, given, C), *words)


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        (yes(3), []),
        (replace(yes(3), yes=False, ceiling_minor=0), []),
        (replace(yes(3), who=" "), ["enter who answered"]),
        (replace(yes(3), how=""), ["no reply is not a yes"]),
        (yes(99), ["no such quote"]),
        (yes(3, on=date(2026, 11, 1)), ["dated before its quote"]),
        (yes(3, on=date(2026, 12, 5)), ["expired on 04 Dec 2026"]),
        (yes(3, ceiling=8999), ["less than the price"]),
        (yes(3, ceiling=12001), ["cannot exceed the highest price"]),
    ],
)
def test_an_answer(answer, words):
    assert says(answer_refusals(OWNERS, answer), *words)


def test_a_replaced_quote_cannot_be_accepted_nor_one_of_a_finished_job():
    two = job("walk-in", "taken", quote(), quote(number=2))
    assert says(answer_refusals(two, yes(3)), "replaced by quote 2")
    assert says(
        answer_refusals(job("walk-in", "ready", quote()), yes(3)),
        "no answer can be recorded while the job is ready",
    )


def test_an_owner_s_unit_is_taken_in_on_a_yes_or_a_paid_diagnosis():
    assert says(move_refusals(OWNERS, "take", C), "neither accepted a quote nor paid a diagnostic fee")
    assert move_refusals(job("walk-in", "considered", *AGREED), "take", C) == ()
    assert move_refusals(job("walk-in", "considered", Payment("diagnostic-fee", 2000, DAY)), "take", C) == ()


def test_the_last_answer_stands():
    no = Answer(3, DAY, False, "Bo Marsh", "by telephone")
    assert standing_consent(job("walk-in", "taken", *AGREED)).ceiling_minor == 12000
    assert standing_consent(job("walk-in", "taken", *AGREED, no)) is None
    assert standing_consent(OWNERS) is None  # silence


@pytest.mark.parametrize(
    ("records", "words"),
    [
        (AGREED, []),
        ((quote(),), ["has not agreed to this work"]),
        ((quote("[]"), yes(3)), ["agreed to opening and checks only"]),
        ((quote('["camera-dead"]'), yes(3)), ["does not cover"]),
        # A dearer quote waits for a new yes; one within the ceiling does not.
        ((*AGREED, quote(number=2, price=12500, ceiling=13000)), ["quote 2 asks €125.00", ]),
        ((*AGREED, quote(number=2, price=11000, ceiling=13000)), []),
        ((*AGREED, quote(number=2, price=12500, ceiling=13000), yes(5, ceiling=13000)), []),
    ],
)  # fmt: skip
def test_work_keeps_to_what_the_owner_said_yes_to(records, words):
    assert says(attempt_refusals(job("walk-in", "in-work", *records), PORT, C), *words)


@pytest.mark.parametrize(
    ("records", "part", "cost", "words"),
    [
        (AGREED, "charge-port", 12000, []),
        (AGREED, "charge-port", 12001, ["agreed up to €120.00"]),
        (AGREED, "rear-camera", 500, ["no work that the owner agreed to needs this part (rear camera)"]),
        ((), "charge-port", 500, ["has not agreed to buying"]),
        ((quote("[]"), yes(3)), "charge-port", 500, ["not to parts"]),
        ((*AGREED, quote(number=2, price=12500, ceiling=13000)), "charge-port", 500, ["wait for"]),
        ((*AGREED, PORT_ORDER), "charge-port", 4001, ["parts would cost €120.01 in total"]),
    ],
)  # fmt: skip
def test_parts_keep_to_what_the_owner_said_yes_to(records, part, cost, words):
    order = PartOrdered(part, "usual source", cost, returnable_until=DAY)
    assert says(order_refusals(job("walk-in", "in-work", *records), order, C), *words)


def test_refunds_and_parts_back_on_the_shelf_do_not_count_against_the_ceiling():
    spent = PartOrdered("charge-port", "usual", 11000, returnable_until=DAY)
    fates = [PartFate(5, DAY, "arrived"), PartFate(5, DAY, "sent-back"), PartFate(5, DAY, "refunded", 11000)]
    order = PartOrdered("charge-port", "usual source", 12000, returnable_until=DAY)
    assert order_refusals(job("walk-in", "in-work", *AGREED, spent, *fates), order, C) == ()
    shelf = replace(spent, shelf=7, returnable_until=None)
    assert order_refusals(job("walk-in", "in-work", *AGREED, shelf, *fates[:2]), order, C) == ()


def test_opening_wants_a_yes_or_a_paid_diagnosis():
    opened = CheckMade("cell-look", False)
    assert says(check_refusals(job("walk-in", "taken"), opened, C), "neither agreed to opening it nor paid")
    assert says(look_refusals(job("walk-in", "taken"), (), C), "neither agreed to opening it nor paid")
    assert check_refusals(job("walk-in", "taken"), CheckMade("six-face-look", True), C) == ()
    assert check_refusals(job("walk-in", "taken", quote("[]"), yes(3)), opened, C) == ()
    assert check_refusals(job("walk-in", "taken", Payment("diagnostic-fee", 2000, DAY)), opened, C) == ()
    dearer = job("walk-in", "taken", *AGREED, quote(number=2, price=12500, ceiling=13000))
    assert says(check_refusals(dearer, opened, C), "wait for the owner's answer")


def test_after_the_days_for_an_answer_it_is_overdue():
    asked = job("walk-in", "waiting", quote())  # 14 days from 20 November: 4 December
    assert answer_overdue(asked, date(2026, 12, 4), S) is None
    assert answer_overdue(asked, date(2026, 12, 5), S) == date(2026, 12, 4)
    assert answer_overdue(job("walk-in", "waiting", *AGREED), date(2027, 1, 1), S) is None
    assert answer_overdue(job("walk-in", "returned-unfixed", quote()), date(2027, 1, 1), S) is None


def test_a_part_that_cannot_go_back_wants_a_deposit_from_an_owner():
    bound = PartOrdered("charge-port", "usual source", 3000, 600)
    assert says(order_refusals(job("walk-in", "in-work", *AGREED), bound, C), "take a deposit of €36.00")
    paid = (*AGREED, Payment("deposit", 3600, DAY))
    assert order_refusals(job("walk-in", "in-work", *paid), bound, C) == ()
    # The same deposit does not carry a second such part.
    assert says(order_refusals(job("walk-in", "in-work", *paid, bound), bound, C), "take a deposit of €72.00")
    assert order_refusals(job("bought", "in-work"), bound, C) == ()
    assert order_refusals(job("walk-in", "in-work", *AGREED), replace(bound, shelf=9), C) == ()


def test_an_order_names_a_part_costs_something_and_belongs_to_open_work():
    order = PartOrdered("flux-capacitor", "usual source", -1)
    words = [
        "no part can be ordered while the job is ready",
        "the catalogue has no part",
        "must be 0 or more",
    ]
    assert says(order_refusals(job("bought", "ready"), order, C), *words)


# What may become of a part: one dead on arrival is claimed, and a claim ends in money or in none. An
# order is cancelled before its part is here; a part that is here and not needed is kept on the shelf.
FATES = {
    "ordered": "arrived lost refunded cancelled", "arrived": "dead-on-arrival fitted sent-back lost shelved",
    "dead-on-arrival": "claimed", "claimed": "refunded", "sent-back": "refunded", "fitted": "dead-on-arrival",
    "lost": "claimed arrived", "refunded": "", "cancelled": "", "shelved": "",
}  # fmt: skip


@pytest.mark.parametrize("now", FATES)
def test_what_may_become_of_a_part(now):
    order = PartOrdered("charge-port", "usual", 500, returnable_until=DAY)
    before = [] if now == "ordered" else [PartFate(3, DAY, now)]
    for fate in set(FATES) - {"ordered"}:
        refused = fate_refusals(job("bought", "in-work", order, *before), PartFate(3, DAY, fate))
        assert (refused == ()) == (fate in FATES[now].split()), (now, fate, refused)
    assert set(NEXT_FATES) == set(FATES)


@pytest.mark.parametrize(
    ("state", "order", "fate", "words"),
    [
        ("in-work", {"returnable_until": None}, PartFate(3, DAY, "sent-back"), ["does not take it back"]),
        ("in-work", {}, PartFate(3, date(2026, 12, 1), "sent-back"), ["took it back until 20 Nov 2026"]),
        ("waiting", {}, PartFate(3, DAY, "fitted"), ["no part can be fitted"]),
        ("in-work", {}, PartFate(3, DAY, "fitted", 100), ['needs the status "refunded"']),
        ("in-work", {}, PartFate(9, DAY, "fitted"), ["no such order"]),
        ("in-work", {"shelf": 7}, PartFate(3, DAY, "sent-back"), []),
    ],
)
def test_an_arrived_part(state, order, fate, words):
    part = PartOrdered("charge-port", "usual", 500, returnable_until=DAY)
    file = job("bought", state, replace(part, **order), PartFate(3, DAY, "arrived"))
    assert says(fate_refusals(file, fate), *words)


def test_a_claim_brings_back_no_more_than_the_part_cost_and_none_from_the_own_shelf():
    order, dead = PartOrdered("charge-port", "usual", 500, 100), PartFate(3, DAY, "dead-on-arrival")
    claimed = PartFate(3, DAY, "claimed")
    file = job("bought", "in-work", order, dead, claimed)
    assert fate_refusals(file, PartFate(3, DAY, "refunded", 600)) == ()
    assert says(fate_refusals(file, PartFate(3, DAY, "refunded", 601)), "between 0 and the cost of the part")
    own = job("bought", "in-work", replace(order, shelf=7), dead)
    assert says(fate_refusals(own, claimed), "no supplier to claim from")
