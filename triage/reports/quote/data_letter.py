"""A quote to save data as a letter to the owner: what is promised and what is not, and what it costs."""

from __future__ import annotations

from dataclasses import dataclass

from triage.domain.counts import in_twenty
from triage.domain.money import money_text
from triage.policy.data_job.quote import DataOffer, DataQuote
from triage.reports.quote.compose import day_words, one_line
from triage.reports.quote.letter import Grid, Letter, Section
from triage.reports.quote.sections import LAW, care, days_of, fitted_parts, sealing, wrong_words

_BACKUP = {
    "yes": "You told us that there is a backup. Open it before you let us begin: it may hold all you need.",
    "no": "You told us that there is no backup. Check your online storage and other devices once more.",
    "not-known": "Check first whether there is a backup, in online storage or on another device.",
}
_AUTHORITY = {
    "owner": "I own this device and the data on it. I have shown proof of this and of my identity.",
    "estate": "I act for the estate of the person whose data these are. I have shown proof of this and of my "
    "identity. I know that local law decides who may receive the data.",
    "other": "I act for the person whose data these are. I have shown proof of this and of my identity. I "
    "know that local law decides who may receive the data.",
}


def data_letter(quote: DataQuote, sample: bool = False) -> Letter:
    """Write a quote to save data for the device's owner.

    Parameters
    ----------
    sample : the shop is the invented one, so the letter says that it is not an offer.
    """
    words = _Words(quote)
    device = f"{quote.device} ({quote.model})" if quote.model else quote.device
    facts = (
        ("Quote number", quote.number),
        ("Date", day_words(quote.issued)),
        ("Valid until", day_words(quote.offer.valid_until)),
        ("For", quote.customer),
        ("Device", device),
    )
    written = (
        care(quote.offer.battery, quote.offer.wet), words.first(), words.wanted(), words.work(),
        words.promised(), words.payment(), words.changes(), fitted_parts(quote.offer.parts),
        words.own_copy(), sealing("We close it without a new seal."), Section("Your rights", (LAW,)),
        words.agreement(),
    )  # fmt: skip
    return Letter(
        title="Quote for saving data",
        shop=one_line(quote.shop),
        number=one_line(quote.number),
        facts=tuple((label, one_line(text)) for label, text in facts if text.strip()),
        price_label="Price for all of your data",
        price=money_text(quote.offer.price, quote.currency),
        price_words=words.beside_price(),
        sections=tuple(section for section in written if section is not None),
        signatures=("Owner, or person acting for the owner", "For the shop"),
        issued=(quote.issued.year, quote.issued.month, quote.issued.day),
        sample="Sample from an invented demo shop. This is not an offer." if sample else "",
    )


@dataclass(frozen=True)
class _Words:
    """What each section says of one quote."""

    quote: DataQuote

    @property
    def offer(self) -> DataOffer:
        """What the owner is told."""
        return self.quote.offer

    def money(self, amount: float) -> str:
        """Write an amount."""
        return money_text(amount, self.quote.currency)

    def beside_price(self) -> str:
        """Say in one line what the price holds, and what is paid without success."""
        fee = self.offer.fee
        without = (
            f"Without any data you pay the fee for trying, {self.money(fee)}." if fee else "No data, no fee."
        )
        return f"Parts, labour and taxes included. {without}"

    def first(self) -> Section:
        """Say what to think of before the device is touched."""
        facts, bullets = self.offer.facts, [_BACKUP[self.offer.facts.backup]]
        if facts.irreplaceable:
            bullets.append(
                "You told us that the data cannot be replaced. We advise you to take the device to a "
                "licensed data recovery practice first, before anything is opened, cleaned or switched on. "
                "Every attempt can lower the chance that others have."
            )
            if facts.referral == "declined":
                bullets.append("You have heard this advice and ask us to try all the same.")
        else:
            bullets.append(
                "If some of the data cannot be replaced, tell us before we begin. A licensed data recovery "
                "practice should then see the device first."
            )
        return Section("Before we touch the device", bullets=tuple(bullets), care=facts.irreplaceable)

    def wanted(self) -> Section:
        """List what matters most, in order: it decides what counts as all and as part."""
        order = self.offer.facts.in_order
        grid = Grid(("Order", "What"), tuple((str(n), one_line(what)) for n, what in enumerate(order, 1)))
        opening = "We copy in this order. “All” and “part” below are counted by this list."
        if not order:
            opening = "You named nothing in particular: “all” below is all of your own files on the device."
        return Section("What matters most to you", (opening,), grid if order else None)

    def work(self) -> Section:
        """Say what is done to the device, and that it is no repair."""
        rows = tuple((wrong_words(line), line.done) for line in self.offer.work)
        opening = [] if rows else ["We see no fault that prevents access to your data."]
        if any(not line.seen for line in self.offer.work):
            opening.append("We check for each suspected fault. If we find it, the price includes its repair.")
        closing = (
            "We repair only as far as the device must run to be read. This is no repair of the device: it "
            "may not work afterwards, and goes back to you as it is.",
        )
        return Section("What we do", tuple(opening), Grid(("Fault", "Work"), rows) if rows else None,
                       closing=closing)  # fmt: skip

    def promised(self) -> Section:
        """Say what is promised and what is not."""
        whole, part, none = (in_twenty(self.quote.chances.of(o)) for o in ("all", "part", "none"))
        return Section(
            "What we promise and what we do not",
            bullets=(
                f"Of such jobs we expect {whole} to save all, {part} a part, and {none} nothing.",
                "We promise to try with care, to copy at once when the device runs, and to tell you what we "
                "saved. We do not promise any data.",
                "The attempt can fail. It can also make data unreadable that others could still have read.",
                "You enter your own code. We bypass no lock. We open files only to see that they are whole.",
                "The work is done when you have the data on storage that you bring or buy, and have seen "
                "that they open.",
            ),
        )

    def payment(self) -> Section:
        """Say what is paid for all, for part and for none of the data."""
        offer = self.offer
        rows = (
            ("All that you listed", self.money(offer.price)),
            ("A part of it", self.money(offer.part_price)),
            ("None of it", self.money(offer.fee) if offer.fee else "nothing"),
        )
        bullets = [
            "All prices include parts, labour and taxes.",
            "You pay after you have seen the data open.",
        ]
        if offer.fee:
            bullets = [
                "All prices include parts, labour and taxes.",
                f"The fee for trying, {self.money(offer.fee)}, is due whatever comes of it. It is a part of "
                "the price. You pay the rest after you have seen the data open.",
            ]
        return Section("Payment", grid=Grid(("We save", "You pay"), rows), bullets=tuple(bullets))

    def changes(self) -> Section:
        """Say what could turn up, and that nothing above the price is done without asking."""
        offer = self.offer
        opening = ("Some faults show only after the work has begun. These are possible here:",)
        unpaid = f"the fee for trying, {self.money(offer.fee)}" if offer.fee else "nothing"
        closing = (
            f"We do no work that takes the price above {self.money(offer.ceiling)} before you have agreed.",
            f"If you do not answer within {days_of(offer.answer_days)}, we take that as a no: we "
            "reassemble the device as it is. We return it with all its parts except a dangerous battery. "
            f"You then pay {unpaid}.",
            "By signing you agree that we keep a battery found to be dangerous. We hand it to a licensed "
            "collection under local rules. If you do not agree, tell us before you sign. The device then "
            "goes back with the battery disconnected and in a container that does not burn.",
        )
        title = "What could change the price or the work"
        return Section(title, opening if offer.possible else (), None, offer.possible, closing)

    def own_copy(self) -> Section:
        """Say what happens to the copy that the shop makes."""
        return Section(
            "Our copy of your data",
            bullets=(
                "We need a copy of our own while we work. Nobody browses it, and it is locked away.",
                "We erase it once you confirm that you have your data, at the latest "
                f"{days_of(self.offer.copy_days)} after you receive them. We record the day, and tell you if "
                "you ask. Check your data and make a backup before then.",
                "We do not wipe your device. It goes back with whatever is on it.",
            ),
        )

    def agreement(self) -> Section:
        """State what is signed."""
        return Section(
            "Your agreement",
            bullets=(
                _AUTHORITY[self.offer.facts.authority],
                "I ask the shop to read the data only to hand them to me. I know that the attempt can fail "
                "and can destroy both the device and the data.",
                f"I agree to the work above up to {self.money(self.offer.ceiling)}. Ask me before you exceed "
                "this amount.",
                "I have read what is promised and what is not, and the sections on the copy, water, battery "
                "and payment.",
            ),
        )
