"""What each setting is called on screens, in which group, and what it does."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

# money, a share shown in percent, minutes, days, a count of 20, plain text or a choice
Unit = Literal["text", "currency", "money", "hourly", "share", "minutes", "days", "of 20", "tax"]


@dataclass(frozen=True)
class SettingWords:
    """One setting: its dotted place in the file, its words, its unit."""

    place: str
    label: str
    unit: Unit
    help: str = ""


GROUPS: dict[str, tuple[SettingWords, ...]] = {
    "The shop": (
        SettingWords("shop", "Name of the shop", "text"),
        SettingWords(
            "currency", "Currency", "currency",
            "Three letters, such as EUR. Jobs already in the record keep theirs.",
        ),
        SettingWords("bench_rate", "What a bench hour costs", "hourly", "Every minute of a plan costs it."),
        SettingWords("bench_queue_days", "Days before work starts", "days"),
        SettingWords(
            "backup_folder", "Folder for a daily copy", "text",
            "The whole path of a folder that is there, best on another disk. Empty: no daily copy.",
        ),
    ),
    "When to take one": (
        SettingWords("go_rule.margin", "Least expected margin", "money"),
        SettingWords("go_rule.margin_per_hour", "Least margin for each bench hour", "hourly"),
        SettingWords(
            "go_rule.losses_in_20", "May lose money in at most", "of 20",
            "Of 20 such devices, how many may end in a loss.",
        ),
    ),
    "Fees and tax": (
        SettingWords("fees.inbound_postage", "Postage in", "money"),
        SettingWords("fees.buyer_fee_share", "Buyer's fee", "share", "Share of the price paid."),
        SettingWords("fees.selling_share", "Selling fee", "share", "Share of a sale."),
        SettingWords("fees.payment_share", "Payment fee", "share", "Share of a sale."),
        SettingWords("fees.outbound_postage", "Postage out", "money"),
        SettingWords("fees.consumables", "Consumables a job", "money"),
        SettingWords("fees.disposal", "Disposal of a wreck", "money"),
        SettingWords(
            "tax.scheme", "Tax on a sale", "tax",
            "Which scheme applies is for your adviser and the local rules to say.",
        ),
        SettingWords("tax.rate", "Tax rate", "share", "Over the price before tax: 20 % is 0.2."),
    ),
    "Bench minutes once a device": (
        SettingWords("minutes.make_safe", "Make a battery safe", "minutes"),
        SettingWords(
            "minutes.careful_look", "Open with care and look at a suspect battery", "minutes",
            "On top of opening. Invented: set your own.",
        ),
        SettingWords(
            "minutes.battery_out", "Take a good battery out and look at it again", "minutes",
            "Before hot air, plate, iron or laser. Invented: set your own.",
        ),
        SettingWords("minutes.open", "Open", "minutes"),
        SettingWords("minutes.board_out", "Take the board out", "minutes"),
        SettingWords("minutes.shields_off", "Take the shields off", "minutes"),
        SettingWords("minutes.trace_cause", "Trace a cause", "minutes"),
        SettingWords("minutes.close", "Close", "minutes"),
        SettingWords("minutes.seal", "Seal", "minutes"),
        SettingWords("minutes.verify", "Final check", "minutes"),
        SettingWords("minutes.strip", "Strip for parts", "minutes"),
        SettingWords("minutes.reassemble", "Put an owner's device back together", "minutes"),
        SettingWords("minutes.save_data", "Save wanted data", "minutes"),
    ),
    "Selling, waiting and coming back": (
        SettingWords("value_loss_per_month", "Value lost a month", "share"),
        SettingWords("days_to_sell", "Days until it is sold", "days"),
        SettingWords("cure_days", "Days for adhesive and soak test", "days"),
        SettingWords("keep_people_days", "Names and contacts are kept after a job's end", "days",
                     "0: until it is asked for. Law may want some records longer: keep those elsewhere."),
        SettingWords("hold_days", "Days a bought unit is held before it is sold or stripped", "days"),
        SettingWords("warranty_days", "Warranty you promise", "days",
                     "It sits on top of consumer law, never instead of it."),
        SettingWords("comeback_refund_share", "Comebacks that end in a refund", "share"),
        SettingWords("resale_after_refund_share", "What a refunded device then fetches", "share",
                     "Share of its sale price."),
        SettingWords("carrier_locked_share", "What a carrier-locked one fetches", "share",
                     "Share of the working price."),
    ),
    "Parts and mishaps": (
        SettingWords("price_age_days", "A part price is old after", "days"),
        SettingWords("missing_part_share", "A part without a price costs", "share",
                     "Share of the working price."),
        SettingWords("recovered_part_share", "A fitted part is worth again when stripped", "share"),
        SettingWords("opening_damage_chance", "Opening breaks something", "share"),
        SettingWords("opening_damage_share", "What that costs", "share", "Share of the working price."),
        SettingWords("owner_damage_liability", "Owed on top for an owner's device", "money"),
    ),
    "Quotes": (
        SettingWords("quoting.diagnostic_fee", "Diagnostic fee", "money", "Credited to a repair."),
        SettingWords("quoting.valid_days", "A quote stands for", "days"),
        SettingWords("quoting.answer_days", "Wait for an owner's answer", "days"),
    ),
}  # fmt: skip

TAX_WORDS = {
    "none": "none",
    "standard": "standard: on the whole sale",
    "second-hand-margin": "second-hand margin: on sale less purchase",
}


def all_settings() -> tuple[SettingWords, ...]:
    """Every setting that a screen can change."""
    return tuple(words for group in GROUPS.values() for words in group)
