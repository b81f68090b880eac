"""Assumptions (priors) in plain words, the same on the page and in the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from triage.domain.counts import in_twenty
from triage.domain.money import money_text
from triage.elicitation.beside_record import BesideRecord, Estimate
from triage.elicitation.check_standing import CheckStanding
from triage.elicitation.conflict import Decides, KindConflict
from triage.elicitation.prior_predictive import PredictedCount
from triage.elicitation.proposal import KindProposal, Proposal
from triage.elicitation.quantile_matching import Quantile
from triage.elicitation.stated_belief import StatedBelief
from triage.policy.answer.assessment import Assessment
from triage.priors.saved_sets import BeliefChange
from triage.priors.success import Belief, KindBelief
from triage.priors.tuned_jobs import TunedJobs
from triage.reports.wording.step import limit_words, loss_words
from triage.reports.wording.verdict import verdict_words

# To which of the two a chance is sensitive.
DECIDES_WORDS = {
    Decides.DISAGREE: "both: they disagree",
    Decides.BOTH: "both, no clear disagreement",
    Decides.BELIEF: "the assumption",
    Decides.RECORD: "the record",
    Decides.NEITHER: "neither",
}
# Column names and legends: what is known before the jobs, what was counted, what is known after them.
PRIOR, COUNTED, POSTERIOR = "assumption", "record", "fit"
_ASKED = {"fewer": "lower limit", "about": "median", "more": "upper limit"}


def worth_words(jobs: float) -> str:
    """How much an assumption counts: as much as so many jobs (the prior's effective sample size)."""
    count = f"{jobs:.0f}" if jobs >= 10 else f"{jobs:.1f}".removesuffix(".0")
    return f"worth {count} job" + ("" if count == "1" else "s")


def belief_words(belief: Belief | KindBelief) -> str:
    """An assumption in one phrase: "about 15 in 20, worth 16 jobs"."""
    count = in_twenty(belief.chance)
    about = "about " if count[0].isdigit() else ""  # "more than 19 in 20" is vague enough
    return f"{about}{count}, {worth_words(belief.jobs)}"


def estimate_words(found: Estimate) -> str:
    """A chance with its range, as counts of twenty: "15 in 20 (11 to 18)"."""
    return f"{in_twenty(found.mean)} ({round(20 * found.low)} to {round(20 * found.high)})"


def counted_words(row: BesideRecord) -> str:
    """What was counted at severity 2."""
    return f"{row.fixed} of {row.attempts} fixed" if row.attempts else "none attempted"


def check_counted_words(row: CheckStanding) -> str:
    """How many jobs had a check, and how many of them showed whether its result was right."""
    if not row.record.jobs:
        return "no job"
    return f"{row.record.jobs} job{'' if row.record.jobs == 1 else 's'}, {row.record.verified} verified"


def conflict_words(row: BesideRecord, found: KindConflict) -> str:
    """Say how assumption and record disagree, in a few sentences."""
    moves = ("up", "down") if found.record.shift > 0 else ("down", "up")
    shaky = "" if found.reliable else " Few draws support this, so treat it as a hint."
    return (
        f"Assumption: {belief_words(row.believed)}. Record at severity 2: {counted_words(row)}. "
        f"Fit: {estimate_words(row.posterior)}. "
        f"The record moves the chance {moves[0]}; your assumption moves it {moves[1]}.{shaky}"
    )


def asked_lines(stated: StatedBelief) -> tuple[str, ...]:
    """What was stated against what the assumption has."""
    of = stated.matched.statement.of
    return tuple(
        f"{_ASKED[item.words].capitalize()}: you said {item.asked * of:.1f} of {of:g}; "
        f"the assumption has {item.achieved * of:.1f}"
        for item in stated.matched.quantiles
    )


def asked_warning(stated: StatedBelief) -> str:
    """Which stated numbers the assumption misses by more than 1 in 100; "" where it has all."""
    off = _off(stated.matched.quantiles, stated.matched.statement.of)
    return f"No assumption has all your numbers ({off}). This one comes closest." if off else ""


def _off(items: tuple[Quantile, ...], of: float) -> str:
    return "; ".join(
        f"{_ASKED[item.words]}: {item.achieved * of:.1f} instead of {item.asked * of:.1f} of {of:g}"
        for item in items
        if item.off
    )


def count_words(count: PredictedCount) -> str:
    """What twenty equally likely runs come to, read off the same twenty dots as the picture."""
    inner = sorted(count.twenty)[1:-1]
    reach = f"{inner[0]} to {inner[-1]}" if inner[0] < inner[-1] else f"{inner[0]}"
    return f"in 18 of 20 runs, {reach} of {count.of} are fixed; {count.mean:.1f} on average"


def proposal_words(item: KindProposal) -> str:
    """Old against new: "from about 15 in 20, worth 3 jobs (default), to ..."."""
    old = belief_words(Belief(item.before_chance, item.before_jobs))
    default = "" if item.stated else " (default: nobody has stated one)"
    return f"from {old}{default}, to {belief_words(Belief(item.chance, item.jobs))}"


def double_use_words(tuned: TunedJobs) -> str:
    """What a set tuned on jobs may no longer learn from; "" where it was tuned on none."""
    if not tuned.jobs:
        return ""
    return (
        f"It is tuned on {len(tuned.jobs):,} jobs up to {tuned.until}. A fit from this set refuses those "
        "jobs, because they would count twice. Fit it with jobs taken in from "
        f"{tuned.first_free_day} on."
    )


def proposed_from(proposal: Proposal) -> TunedJobs:
    """The jobs that whatever is accepted of a proposal counts as tuned on."""
    return TunedJobs(frozenset(proposal.jobs), proposal.until)


def reason_lines(kinds: Iterable[KindBelief], names: Mapping[str, str]) -> Iterator[str]:
    """Each assumption of a set with its reason; `names` of the kinds by slug."""
    for belief in kinds:
        said = f"{names.get(belief.slug, belief.slug)}: {belief_words(belief)}"
        yield f"{said}. {belief.reason[:1].upper()}{belief.reason[1:]}" if belief.reason else said


def money_words(found: Assessment) -> str:
    """What an assumption means for a device, in one line of money."""
    label, figure = limit_words(found)
    words = f"{verdict_words(found.verdict, found.route)}; {label.lower()} {figure}"
    if found.expected_margin is not None:
        words += f"; expected margin {money_text(found.expected_margin, found.currency, whole=True)}"
        words += f"; risk of loss {loss_words(found)}"
    return words


def place_words(change: BeliefChange) -> str:
    """Which value of a set it is."""
    return change.place if change.file == "success" else f"{change.file.replace('_', ' ')}, {change.place}"


def change_words(change: BeliefChange) -> str:
    """One value that differs between two sets, as a person says it."""
    before, after = ("not set" if value is None else str(value) for value in (change.before, change.after))
    return f"{place_words(change)}: {before} before, {after} now"
