"""The sections of a quote's letter, each in a few plain sentences."""

from __future__ import annotations

from dataclasses import dataclass

from triage.domain.money import money_text
from triage.policy.answer.quote import Offer, QuoteKind, Stage, WorkLine
from triage.reports.quote.letter import Grid, Section
from triage.reports.wording.step import days_words

_STAGES = {
    "counter": ("Today, at the counter", "Everything inside: it has not been opened."),
    "opened": ("Once it is open", "Faults on the circuit board."),
    "board level": ("With the circuit board out", "What only the work itself brings to light."),
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

    @property
    def data_only(self) -> bool:
        """Whether only the data is wanted."""
        return self.kind == "data-only"

    def beside_price(self) -> str:
        """Say in one line what the price holds, and what is paid without success."""
        if self.data_only:
            return "Parts, labour and taxes included. No data, no fee."
        if self.kind == "staged":
            return f"Nothing beyond {self.money(self.offer.ceiling)} without asking you first."
        unfixed = f"If it cannot be repaired: {self.unfixed}." if self.offer.fee else "No fix, no fee."
        return f"Parts, labour and taxes included. {unfixed}"

    @property
    def unfixed(self) -> str:
        """What is paid when it goes back unrepaired."""
        fee = self.offer.fee
        return f"the diagnostic fee of {self.money(fee)}" if fee else "nothing"

    def care(self) -> Section | None:
        """Say what an owner must know of a bad battery, and of liquid, before anything else."""
        offer, bullets = self.offer, []
        if offer.battery != "no concern":
            told = "is damaged and can" if offer.battery == "hazard" else "may be damaged and could"
            bullets += [
                f"The battery of this device {told} catch fire. Do not charge it, press it or open it, "
                "and leave it switched off.",
                "Keep it on a surface that does not burn, away from beds and bags, and do not post it. If it "
                "gets hot, hisses, smokes or smells sharp: leave it, do not breathe the fumes, and call the "
                "fire service.",
                "We make the battery safe before any other work. A dangerous one is never put back.",
            ]
        if offer.wet:
            bullets.append(
                "The device has been wet. Do not switch it on or charge it. Faults from liquid can show "
                "weeks later, even after good work."
            )
        return Section("Please take care", bullets=tuple(bullets), care=True) if bullets else None

    def work(self) -> Section:
        """Say what is wrong and what is done about it."""
        lines = self.offer.work
        rows = tuple((_wrong(line), line.done) for line in lines)
        opening: list[str] = []
        if self.data_only and not any(line.included for line in lines):
            opening.append("Nothing that we can see stands between us and your data.")
        if any(line.included and not line.seen for line in lines):
            opening.append(
                "What is only suspected is looked for, and repaired within the price if it is there."
            )
        grid = Grid(("What we found", "What we do"), rows) if rows else None
        return Section("What is wrong, and what we do", tuple(opening), grid)

    def stages(self) -> Section | None:
        """Give the price at each stage of looking."""
        offer = self.offer
        if not offer.stages:
            return None
        rows = tuple(self._stage_row(stage) for stage in offer.stages)
        closing = [
            "You may stop after any stage. A later price takes the place of the earlier one; it is given to "
            f"you in writing and stands for {_days(offer.valid_days)}.",
        ]
        if any(stage.may_end for stage in offer.stages):
            closing.append("It may turn out that a repair makes no sense. We then say so and return it.")
        head = ("Stage", "Not known yet", "Likely price then", "At most")
        opening = "The more we have seen, the closer we can name the price."
        return Section("The price, stage by stage", (opening,), Grid(head, rows), closing=tuple(closing))

    def _stage_row(self, stage: Stage) -> tuple[str, ...]:
        name, unknown = _STAGES.get(stage.name, (stage.name, ""))
        if stage.low is None or stage.high is None or stage.maximum is None:
            return name, unknown, "none can be given", ""
        low, high = self.money(stage.low), self.money(stage.high)
        return name, unknown, low if low == high else f"{low} to {high}", self.money(stage.maximum)

    def payment(self) -> Section:
        """Say what is paid, and when less is paid."""
        offer = self.offer
        for_what = "reading and handing over the data" if self.data_only else "all the work named above"
        lines = [f"The price includes parts, labour and taxes for {for_what}."]
        if offer.over_worth:
            lines.append(
                "Please note: the price is more than such a device is usually worth when it works. "
                "Ask us before you decide."
            )
        if self.data_only:
            lines.append(
                "You pay when the data that could be read has been handed to you and you have seen that it "
                "opens. If none of it can be handed over, you pay nothing."
            )
        elif offer.fee:
            lines.append(
                f"The diagnostic fee of {self.money(offer.fee)} is a part of the price when it is repaired. "
                "If it cannot be repaired, or you stop the work, you pay the fee and nothing else."
            )
        else:
            lines.append("No fix, no fee: if we cannot make it work, you pay nothing.")
        lines += self._reduced()
        if offer.parts:
            here = offer.part_days[1] <= 0
            lines.append(
                "The parts are here."
                if here
                else f"Parts usually take {days_words(*offer.part_days)} to arrive."
            )
        return Section("What you pay", bullets=tuple(lines))

    def _reduced(self) -> list[str]:
        offer = self.offer
        if not offer.reduced or offer.reduced[0] >= offer.price:
            return []
        start = "If a function listed under “What may not come back” cannot be restored, you pay less"
        if self.kind == "staged":
            return [f"{start}; how much less is named with the price."]
        one, more = (self.money(amount) for amount in offer.reduced)
        rest = f", or {more} if it is more than one" if len(offer.lost) > 1 and more != one else ""
        return [f"{start}: {one} instead of {self.money(offer.price)}{rest}."]

    def changes(self) -> Section:
        """Say what could turn up, and that nothing dearer is done without asking."""
        offer = self.offer
        opening: tuple[str, ...] = ()
        if offer.possible:
            opening = ("Some faults cannot be seen until the work has begun. These are possible here:",)
        closing = []
        if offer.possible and self.kind != "staged":
            closing.append(
                "Should one turn up, the price stays as it is. If the work cannot be done for it, we stop "
                "and ask you; a new price is agreed in writing or not at all."
            )
        closing += [
            f"Work that would take the price above {self.money(offer.ceiling)} waits until you are asked.",
            f"Silence is never a yes. Without your answer in {_days(offer.answer_days)} we put the device "
            "together as it is and return it with all its parts, but for a dangerous battery; you then pay "
            f"{self.unfixed}.",
            "By signing you agree that we keep a battery that is found to be dangerous, and hand it to a "
            "licensed collection as local rules say. If you do not agree, say so before you sign: the device "
            "then goes back unrepaired, the battery disconnected and in a container that does not burn.",
        ]
        return Section("What could change", opening, None, offer.possible, tuple(closing))

    def parts(self) -> Section | None:
        """Name the parts with their grade, and what it means that one is bound."""
        parts = self.offer.parts
        if not parts:
            return None
        rows = tuple(
            (
                _capital(part.name),
                part.grade or "told to you before it is fitted",
                "yes" if part.paired else "no",
            )
            for part in parts
        )
        closing = ["A part of another grade is fitted only after you have said yes to it."]
        if any(part.paired for part in parts):
            closing.append(
                "Bound means that the maker ties the part to one device by its identity. After a change the "
                "device may show a message, or lose a function tied to the part, though the part is sound."
            )
        grid = Grid(("Part", "Grade", "Bound to the device"), rows)
        return Section("Parts we fit", grid=grid, closing=tuple(closing))

    def losses(self) -> Section | None:
        """Name the functions that may not come back."""
        offer = self.offer
        if not (offer.lost or offer.carried_over):
            return None
        opening = ("We try to restore these and cannot promise them:",) if offer.lost else ()
        bullets = tuple(_capital(function) for function in offer.lost)
        closing: tuple[str, ...] = ()
        if offer.carried_over:
            closing = (
                f"Your own {_listed(offer.carried_over)}, where it has them, are moved over: the device "
                "would not accept others. A function tied to such a part, like face or fingerprint unlock, "
                "can be lost.",
            )
        return Section("What may not come back", opening, None, bullets, closing)

    def data(self) -> Section:
        """Say what happens to the data, or what counts as done when it is all that is wanted."""
        if self.data_only:
            bullets = (
                "Done means: the data that could be read is in your hands, on storage that you bring or buy, "
                "and you have seen that it opens.",
                "The device is not repaired. It may not work afterwards and goes back to you as it is.",
                "The attempt can fail. It can also make unreadable what could still be read before.",
                "You enter your own passcode; no lock is got round. We look no further than whether a file "
                "opens, and delete our copy once you have yours.",
            )
            return Section("Your data, and what counts as done", bullets=bullets)
        wanted = (
            "You want your data kept. We save what can be reached before there is heat on the circuit board; "
            "more than that we cannot promise."
        )
        bullets = (
            "Save your data before you hand the device over, if it lets you. A repair can erase all of it.",
            *((wanted,) if self.offer.data_wanted else ()),
            "We look at nothing beyond what a test needs. A passcode you tell us is deleted when the work is "
            "done.",
        )
        return Section("Your data", bullets=bullets)

    def sealing(self) -> Section:
        """Make no claim of water resistance."""
        closed = "We close it without sealing it anew." if self.data_only else "We renew the adhesive."
        words = (
            f"Opening a device breaks its seal. {closed} After that we claim no resistance to water or dust, "
            "whatever its maker said when it was new."
        )
        return Section("Water and dust", (words,))

    def warranty(self) -> Section:
        """Promise days on top of the law."""
        days = self.offer.warranty_days
        law = "Your rights by law hold in full; where this letter and the law differ, the law decides."
        if self.data_only or not days:
            return Section("Warranty", (law,))
        words = (
            f"{_days(days)} on the work and on the parts we fitted, from the day you collect the device. "
            "This comes on top of the law, never instead of it."
        )
        return Section("Warranty", (words, law))

    def agreement(self) -> Section:
        """State what is signed."""
        lines = [
            "I own this device or act for its owner, and have shown proof of it and of who I am.",
            "Its lock, if it has one, is mine to open. I know that no lock is got round and that no identity "
            "number of a device is ever changed.",
        ]
        if self.data_only:
            lines.append(
                "I ask for the data on it to be read for one purpose, to hand it to me, and I may lawfully "
                "have it. I know that the attempt can fail, and can end both the device and the data."
            )
        lines += [
            f"I agree to the work above up to {self.money(self.offer.ceiling)}; beyond that, ask me first.",
            "I have read what may be lost, and what is said of data, water, battery and parts.",
            "Old parts are mine if I ask for them before I collect the device; a dangerous battery is not "
            "handed out.",
        ]
        return Section("Your agreement", bullets=tuple(lines))


def sections(words: Words) -> tuple[Section, ...]:
    """Give all sections that there is something to say in; cautions come first."""
    written = (
        words.care(), words.work(), words.stages(), words.payment(), words.changes(), words.parts(),
        words.losses(), words.data(), words.sealing(), words.warranty(), words.agreement(),
    )  # fmt: skip
    return tuple(section for section in written if section is not None)


def _wrong(line: WorkLine) -> str:
    return line.wrong if line.seen else f"Suspected: {line.wrong[:1].lower()}{line.wrong[1:]}"


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def _days(days: int) -> str:
    return f"{days} day{'s' if days != 1 else ''}"


def _listed(words: tuple[str, ...]) -> str:
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)
