"""A choice from a lot in words: the same on the page and in the terminal."""

from __future__ import annotations

import csv
import io
from collections import Counter

from triage.domain.counts import forecast_in_twenty, in_twenty, with_signs
from triage.domain.money import money_text
from triage.ledger.history.history_cells import guarded
from triage.lot_selection.lot_choice import LotChoice, UnitLine, WholeWords
from triage.lot_selection.lot_risk import LotRisk
from triage.policy.answer.assessment import Verdict
from triage.reports.wording.prices import lot_origin_words

BID_COLUMNS = (
    "unit", "tier", "take", "verdict", "ask", "highest_bid", "margin", "minutes", "loses_money_in_20",
    "in_whole_lot", "priced_by", "limited_by",
)  # fmt: skip
LIMIT_NOTE = (
    "Highest price: above it, your rule fails; limited by says which part of it (/ h: margin per bench hour; "
    "risk: risk of loss)."
)
# Part of the go rule: in words, and for a narrow column.
_LIMITED = {
    "margin": ("margin", "margin"),
    "margin_per_hour": ("margin per bench hour", "/ h"),
    "losses_in_20": ("risk of loss", "risk"),
}
# Fewer devices than this: the distribution of their summed margin is not yet near normal.
FEW = 5
# Money a better choice could still bring that is not worth a word.
_TRIFLE = 0.5
_STOPS = {
    "margin": "the expected margin a device repaired or stripped is too low",
    "margin_per_hour": "the margin a bench hour is too low",
    "losses_in_20": "the risk of loss is too high",
}


def money(amount: float, choice: LotChoice) -> str:
    """Whole money in the lot's currency."""
    return money_text(amount, choice.currency, whole=True)


def choice_words(choice: LotChoice) -> str:
    """The choice in one sentence."""
    count, of = len(choice.taken), len(choice.lines) + len(choice.bad_rows)
    if not count:
        why = (
            "no device meets your rule at its price"
            if not choice.offered
            else "no device that meets your rule fits your limits"
        )
        return f"Buy none of {of:,}: {why}."
    return (
        f"Buy {count:,} of {of:,} for {money(choice.outlay, choice)} and {hours_words(choice.hours)}: "
        f"expected margin {money(choice.risk.expected, choice)}, "
        f"risk of loss {_loss_count(choice.risk)}."
    )


def priced_words(choice: LotChoice) -> tuple[str, ...]:
    """By what the resale values of the lot are, where some are by model or could be."""
    words = lot_origin_words(line.priced_by for line in choice.lines)
    return (words,) if words else ()


def hours_words(hours: float) -> str:
    """Bench hours, to a tenth below ten."""
    return f"{hours:.1f} h" if hours < 10 else f"{hours:.0f} h"


def risk_words(choice: LotChoice, drawn: bool = True) -> str:
    """What the dots show: the text of the chart too.

    Parameters
    ----------
    drawn : the dots stand beside the text.
    """
    risk = choice.risk
    low, high = (money(risk.dots[place], choice) for place in (1, 18))  # 90 %
    few = " With so few devices, the shape is approximate." if len(choice.taken) < FEW else ""
    tail = " (expected shortfall at 10 %)" if drawn else ""
    shared, worst = "", money(risk.shortfall, choice)
    if risk.share_not_known >= 0.05:
        shared = (
            f" {100 * risk.share_not_known:.0f} % of the spread is uncertainty that all devices share; "
            "buying more devices does not average it out."
        )
    these = f"all {len(choice.taken)} together" if len(choice.taken) > 1 else "this one"
    return (
        f"{risk.losses_in_20} of 20 outcomes for {these} lose money{' (diamonds)' if drawn else ''}; 18 "
        f"are between {low} and {high}; the worst 2 in 20 average {worst}{tail}.{few}{shared}"
    )


def more_words(choice: LotChoice) -> tuple[str, ...]:
    """What more of a limit would bring, and what picking by margin per hour would."""
    goal = "the expected margin" if choice.wanted.goal == "expected" else "the mean of the worst 2 in 20"
    words = []
    if choice.hour_worth is not None:
        words.append(f"One more bench hour would add {money(choice.hour_worth, choice)} to {goal}.")
    if choice.cash_worth is not None:
        step = money(choice.cash_step, choice)
        words.append(f"{step} more cash would add {money(choice.cash_worth, choice)} to {goal}.")
    if choice.taken:
        hand = choice.by_hand
        behind = "the same" if hand.behind < _TRIFLE else f"{money(hand.behind, choice)} lower"
        words.append(
            f"Picking by margin per hour instead: {hand.taken} device{'' if hand.taken == 1 else 's'}, "
            f"and {goal} is {behind}."
        )
    if choice.short_by > _TRIFLE:
        words.append(f"Time ran out: another choice could add up to {money(choice.short_by, choice)}.")
    return tuple(words)


def waiting_words(choice: LotChoice) -> tuple[str, ...]:
    """What is not chosen although it is not declined either."""
    verdicts = Counter(line.verdict for line in choice.lines)
    words = []
    if verdicts[Verdict.CHECK]:
        words.append(
            f"{verdicts[Verdict.CHECK]} need a check first and are not chosen. Their highest price "
            "allows for the chance that you may not sell them."
        )
    unpriced = sum(line.price is None for line in choice.lines)
    if unpriced:
        words.append(
            f"{unpriced} have no asking price and are not chosen; the bid list gives their highest prices."
        )
    return tuple(words)


def whole_words(whole: WholeWords, choice: LotChoice) -> tuple[str, ...]:
    """The lot as one purchase, in sentences."""
    work = (
        f"In the whole lot: {whole.repaired} to repair, {whole.stripped} to strip at once, "
        f"{whole.left} to dispose of"
        + (f", {whole.refused} ruled out by ownership" if whole.refused else "")
        + (f", {whole.bad_rows} unreadable" if whole.bad_rows else "")
        + f"; {hours_words(whole.hours)} of bench time. These counts differ from the verdicts above: a "
        "verdict is for one device at its own price; here one price is paid for all, your rule applies to "
        "the lot as a whole, and limited hours go to the devices that earn most."
    )
    stops = _STOPS[whole.stopped_by] if whole.stopped_by else ""
    counted = f", plus freight of {money(whole.freight, choice)}" if whole.freight else ""
    if whole.bid is None:
        return (f"Whole lot: no price meets your rule{counted}; {stops}.", work)
    risk = whole.risk
    return (
        f"Whole lot: highest price {money_text(whole.bid, choice.currency)}{counted}; above it, {stops}.",
        work,
        f"At that price: expected margin {money(risk.expected, choice)}, risk of loss {_loss_count(risk)}.",
    )


def _loss_count(risk: LotRisk) -> str:
    """Of 20 such outcomes, how many lose money."""
    return forecast_in_twenty(risk.losses_in_20 / 20)


def loses_in_20(line: UnitLine) -> str:
    """Of 20 devices like this, how many lose money; blank where ownership allows no price."""
    return "" if line.loss_chance is None else f"{20 * line.loss_chance:.0f}"


def short_losses(in_20: float) -> str:
    """The same count for a narrow column; "< 1" where it is rounded to 0 from more."""
    return with_signs(in_twenty(in_20 / 20).removesuffix(" in 20"))


def limited_words(parts: str, short: bool = False) -> str:
    """Which part of the rule limits the highest price, from its names; short for a narrow column."""
    return (", " if short else " and ").join(_LIMITED[name][short] for name in parts.split())


def bid_list(choice: LotChoice) -> str:
    """Every device as CSV, those to buy first, then by what they earn; no cell a spreadsheet would run."""
    sheet = io.StringIO()
    rows = csv.writer(sheet, lineterminator="\n")
    rows.writerow(BID_COLUMNS)
    work = choice.whole.work if choice.whole else ("",) * len(choice.lines)
    ranked = sorted(
        zip(choice.lines, work, strict=True),
        key=lambda pair: (not pair[0].taken, -(pair[0].margin or -1e9)),
    )
    for line, then in ranked:
        rows.writerow(
            [
                guarded(line.label),
                guarded(line.tier),
                "yes" if line.taken else "no",
                line.verdict,
                *(_number(value) for value in (line.price, line.highest_bid, line.margin)),
                f"{line.minutes:.0f}",
                loses_in_20(line),
                then,
                guarded(line.priced_by),
                limited_words(line.limited_by),
            ]
        )
    return sheet.getvalue()


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.2f}"
