"""The label of each setting on screens, its group, and what it does."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

# money, a share shown in percent, minutes, days, jobs, a count of 20, plain text or a choice
Unit = Literal["text", "currency", "money", "hourly", "share", "minutes", "days", "jobs", "of 20", "tax"]


@dataclass(frozen=True)
class SettingWords:
    """One setting: its dotted place in the file, its words, its unit.

    of : what a share is a percentage of; of days, what a number of them means.
    """

    place: str
    label: str
    unit: Unit
    help: str = ""
    of: str = ""


_SOURCES = {
    "owner_in_person": "owner in person",
    "trade_seller": "trade seller",
    "auction": "auction",
    "unknown": "unknown or not stated",
}
_UNSETTLED = "Of devices from this source where it is open. Invented in the demo: enter your own."
_BELIEFS = (
    ("not_listed", "Not on a block list", _UNSETTLED, "devices"),
    ("not_locked", "No activation lock", _UNSETTLED, "devices"),
    ("not_enrolled", "Not enrolled, not on finance", _UNSETTLED, "devices"),
    ("not_listed_later", "Not listed after purchase", "Nobody can settle this.", "devices"),
    ("price_back", "Paid back for a refused device", "", "price paid"),
)

GROUPS: dict[str, tuple[SettingWords, ...]] = {
    "The shop": (
        SettingWords("shop", "Name of the shop", "text"),
        SettingWords(
            "currency", "Currency", "currency",
            "Three letters, such as EUR. Existing jobs keep their currency.",
        ),
        SettingWords(
            "bench_rate", "Bench rate", "hourly",
            "Cost of one hour at the bench. Applies to every minute of a plan.",
        ),
        SettingWords("bench_queue_days", "Wait before work starts", "days"),
        SettingWords(
            "backup_folder", "Folder for daily backups", "text",
            "Full path of an existing folder, best on another disk. Empty: no daily backup.",
        ),
    ),
    "Your rule": (
        SettingWords("go_rule.margin", "Lowest expected margin", "money"),
        SettingWords("go_rule.margin_per_hour", "Lowest margin per bench hour (after labour cost)", "hourly"),
        SettingWords(
            "go_rule.losses_in_20", "Highest risk of loss", "of 20",
            "Of 20 devices like this one, how many may lose money.",
        ),
    ),
    "Fees and tax": (
        SettingWords("fees.inbound_postage", "Inbound postage", "money"),
        SettingWords("fees.buyer_fee_share", "Buyer's premium (auction fee)", "share", of="price paid"),
        SettingWords("fees.selling_share", "Selling fee", "share", of="sale price"),
        SettingWords("fees.payment_share", "Payment fee", "share", of="sale price"),
        SettingWords("fees.outbound_postage", "Outbound postage", "money"),
        SettingWords("fees.consumables", "Consumables per job", "money"),
        SettingWords("fees.disposal", "Disposal of a device", "money"),
        SettingWords(
            "tax.scheme", "Tax on a sale", "tax",
            "Ask your tax adviser which scheme applies under local rules.",
        ),
        SettingWords("tax.rate", "Tax rate", "share", of="price before tax"),
    ),
    "Bench minutes per device": (
        SettingWords("minutes.make_safe", "Make battery safe", "minutes"),
        SettingWords(
            "minutes.careful_look", "Open carefully and inspect a suspect battery", "minutes",
            "In addition to opening. Invented: enter your own.",
        ),
        SettingWords(
            "minutes.battery_out", "Remove a good battery and inspect it again", "minutes",
            "Before hot air, hot plate, iron or laser. Invented: enter your own.",
        ),
        SettingWords(
            "minutes.liquid_look", "Look for liquid, clean and dry", "minutes",
            "In addition to opening, waiting not counted. Invented: enter your own.",
        ),
        SettingWords("minutes.open", "Open device", "minutes"),
        SettingWords("minutes.board_out", "Remove board", "minutes"),
        SettingWords("minutes.shields_off", "Remove shields", "minutes"),
        SettingWords("minutes.trace_cause", "Find the cause of a symptom", "minutes"),
        SettingWords("minutes.close", "Close device", "minutes"),
        SettingWords("minutes.seal", "Seal device", "minutes"),
        SettingWords("minutes.verify", "Final check", "minutes"),
        SettingWords("minutes.strip", "Strip for parts", "minutes"),
        SettingWords("minutes.reassemble", "Reassemble an owner's device", "minutes"),
        SettingWords("minutes.save_data", "Save data", "minutes"),
    ),
    "Sales, waiting times and comebacks": (
        SettingWords("value_loss_per_month", "Loss of value per month", "share", of="resale value"),
        SettingWords("days_to_sell", "Time to sell", "days"),
        SettingWords("cure_days", "Adhesive cure and test run", "days"),
        SettingWords("keep_people_days", "Offer to erase personal data after a job ends", "days",
                     "At 0, erase it when somebody asks. Keep records that the law requires for longer "
                     "elsewhere.", of="0: never"),
        SettingWords("hold_days", "Holding period of a bought device before sale or stripping", "days"),
        SettingWords("warranty_days", "Warranty", "days",
                     "In addition to consumer law, never instead of it."),
        SettingWords("comeback_refund_share", "Comebacks that end in a refund", "share", of="comebacks"),
        SettingWords("resale_after_refund_share", "Resale value after a refund", "share", of="sale price"),
        SettingWords("carrier_locked_share", "Resale value of a carrier-locked device", "share",
                     of="resale value"),
    ),
    "Parts and mishaps": (
        SettingWords("price_age_days", "A price of a part is out of date after", "days"),
        SettingWords("missing_part_share", "Assumed cost of a part without a price", "share",
                     of="resale value"),
        SettingWords("recovered_part_share", "Value of a fitted part when stripped", "share", of="its price"),
        SettingWords("opening_damage_chance", "Chance of damage on opening", "share", of="devices opened"),
        SettingWords("opening_damage_share", "Cost of damage on opening", "share", of="resale value"),
        SettingWords("owner_damage_liability", "Extra liability for an owner's device", "money"),
    ),
    "Right to sell: settling it": (
        SettingWords("right_to_sell.number_check", "Check serial number and IMEI against lists", "minutes"),
        SettingWords("right_to_sell.number_fee", "Fee of a list check", "money"),
        SettingWords("right_to_sell.boot_check", "Start it and check activation", "minutes"),
        SettingWords("right_to_sell.sign_off", "Seller signs out in person", "minutes"),
        SettingWords("right_to_sell.enrolment_check", "Check management and finance", "minutes"),
        SettingWords("right_to_sell.enrolment_fee", "Fee of a finance check", "money"),
        SettingWords(
            "right_to_sell.hand_over", "Hand over a refused device", "minutes",
            "To the supplier, or to whom local law says.",
        ),
    ),
    **{
        f"Right to sell: {name}": tuple(
            SettingWords(f"right_to_sell.{source}.{place}", label, "share", help, of)
            for place, label, help, of in _BELIEFS
        )
        for source, name in _SOURCES.items()
    },
    "Quotes": (
        SettingWords("quoting.diagnostic_fee", "Diagnostic fee", "money",
                     "Credited against the repair price."),
        SettingWords("quoting.valid_days", "A quote is valid for", "days"),
        SettingWords("quoting.answer_days", "Wait for an owner's answer", "days"),
    ),
    "Data jobs": (
        SettingWords("data.trying_fee", "Fee for trying", "money",
                     "Due whatever comes of it, and a part of the price. Invented: enter your own."),
        SettingWords("data.part_price_share", "Price for a part of the data", "share", of="price for all"),
        SettingWords("data.copy_days", "Erase our own copy at the latest after", "days"),
        SettingWords("data.donor_minutes", "Fit a donor display", "minutes"),
        SettingWords("data.all_share", "Assumption: all data saved", "share", of="jobs that can be read"),
        SettingWords("data.part_share", "Assumption: part of the data saved", "share",
                     of="jobs that can be read"),
        SettingWords("data.chips_share", "Assumption: processor and storage together", "share",
                     "Where nobody knows beforehand.", of="jobs"),
        SettingWords("data.touch_share", "Assumption: touch works, or a donor display fits", "share",
                     "Where nobody knows beforehand.", of="jobs"),
        SettingWords("data.code_share", "Assumption: code is known", "share",
                     "Where nobody knows beforehand.", of="jobs"),
        SettingWords("data.belief_jobs", "Each of these assumptions is worth", "jobs",
                     "Your own data jobs are counted beside them. All are invented: enter your own."),
    ),
}  # fmt: skip

TAX_WORDS = {
    "none": "none",
    "standard": "standard: on the full sale price",
    "second-hand-margin": "second-hand margin scheme: tax on sale price minus purchase price",
}


def all_settings() -> tuple[SettingWords, ...]:
    """Every setting that a screen can change."""
    return tuple(words for group in GROUPS.values() for words in group)
