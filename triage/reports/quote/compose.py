"""A quote as a letter to the owner: plain words, and none of the shop's own figures.

The wording is ours and defers to local law.
"""

from __future__ import annotations

from datetime import date

from triage.domain.money import money_text
from triage.policy.answer.quote import Quote
from triage.reports.quote.letter import Letter
from triage.reports.quote.sections import Words, sections

_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November", "December",
)  # fmt: skip
_TITLES = {
    "fixed": "Quote for a repair",
    "diagnostic-fee": "Quote for a repair",
    "staged": "Estimate in stages",
}
_PRICE_LABELS = {
    "fixed": "Fixed price",
    "diagnostic-fee": "Price if repaired",
    "staged": "Price if you accept today",
}


def quote_letter(quote: Quote, sample: bool = False) -> Letter:
    """Write a quote for its owner.

    Parameters
    ----------
    sample : the shop is the invented one, so the letter says that it is not an offer.
    """
    words = Words(quote.kind, quote.currency, quote.offer)
    device = f"{quote.device} ({quote.model})" if quote.model else quote.device
    facts = (
        ("Quote number", quote.number),
        ("Date", day_words(quote.issued)),
        ("Valid until", day_words(quote.offer.valid_until)),
        ("For", quote.customer),
        ("Device", device),
    )
    issued = quote.issued
    return Letter(
        title=_TITLES[quote.kind],
        shop=one_line(quote.shop),
        number=one_line(quote.number),
        facts=tuple((label, one_line(text)) for label, text in facts if text.strip()),
        price_label=_PRICE_LABELS[quote.kind],
        price=money_text(quote.offer.price, quote.currency),
        price_words=words.beside_price(),
        sections=sections(words),
        signatures=("Owner, or person acting for the owner", "For the shop"),
        issued=(issued.year, issued.month, issued.day),
        sample="Sample from an invented demo shop. This is not an offer." if sample else "",
    )


def day_words(day: date) -> str:
    """Write a date out: 25 November 2026."""
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def one_line(text: str) -> str:
    """Write a user's words on one line, without what no page can show."""
    line = " ".join(text.split())
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in line)
