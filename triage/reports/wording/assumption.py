"""Beliefs in plain words, the same on the page and in the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from triage.domain.counts import in_twenty
from triage.domain.money import money_text
from triage.elicitation.beside_record import BesideRecord, Estimate
from triage.elicitation.conflict import Decides, KindConflict
from triage.elicitation.prior_predictive import PredictedCount
from triage.elicitation.proposal import KindProposal, Proposal
from triage.elicitation.quantile_matching import Quantile
from triage.elicitation.stated_belief import StatedBelief
from triage.policy.answer.assessment import Assessment
from triage.priors.saved_sets import BeliefChange
from triage.priors.success import Belief, KindBelief
from triage.priors.tuned_jobs import TunedJobs
from triage.reports.wording.step import limit_words
from triage.reports.wording.verdict import VERDICT_WORDS

DECIDES_WORDS = {
    Decides.DISAGREE: "belief and record disagree",
    Decides.BOTH: "belief and record both count",
    Decides.BELIEF: "belief decides",
    Decides.RECORD: "the record decides",
    Decides.NEITHER: "neither moves it much",
}
_ASKED = {"fewer": "fewer would surprise", "about": "about so many", "more": "more would surprise"}


def worth_words(jobs: float) -> str:
    """How sure a belief is: as sure as someone who has seen so many."""
    count = f"{jobs:.0f}" if jobs >= 10 else f"{jobs:.1f}".removesuffix(".0")
    return f"as sure as after {count} job" + ("" if count == "1" else "s")


def belief_words(belief: Belief | KindBelief) -> str:
    """A belief in one phrase: "about 15 in 20, as sure as after 16 jobs"."""
    count = in_twenty(belief.chance)
    about = "about " if count[0].isdigit() else ""  # "more than 19 in 20" is vague enough
    return f"{about}{count}, {worth_words(belief.jobs)}"


def estimate_words(found: Estimate) -> str:
    """A chance with its range, as counts of twenty: "15 in 20 (11 to 18)"."""
    return f"{in_twenty(found.mean)} ({round(20 * found.low)} to {round(20 * found.high)})"


def counted_words(row: BesideRecord) -> str:
    """What was counted at severity 2."""
    return f"{row.fixed} of {row.attempts} fixed" if row.attempts else "none done"


def conflict_words(row: BesideRecord, found: KindConflict) -> str:
    """Say how belief and record pull apart, in a sentence or two."""
    now, low, high = (
        round(20 * value) for value in (row.posterior.mean, row.posterior.low, row.posterior.high)
    )
    pull = ("up", "down") if found.record.shift > 0 else ("down", "up")
    shaky = "" if found.reliable else " Few draws carry this; take it as a hint."
    return (
        f"You believed {belief_words(row.believed)}. The record at severity 2: {counted_words(row)}. "
        f"Together they say {estimate_words(row.posterior)}; "
        f"the record pulls it {pull[0]}, your belief {pull[1]}.{shaky}"
    )


def asked_lines(stated: StatedBelief) -> tuple[str, ...]:
    """What was asked of the belief against what it holds, and against where a fit starts."""
    of = stated.matched.statement.of
    return tuple(
        f"{_ASKED[alone.words]}: asked {alone.asked * of:.1f} of {of:g}, holds {alone.achieved * of:.1f} "
        f"({fit.achieved * of:.1f} where learning starts)"
        for alone, fit in zip(stated.matched.quantiles, stated.in_fit, strict=True)
    )


def asked_warning(stated: StatedBelief) -> str:
    """What the belief cannot hold of what was asked, by more than 1 in 100; "" where it holds all."""
    off = _off(stated.matched.quantiles, stated.matched.statement.of)
    return f"No belief has all you asked: {off}. This one comes closest." if off else ""


def start_warning(stated: StatedBelief) -> str:
    """Where learning starts off what was asked by more than 1 in 100; "" where it does not."""
    off = _off(stated.in_fit, stated.matched.statement.of)
    if not off:
        return ""
    return (
        f"Learning starts less sure than you said: {off}. "
        "The whole shop and the whole family may be off too, and the record is heard on that."
    )


def _off(items: tuple[Quantile, ...], of: float) -> str:
    return "; ".join(
        f"asked {item.asked * of:.1f} of {of:g} ({_ASKED[item.words]}), got {item.achieved * of:.1f}"
        for item in items
        if item.off
    )


def count_words(count: PredictedCount) -> str:
    """What twenty equally likely runs come to, read off the same twenty dots as the picture."""
    inner = sorted(count.twenty)[1:-1]
    reach = f"{inner[0]} to {inner[-1]}" if inner[0] < inner[-1] else f"{inner[0]}"
    return f"18 times in 20, {reach} of {count.of} are fixed; {count.mean:.1f} on average"


def proposal_words(item: KindProposal) -> str:
    """Old against new: "from about 15 in 20, as sure as after 3 jobs (the default), to ..."."""
    old = belief_words(Belief(item.before_chance, item.before_jobs))
    default = "" if item.stated else " (the default: nobody has said)"
    return f"from {old}{default}, to {belief_words(Belief(item.chance, item.jobs))}"


def double_use_words(tuned: TunedJobs) -> str:
    """What a set tuned on jobs may no longer learn from; "" where it was tuned on none."""
    if not tuned.jobs:
        return ""
    return (
        f"It is tuned on {len(tuned.jobs):,} jobs up to {tuned.until}. Their marks are kept with the set; "
        "a fit that holds any of them is refused, for it would count them twice: fit it with jobs taken in "
        f"from {tuned.first_free_day} on."
    )


def proposed_from(proposal: Proposal) -> TunedJobs:
    """The jobs that whatever is accepted of a proposal counts as tuned on."""
    return TunedJobs(frozenset(proposal.jobs), proposal.until)


def reason_lines(kinds: Iterable[KindBelief], names: Mapping[str, str]) -> Iterator[str]:
    """Each belief of a set with its reason; `names` of the kinds by slug."""
    for belief in kinds:
        said = f"{names.get(belief.slug, belief.slug)}: {belief_words(belief)}"
        yield f"{said}. {belief.reason[:1].upper()}{belief.reason[1:]}" if belief.reason else said


def money_words(found: Assessment) -> str:
    """What a belief makes of a device, in one line of money."""
    label, figure = limit_words(found)
    words = f"{VERDICT_WORDS[found.verdict]}; {label.lower()} {figure}"
    if found.expected_margin is not None:
        words += f"; expect to keep {money_text(found.expected_margin, found.currency, whole=True)}"
        words += f", losing money in {found.losses_in_20} of 20"
    return words


def place_words(change: BeliefChange) -> str:
    """Which value of a set it is."""
    return change.place if change.file == "success" else f"{change.file.replace('_', ' ')}, {change.place}"


def change_words(change: BeliefChange) -> str:
    """One value that differs between two sets, as a person says it."""
    before, after = ("nothing" if value is None else str(value) for value in (change.before, change.after))
    return f"{place_words(change)}: was {before}, is {after}"
