"""The money review in plain sentences: the same on a page and in the terminal."""

from __future__ import annotations

from collections import Counter
from functools import partial

from triage.domain.counts import in_twenty
from triage.domain.money import is_loss, money_text
from triage.review.money.job_lines import COSTS, JobLine
from triage.review.money.money_review import BY, MoneyGroup, MoneyReview

# What one group is called, by what the review goes by.
ONE = dict(zip(BY, ("damage kind", "family", "price class", "technician", "cause", "route"), strict=True))
_MANY = dict(
    zip(BY, ("damage kinds", "families", "price classes", "technicians", "causes", "routes"), strict=True)
)
# What the two means of one damage are, beside their columns.
TWO_MEANS = (
    "Attributed margin (attr. mean): this damage's own share of the margin. Raw mean: the whole margin of "
    "jobs with it, other damage included, so its sign can differ."
)
CHANGE_WORDS = (
    "Break-even change: how much less to pay, or more to quote, for a mean of zero; "
    "it assumes that sellers and owners still agree. A quote must rise by more than the loss "
    "a job: only repaired jobs pay it, and tax and fees take a share"
)
_OUTCOME = {"fixed": "fixed", "not-fixed": "not fixed", "not-attempted": "not attempted"}
_ROUTE = {"bought": "bought", "walk-in": "an owner's"}


def change_words(group: MoneyGroup, currency: str) -> str:
    """Say which price would have made the mean zero; blank where it is not negative."""
    words = []
    for change in group.changes:
        if change.amount is None:
            words.append(
                "a purchase loses money even at price 0" if change.route == "bought" else "no quote covers it"
            )
        else:
            amount = money_text(change.amount, currency, whole=True)
            words.append(f"pay {amount} less" if change.route == "bought" else f"quote {amount} more")
    return "; ".join(words)


def missing_words(review: MoneyReview) -> tuple[str, ...]:
    """What the record lacks for this view, and the jobs left out; a sentence each."""
    words = []
    if review.lacks:
        words.append(f"The record lacks {_listed(review.lacks)}" + (
            ", so no job has a margin." if not review.jobs else "."
        ))  # fmt: skip
    if review.left_out:
        words.append(
            "Left out: "
            + ", ".join(f"{count} job{'' if count == 1 else 's'} ({why})" for why, count in review.left_out)
            + "."
        )
    if review.jobs:
        words.append(
            "Bench time counts only where minutes were recorded; work without them, such as opening, costs "
            "nothing here."
        )
    return tuple(words)


def lead_words(review: MoneyReview) -> str:
    """Say in a sentence or two which group is worst, and how certain that is."""
    if not review.groups:
        return f"The record gives no {ONE[review.by]} for any job."
    if review.jobs == 0:
        return (
            "No job has complete costs, so no margin can be shown. The table shows how many jobs there were "
            "and how many were fixed."
        )
    if review.by == "technician":
        return "Mean margin a job by technician, adjusted to the same mix of work."
    worst = review.groups[0]
    assert worst.mean is not None  # where any job has a margin, only groups with one are listed
    total = worst.total or 0.0
    amount = money_text(abs(total), review.currency, whole=True)
    sure = f"the chance that its true mean is below 0 is {in_twenty(worst.mean.loss_chance)}."
    if not is_loss(total):
        least = f"{_subject(worst, review)} earned least: {amount} over {_jobs(worst)}; {sure}"
        return f"No {ONE[review.by]} loses money in total. {least}"
    totals = (group.total or 0.0 for group in review.groups)
    lost = [each for each in totals if is_loss(each)]
    of = f"{len(lost)} of {len(review.groups)} {_MANY[review.by]}"
    all_lost = money_text(-sum(lost), review.currency, whole=True)
    return (
        f"{_subject(worst, review)} lost {amount} over {_jobs(worst)}; {sure} "
        f"{of[:1].upper()}{of[1:]} lost money, {all_lost} in total."
    )


def group_words(group: MoneyGroup, review: MoneyReview) -> str:
    """Put one row of the review into a few sentences; blank where the row has no money."""
    text = partial(money_text, currency=review.currency, whole=True)
    if group.mean is None:
        return ""
    low, high = text(group.mean.low), text(group.mean.high)
    words = f"{text(group.mean.mean)} a job (90 % credible interval: {low} to {high})"
    if group.total is not None:
        verb = "lost" if is_loss(group.total) else "earned"
        words = f"{_subject(group, review)} {verb} {text(abs(group.total))} over {_jobs(group)}: {words}"
    words += f", {group.pulled_words}." if group.pulled_words else "."
    if change := change_words(group, review.currency):
        why = " (only repaired jobs pay it, before tax and fees)" if "quote" in change else ""
        words += f" Break-even change: {change}{why}."
    if group.had_it is not None:
        words += f" Raw mean of all jobs with this damage: {text(group.had_it.mean)} a job."
    return words


def unpriced_words(group: MoneyGroup) -> str:
    """How many jobs of a group are listed but have no margin, such as those not yet sold."""
    without = group.counted - group.jobs
    return f" ({without} without a margin, such as not sold yet or costs incomplete)" if without else ""


def _jobs(group: MoneyGroup) -> str:
    return f"{group.jobs} job" + ("" if group.jobs == 1 else "s")


def _subject(group: MoneyGroup, review: MoneyReview) -> str:
    """Name of a group as a sentence begins with it."""
    if review.by in ("kind", "family"):
        return group.name[:1].upper() + group.name[1:]
    if review.by == "route":
        return {"bought": "Bought devices", "walk-in": "Owners' devices"}.get(group.slug, group.name)
    return f"The {ONE[review.by]} {group.name}"


def regret_words(review: MoneyReview) -> tuple[str, ...]:
    """What declining devices cost and saved."""
    told = review.regret
    if told is None or not told.known + told.unknown:
        return ()
    units = f"{told.known + told.unknown} device" + ("" if told.known + told.unknown == 1 else "s")
    text = partial(money_text, currency=review.currency)
    if not told.known:
        return (f"You declined {units}. What became of them is not known.",)
    would_have = []
    if told.forgone:
        would_have.append(f"{told.would_have_earned} would have earned {text(told.forgone)}")
    if told.spared:
        losers = sum((unit.fate_margin or 0.0) < 0 for unit in told.units)
        would_have.append(f"{losers} would have lost {text(told.spared)}")
    words = (
        f"You declined {units}; what became of {told.known} is known. "
        f"If accepted, {' and '.join(would_have) or 'none would have earned or lost anything'}.",
    )
    if told.expected_gap is None:
        return words
    gap = text(abs(told.expected_gap))
    more = "more" if told.expected_gap >= 0 else "less"
    return (*words, f"On average they came to {gap} {more} than expected when declined.")


def job_head(line: JobLine, currency: str) -> str:
    """Say what a job made, as its line begins."""
    if line.margin is None:
        return "costs incomplete"
    return f"{'lost' if is_loss(line.margin) else 'made'} {money_text(abs(line.margin), currency)}"


def job_detail(line: JobLine, currency: str) -> str:
    """Say when a job came, what it had, and how its margin adds up."""
    damage = ", ".join(
        f"{name} ({_OUTCOME[outcome]}{f', {times} times' if times > 1 else ''})"
        for (name, outcome), times in Counter(line.findings).items()
    )
    route = f", {_ROUTE[line.route]}" if line.route in _ROUTE else ""
    said = f"{line.on.day} {line.on:%b %Y}{route}: {damage}"
    if line.margin is None or line.sold is None:
        return f"{said}."
    costs = {name: getattr(line, name) for name in COSTS}
    less = [f"{name} {money_text(cost, currency)}" for name, cost in costs.items() if abs(cost) >= 0.005]
    brought = f"Sold {money_text(line.sold, currency)}"
    if line.kept:
        brought += f", parts kept worth {money_text(line.kept, currency)}"
    return f"{said}. {brought}" + (f", less {', '.join(less)}." if less else ".")


def _listed(names: tuple[str, ...]) -> str:
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + f" and {names[-1]}"
