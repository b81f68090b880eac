"""The words beside a step of the plan, the same on the screen and in the terminal."""

from __future__ import annotations

from triage.domain.catalogue import Catalogue
from triage.domain.counts import forecast_in_twenty, in_twenty
from triage.domain.durations import bench_time
from triage.domain.money import money_text
from triage.policy.answer.assessment import (
    Assessment,
    BranchEnd,
    CheckIdea,
    FindingChance,
    PartFlip,
    PlanStep,
    Verdict,
)
from triage.policy.answer.verdict import Settled
from triage.policy.pricing.sensitivity import Swing
from triage.policy.problem.options import PartLine
from triage.reports.wording.plan import upper
from triage.reports.wording.verdict import verdict_words

_ORIGIN = {"seen": "seen", "suspected": "suspected", "hidden": "hidden fault", "cause": "possible cause"}


_WHY = {
    "severity": "its severity",
    "tier": "its price class",
    "technician": "who does it",
    "cause": "its cause",
    "method": "this method",
    "related": "similar damage",
}

# Also of decisions in the record, by the route of the job.
LIMIT_LABELS = {"buy": "Highest price", "walk-in": "Lowest quote"}


def limit_words(assessment: Assessment) -> tuple[str, str]:
    """Label and figure of the highest price, or of the lowest quote."""
    label = LIMIT_LABELS[assessment.route]
    if assessment.limit is None:
        return label, "nothing" if assessment.route == "buy" else "no price"
    return label, money_text(assessment.limit, assessment.currency)


def loss_words(assessment: Assessment) -> str:
    """Of 20 such devices, how many lose money: none of 20 dots does not mean that none ever does."""
    return forecast_in_twenty((assessment.losses_in_20 or 0) / 20)


def at_price(assessment: Assessment) -> str:
    """The price that margin and risk are for, where no price stands beside them; else ""."""
    if assessment.valued_at is None or assessment.price is not None or assessment.limit is not None:
        return ""
    return f" at {money_text(assessment.valued_at, assessment.currency)}"


def step_figures(step: PlanStep) -> str:
    """Minutes of a step, and the chance of a repair: "25 min, works 17 in 20"."""
    words = []
    if step.minutes >= 0.5:
        words.append(bench_time(step.minutes))
    if step.kind == "repair" and step.chance is not None:
        words.append(f"works {in_twenty(step.chance)}")
    return ", ".join(words)


def part_words(line: PartLine, catalogue: Catalogue, currency: str) -> str:
    """One part of a step: name, price, grade, when it can be here."""
    name = catalogue.parts[line.part].name if line.part in catalogue.parts else line.part
    words = [f"{name} {money_text(line.price, currency)}"]
    if line.grade:
        words.append(line.grade)
    words.append(
        "in stock" if line.on_hand else f"arrives in {days_words(line.lead_days[1], line.lead_days[2])}"
    )
    if not line.confirmed:
        words.append("price not confirmed")
    return ", ".join(words)


def days_words(usual: float, latest: float) -> str:
    """Days from usual to latest, without a range that says nothing."""
    if round(latest) <= 0:
        return "less than a day"
    if round(usual) == round(latest):
        return f"{latest:.0f} day{'s' if round(latest) != 1 else ''}"
    return f"{usual:.0f} to {latest:.0f} days"


def plan_words(assessment: Assessment) -> str:
    """The plan in one line: minutes, how often it ends well, when it would be ready."""
    if assessment.verdict is Verdict.CHECK:
        return "The rest is planned once the result is known."
    if not assessment.minutes:
        return "No bench work."
    words = [
        f"Mean bench time {bench_time(assessment.minutes)}",
        f"ends up working {in_twenty(assessment.chance_finished)}",
    ]
    if assessment.ready_days[1] > 0:
        words.append(f"ready in {days_words(*assessment.ready_days)}")
    return "; ".join(words) + "."


def behind_words(finding: FindingChance) -> str:
    """Past attempts that a chance rests on; where it differs from their plain rate, why it does."""
    if finding.prior_only or finding.attempts == 0:
        return "from the assumption only"
    jobs = f"{finding.attempts} past attempt{'s' if finding.attempts != 1 else ''}, {finding.fixed} repaired"
    plain = finding.fixed / finding.attempts
    rate = in_twenty(plain)
    if rate == in_twenty(finding.chance):
        return f"from {jobs}"
    lower = finding.chance < plain
    # What goes well on a device tells of its other repairs.
    steps = finding.planned is not None and in_twenty(finding.planned) != in_twenty(finding.mean)
    reasons = [_WHY[one] for one in finding.why if (finding.mean < plain) == lower]
    reasons += ["the steps before it"] if steps else []
    why = " and ".join((", ".join(reasons[:-1]), reasons[-1]) if reasons[1:] else reasons)
    return (
        f"from {jobs} ({rate}; {'lower' if lower else 'higher'} because of {why})"
        if why
        else f"from {jobs} ({rate})"
    )


def planned_words(finding: FindingChance, assessment: Assessment, catalogue: Catalogue) -> str:
    """Mark a chance that the plan does not use, because no step of it repairs this damage; else ""."""
    branches = [branch for step in assessment.steps_now for branch in step.branches]
    steps = [*assessment.steps_now, *(step for branch in branches for step in branch.steps)]
    slugs = {step.subject for step in steps if step.kind == "repair"}
    slugs |= {step.otherwise.repair for step in steps if step.otherwise} - {""}
    # A branch that is not told and a cause still to be found may lead to any repair.
    open_ended = any(branch.end is BranchEnd.UNTOLD for branch in branches) or any(
        step.kind == "trace" for step in steps
    )
    if not slugs or open_ended or any(finding.kind in catalogue.repairs[slug].closes for slug in slugs):
        return ""
    return (
        "; left unrepaired"
        if finding.kind in {one.kind for one in assessment.left}
        else "; not repaired in this plan"
    )


def presence_words(finding: FindingChance) -> str:
    """Whether a damage is seen, or how likely it is to be there."""
    words = _ORIGIN[finding.origin]
    if finding.origin == "seen":
        return words
    now = in_twenty(finding.presence)
    before = in_twenty(finding.before)
    return f"{words}, present {now}" + ("" if before == now else f" (was {before} before the checks)")


def spread_words(assessment: Assessment) -> str:
    """What the worst cases come to, and what the spread is made of."""
    words = []
    if assessment.shortfall is not None:
        worst = money_text(assessment.shortfall, assessment.currency, whole=True)
        words.append(f"The worst 2 in 20 average {worst}.")
    if assessment.share_not_known is not None:
        words.append(
            f"{_percent(assessment.share_not_known).capitalize()} of the variance is from limited data, "
            "and shrinks with more past jobs; the rest is luck."
        )
    return " ".join(words)


def _percent(share: float) -> str:
    return "less than 1 %" if 0 < share < 0.005 else f"{100 * share:.0f} %"


def flip_lines(assessment: Assessment, catalogue: Catalogue) -> list[str]:
    """At which prices of parts the verdict changes, and which prices that matter are not confirmed."""
    return [
        _flip_words(flip, catalogue, assessment.currency)
        for flip in assessment.flips
        if flip.flips_at is not None or not flip.confirmed
    ]


def _flip_words(flip: PartFlip, catalogue: Catalogue, currency: str) -> str:
    name = catalogue.parts[flip.part].name if flip.part in catalogue.parts else flip.part
    now = f"price now {money_text(flip.price, currency)}" + ("" if flip.confirmed else ", not confirmed")
    if flip.flips_at is None:
        return f"{name}: no price would change the verdict ({now})"
    turn = money_text(flip.flips_at, currency)
    way = f"above {turn}" if flip.flips_at >= flip.price else f"of {turn} or less"
    return f"{name}: a price {way} would change the verdict ({now})"


def settled_words(settled: Settled, currency: str) -> str:
    """What the verdict would be once lock and numbers are settled."""
    lock = "the activation lock removed by the seller" if settled.removed else "no activation lock"
    numbers = "matching serial number and IMEI"
    found = " and ".join(words for words, told in ((lock, settled.lock), (numbers, settled.numbers)) if told)
    limit = ""
    if settled.limit is not None:
        within = f"{money_text(settled.limit, currency)} or less"
        limit = f"; it meets your rule at {within}" if settled.verdict is Verdict.LEAVE else f" at {within}"
    return f"{upper(found)}: the verdict would be {verdict_words(settled.verdict, 'buy')}{limit}"


def swing_words(swing: Swing) -> str:
    """At which value of one input go becomes no-go, or the other way."""
    if swing.flips_at is None:
        return f"{swing.name}: no likely value would change the verdict"
    way = "or more" if swing.flips_at > swing.now else "or less"
    if swing.unit == "chance":
        turn, now = in_twenty(swing.flips_at), in_twenty(swing.now)
        return f"{swing.name}: a chance of {turn} {way} would change the verdict (now {now})"
    return f"{swing.name}: {swing.flips_at:.2f} times today's {way} would change the verdict"


def check_words(check: CheckIdea, currency: str) -> str:
    """What a check before deciding is good for: minutes, money, and how many decisions it changes."""
    worth = money_text(check.worth, currency)
    return (
        f"{bench_time(check.minutes)}; changes the decision on {check.changes_in_20} in 20 such devices; "
        f"raises the expected margin by {worth}, its cost included"
    )
