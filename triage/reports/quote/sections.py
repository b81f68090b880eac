"""The sections of a quote's letter, each in a few plain sentences."""

from __future__ import annotations

from dataclasses import dataclass

from triage.domain.money import money_text
from triage.policy.answer.quote import BatteryConcern, FittedPart, Offer, QuoteKind, Stage, WorkLine
from triage.reports.quote.letter import Grid, Section
from triage.reports.wording.step import days_words

LAW = "You keep all your rights by law. Where this document and the law differ, the law applies."
_STAGES = {
    "counter": ("Today, at the counter", "All faults inside. The device is still closed."),
    "opened": ("After opening", "Faults on the circuit board."),
    "board level": ("With the circuit board out", "Faults that show only during the work."),
}


@dataclass(frozen=True)
class Words:
    """What each section says of one offer."""

    kind: QuoteKind
    currency: str
    offer: Offer

    def money(self, amount: float) -> str:
        """Write an amount."""
        return money_text(amount, self.currency)

    def beside_price(self) -> str:
        """Say in one line what the price holds, and what is paid without success."""
        if self.kind == "staged":
            asked = f"We ask you before any work above {self.money(self.offer.ceiling)}."
            return f"Parts, labour and taxes included. {asked}"
        unfixed = f"If it cannot be repaired: {self.unfixed}." if self.offer.fee else "No fix, no fee."
        return f"Parts, labour and taxes included. {unfixed}"

    @property
    def unfixed(self) -> str:
        """What is paid when it goes back unrepaired."""
        fee = self.offer.fee
        return f"the diagnostic fee of {self.money(fee)}" if fee else "nothing"

    def care(self) -> Section | None:
        """Say what an owner must know of a bad battery, and of liquid, before anything else."""
        return care(self.offer.battery, self.offer.wet)

    def work(self) -> Section:
        """Say what is wrong and what is done about it."""
        lines = self.offer.work
        rows = tuple((wrong_words(line), line.done) for line in lines)
        opening: list[str] = []
        if any(line.included and not line.seen for line in lines):
            opening.append("We check for each suspected fault. If we find it, the price includes its repair.")
        grid = Grid(("Fault", "Work"), rows) if rows else None
        return Section("Faults and work", tuple(opening), grid)

    def stages(self) -> Section | None:
        """Give the price at each stage of looking."""
        offer = self.offer
        if not offer.stages:
            return None
        rows = tuple(self._stage_row(stage) for stage in offer.stages)
        one = offer.one_total
        closing = [
            "You may stop after any stage. A later price replaces the earlier one. You receive it in "
            f"writing, and it is valid for {days_of(offer.valid_days)}.",
        ]
        if any(stage.may_end for stage in offer.stages):
            closing.append("A repair may turn out not to make sense. Then we tell you and return the device.")
        head: tuple[str, ...] = ("Stage", "Not yet known", "Likely price", "Highest price")
        opening = "The price becomes more exact with each stage."
        if one is not None:
            head, rows = head[:2], tuple(row[:2] for row in rows)
            opening = f"One total, confirmed at each stage: {self.money(one)}."
        return Section("Price by stage", (opening,), Grid(head, rows), closing=tuple(closing))

    def _stage_row(self, stage: Stage) -> tuple[str, ...]:
        name, unknown = _STAGES.get(stage.name, (stage.name, ""))
        if stage.low is None or stage.high is None or stage.maximum is None:
            return name, unknown, "no price possible", ""
        low, high = self.money(stage.low), self.money(stage.high)
        return name, unknown, low if low == high else f"{low} to {high}", self.money(stage.maximum)

    def payment(self) -> Section:
        """Say what is paid, and when less is paid."""
        offer = self.offer
        lines = ["The price includes parts, labour and taxes for all the work listed above."]
        if offer.over_worth:
            lines.append(
                "Please note: the price is higher than the usual value of such a device in working order. "
                "Ask us before you decide."
            )
        if offer.fee:
            lines.append(
                "If the device is repaired, the price includes the diagnostic fee of "
                f"{self.money(offer.fee)}. If it cannot be repaired, or you stop the work, you pay only "
                "the fee."
            )
        else:
            lines.append("No fix, no fee: if we cannot make it work, you pay nothing.")
        lines += self._reduced()
        if offer.parts:
            here = offer.part_days[1] <= 0
            lines.append(
                "The parts are in stock."
                if here
                else f"Parts usually take {days_words(*offer.part_days)} to arrive."
            )
        return Section("Payment", bullets=tuple(lines))

    def _reduced(self) -> list[str]:
        offer = self.offer
        if not offer.reduced or offer.reduced[0] >= offer.price:
            return []
        start = "If a function listed under “What may not be restored” cannot be restored, you pay less"
        if self.kind == "staged":
            return [f"{start}. We state how much less together with the price."]
        one, more = (self.money(amount) for amount in offer.reduced)
        rest = f", or {more} if it is more than one" if len(offer.lost) > 1 and more != one else ""
        return [f"{start}: {one} instead of {self.money(offer.price)}{rest}."]

    def changes(self) -> Section:
        """Say what could turn up, and that nothing above the price is done without asking."""
        offer = self.offer
        opening: tuple[str, ...] = ()
        if offer.possible:
            opening = ("Some faults show only after the work has begun. These are possible here:",)
        closing = []
        if offer.possible and self.kind != "staged":
            closing.append(
                "If we find one, the price does not change. If we cannot do the work at this price, we stop "
                "and ask you. A new price counts only if you agree to it in writing."
            )
        closing += [
            f"We do no work that takes the price above {self.money(offer.ceiling)} before you have agreed.",
            f"If you do not answer within {days_of(offer.answer_days)}, we take that as a no: we "
            "reassemble the device as it is. We return it with all its parts except a dangerous battery. "
            f"You then pay {self.unfixed}.",
            "By signing you agree that we keep a battery found to be dangerous. We hand it to a licensed "
            "collection under local rules. If you do not agree, tell us before you sign. The device then "
            "goes back unrepaired, with the battery disconnected and in a container that does not burn.",
        ]
        return Section(
            "What could change the price or the work", opening, None, offer.possible, tuple(closing)
        )

    def parts(self) -> Section | None:
        """Name the parts with their grade, and what pairing means."""
        return fitted_parts(self.offer.parts)

    def losses(self) -> Section | None:
        """Name the functions that may not be restored."""
        offer = self.offer
        if not (offer.lost or offer.carried_over):
            return None
        opening = ("We try to restore these functions but cannot promise success:",) if offer.lost else ()
        bullets = tuple(_capital(function) for function in offer.lost)
        closing: tuple[str, ...] = ()
        if offer.carried_over:
            closing = (
                f"If your device has them, we move over your own {_listed(offer.carried_over)}, because the "
                "device would not accept others. A function tied to such a part, like face or fingerprint "
                "unlock, can be lost.",
            )
        return Section("What may not be restored", opening, None, bullets, closing)

    def data(self) -> Section:
        """Say what happens to the data."""
        wanted = (
            "You want to keep your data. We save what we can reach before we heat the circuit board. We "
            "cannot promise more."
        )
        bullets = (
            "If you still can, save your data before you leave the device with us. A repair can erase all of "
            "it.",
            *((wanted,) if self.offer.data_wanted else ()),
            "We look only at what a test needs. When the work is done, we delete any passcode you gave us.",
        )
        return Section("Your data", bullets=bullets)

    def sealing(self) -> Section:
        """Make no claim of water resistance."""
        return sealing("We renew the adhesive.")

    def warranty(self) -> Section:
        """Promise days on top of the law."""
        days = self.offer.warranty_days
        if not days:
            return Section("Warranty", (LAW,))
        words = (
            f"{days_of(days)} on the work and on the parts we fitted, from the day you collect the device. "
            "This is in addition to your rights by law, never instead of them."
        )
        return Section("Warranty", (words, LAW))

    def agreement(self) -> Section:
        """State what is signed."""
        lines = [
            "I own this device or act for its owner. I have shown proof of this and of my identity.",
            "If the device has a lock, I am entitled to open it. I know that the shop bypasses no lock and "
            "never changes an identity number of a device.",
        ]
        lines += [
            f"I agree to the work above up to {self.money(self.offer.ceiling)}. Ask me before you "
            "exceed this amount.",
            "I have read what may be lost, and the sections on data, water, battery and parts.",
            "I receive the old parts if I ask for them before I collect the device. A dangerous battery is "
            "not handed out.",
        ]
        return Section("Your agreement", bullets=tuple(lines))


def sections(words: Words) -> tuple[Section, ...]:
    """Give all sections that there is something to say in; cautions come first."""
    written = (
        words.care(), words.work(), words.stages(), words.payment(), words.changes(), words.parts(),
        words.losses(), words.data(), words.sealing(), words.warranty(), words.agreement(),
    )  # fmt: skip
    return tuple(section for section in written if section is not None)


def care(battery: BatteryConcern, wet: bool) -> Section | None:
    """Say what an owner must know of a bad battery, and of liquid, before anything else."""
    bullets = []
    if battery != "no concern":
        told = "is damaged and can" if battery == "hazard" else "may be damaged and could"
        bullets += [
            f"The battery of this device {told} catch fire. Do not charge it, press it or open it, "
            "and leave it switched off.",
            "Keep it on a surface that does not burn, away from beds and bags, and do not post it. If it "
            "gets hot, hisses, smokes or smells sharp: leave it, do not breathe the fumes, and call the "
            "fire service.",
            "We make the battery safe before any other work. We never put a dangerous battery back.",
        ]
    if wet:
        bullets.append(
            "The device has been wet. Do not switch it on or charge it. Faults from liquid can show "
            "weeks later, even after good work."
        )
    return Section("Please take care", bullets=tuple(bullets), care=True) if bullets else None


def fitted_parts(parts: tuple[FittedPart, ...]) -> Section | None:
    """Name the parts with their grade, and what pairing means."""
    if not parts:
        return None
    rows = tuple(
        (_capital(part.name), part.grade or "we tell you before fitting", "yes" if part.paired else "no")
        for part in parts
    )
    closing = ["We fit a part of another grade only after you agree to it."]
    if any(part.paired for part in parts):
        closing.append(
            "Paired means that the manufacturer ties the part to one device by its identity. After a "
            "replacement the device may show a message or lose a function tied to the part. This can "
            "happen although the part is sound."
        )
    grid = Grid(("Part", "Grade", "Paired to the device"), rows)
    return Section("Parts we fit", grid=grid, closing=tuple(closing))


def sealing(closed: str) -> Section:
    """Make no claim of water resistance, however the device is closed."""
    words = (
        f"Opening a device breaks its seal. {closed} Afterwards we promise no resistance to water or "
        "dust, whatever the manufacturer stated for the new device."
    )
    return Section("Water and dust", (words,))


def wrong_words(line: WorkLine) -> str:
    """What is wrong, and whether it is only suspected."""
    return line.wrong if line.seen else f"Suspected: {line.wrong[:1].lower()}{line.wrong[1:]}"


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def days_of(count: int) -> str:
    """A number of days."""
    return f"{count} day{'s' if count != 1 else ''}"


def _listed(words: tuple[str, ...]) -> str:
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)
