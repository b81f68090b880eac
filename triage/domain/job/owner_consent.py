"""What an owner has agreed to, and what may be done on it.

No reply is not a yes. The last answer stands: a no takes back an earlier yes.
A yes covers the damage its quote names, up to its ceiling; one to a quote that
names none pays for opening and checks only. A price is fixed: it is not owed
by the minute, so what is compared with the ceiling is the price last asked and
the parts bought.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date, timedelta

from triage.domain.catalogue import Catalogue
from triage.domain.job.file import JobFile
from triage.domain.job.life import STATE_WORDS
from triage.domain.job.records import Answer, Kept, QuoteGiven
from triage.domain.money import from_minor, money_text
from triage.domain.shop.settings import Settings

# While a job is in these states an owner may be asked and may answer.
_ASKING = ("considered", "taken", "in-work", "waiting", "came-back")


@dataclass(frozen=True)
class Consent:
    """A yes that stands. ceiling_minor : the most the owner may owe without being asked again."""

    quote: QuoteGiven
    answer: Answer
    covers: tuple[str, ...]

    @property
    def ceiling_minor(self) -> int:
        """As the owner said it."""
        return self.answer.ceiling_minor

    @property
    def only_looking(self) -> bool:
        """Whether it pays for opening and checks only."""
        return not self.covers


def covered_kinds(quote: QuoteGiven) -> tuple[str, ...]:
    """Damage kinds that a quote covers."""
    return tuple(json.loads(quote.covers))


def standing_consent(file: JobFile) -> Consent | None:
    """The yes that stands, or None: the last answer, if it is one."""
    if not file.answers:
        return None
    answer = file.answers[-1].record
    quote = next((kept.record for kept in file.quotes if kept.id == answer.quote), None)
    return Consent(quote, answer, covered_kinds(quote)) if quote and answer.yes else None


def unanswered(file: JobFile) -> Kept[QuoteGiven] | None:
    """The quote in force, if its owner has not answered it."""
    if not file.quotes:
        return None
    last = file.quotes[-1]
    return None if any(kept.record.quote == last.id for kept in file.answers) else last


def answer_overdue(file: JobFile, today: date, settings: Settings) -> date | None:
    """Day by which an answer was due, once it has passed: put it together again and return it."""
    asked = unanswered(file)
    if asked is None or file.route != "walk-in" or file.state not in _ASKING:
        return None
    due = asked.record.on + timedelta(days=settings.quoting.answer_days)
    return due if today > due else None


def quote_refusals(file: JobFile, quote: QuoteGiven, catalogue: Catalogue) -> tuple[str, ...]:
    """Why a quote may not be given to the owner."""
    refused = []
    if file.route != "walk-in":
        refused.append("the shop owns this device: quotes are for walk-in jobs only")
    if file.state not in _ASKING:
        refused.append(f"no quote is possible while the job is {STATE_WORDS[file.state]}")
    if quote.number != len(file.quotes) + 1:
        refused.append(f"the next quote of this job must be number {len(file.quotes) + 1}")
    if quote.price_minor < 0 or quote.ceiling_minor < quote.price_minor:
        refused.append("the highest price cannot be lower than the price")
    if quote.valid_until < quote.on:
        refused.append("the quote would expire before it is given: correct the dates")
    unknown = [kind for kind in covered_kinds(quote) if kind not in catalogue.kinds]
    refused += [f"the catalogue has no damage {kind!r}" for kind in unknown]
    return tuple(refused)


def answer_refusals(file: JobFile, answer: Answer) -> tuple[str, ...]:
    """Why an owner's answer may not be recorded as it is."""
    refused = []
    if not answer.who.strip():
        refused.append("enter who answered")
    if not answer.how.strip():
        refused.append("enter how they answered; no reply is not a yes")
    quote = next((kept for kept in file.quotes if kept.id == answer.quote), None)
    if quote is None:
        return (*refused, "this job has no such quote")
    if file.state not in _ASKING:
        refused.append(f"no answer can be recorded while the job is {STATE_WORDS[file.state]}")
    if answer.on < quote.record.on:
        refused.append("the answer is dated before its quote: correct the date")
    if answer.yes:
        refused += _yes_refusals(file, quote, answer)
    return tuple(refused)


def _yes_refusals(file: JobFile, quote: Kept[QuoteGiven], answer: Answer) -> list[str]:
    told, refused = quote.record, []
    if quote.id != file.quotes[-1].id:
        refused.append(f"quote {told.number} was replaced by quote {file.quotes[-1].record.number}")
    if answer.on > told.valid_until:
        refused.append(f"quote {told.number} expired on {told.valid_until:%d %b %Y}: give a new quote")
    if answer.ceiling_minor < told.price_minor:
        refused.append("the owner agreed to less than the price: give a new quote")
    if answer.ceiling_minor > told.ceiling_minor:
        refused.append("the agreed amount cannot exceed the highest price of the quote")
    return refused


def take_in_refusals(file: JobFile) -> tuple[str, ...]:
    """An owner's unit is accepted on a yes, or on a paid diagnostic fee."""
    if file.route == "bought" or standing_consent(file) or _fee_paid(file):
        return ()
    return ("the owner has neither accepted a quote nor paid a diagnostic fee",)


def work_refusals(file: JobFile, kind: str, catalogue: Catalogue) -> tuple[str, ...]:
    """Why a damage may not be worked on for its owner."""
    if file.route == "bought":
        return ()
    consent = standing_consent(file)
    if consent is None:
        return ("the owner has not agreed to this work",)
    name = catalogue.kinds[kind].name if kind in catalogue.kinds else kind
    if consent.only_looking:
        return (f"the owner agreed to opening and checks only, not to work on {name}",)
    refused = _ceiling_refusals(file, consent)
    if kind not in consent.covers:
        refused.append(f"the accepted quote does not cover {name}: give a new quote")
    return tuple(refused)


def part_refusals(file: JobFile, part: str, cost_minor: int, catalogue: Catalogue) -> tuple[str, ...]:
    """Why a part at a cost, tax included, may not be bought on an owner's yes."""
    if file.route == "bought":
        return ()
    consent = standing_consent(file)
    if consent is None:
        return ("the owner has not agreed to buying parts",)
    if consent.only_looking:
        return ("the owner agreed to opening and checks only, not to parts",)
    refused = _ceiling_refusals(file, consent)
    repairs = [repair for kind in consent.covers for repair in catalogue.repairs_for(kind)]
    used = {slug for repair in repairs for slug in repair.parts}
    if part not in used:
        refused.append(f"no work that the owner agreed to needs this part ({_part_name(part, catalogue)})")
    total = parts_bought_minor(file) + cost_minor
    if total > consent.ceiling_minor:
        refused.append(
            f"parts would cost {_money(total, file)} in total; the owner agreed up to "
            f"{_money(consent.ceiling_minor, file)}: ask again"
        )
    return tuple(refused)


def opening_refusals(file: JobFile) -> tuple[str, ...]:
    """Why a unit may not be opened for its owner."""
    if file.route == "bought":
        return ()
    consent = standing_consent(file)
    if consent is not None:
        return tuple(_ceiling_refusals(file, consent))
    if _fee_paid(file):
        return ()
    return ("the owner has neither agreed to opening it nor paid a diagnostic fee",)


def parts_bought_minor(file: JobFile) -> int:
    """Cost of the parts of a job with tax, less what came back for them or went back on the shelf."""
    back = {kept.record.order for kept in file.fates if kept.record.fate == "sent-back"}
    kept_parts = [kept.record for kept in file.orders if kept.record.shelf is None or kept.id not in back]
    spent = sum(order.cost_minor + order.tax_minor for order in kept_parts)
    return spent - sum(kept.record.refund_minor for kept in file.fates)


def _ceiling_refusals(file: JobFile, consent: Consent) -> list[str]:
    asked = file.quotes[-1].record
    if asked.price_minor <= consent.ceiling_minor:
        return []
    return [
        f"quote {asked.number} asks {_money(asked.price_minor, file)}; the owner agreed up to "
        f"{_money(consent.ceiling_minor, file)}: wait for the owner's answer"
    ]


def _fee_paid(file: JobFile) -> bool:
    return sum(k.record.amount_minor for k in file.payments if k.record.purpose == "diagnostic-fee") > 0


def _part_name(part: str, catalogue: Catalogue) -> str:
    return catalogue.parts[part].name if part in catalogue.parts else part


def _money(minor: int, file: JobFile) -> str:
    return money_text(from_minor(minor, file.currency), file.currency)
