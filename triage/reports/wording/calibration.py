"""Whether what was said came true, in plain sentences; words of statistics come after them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from triage.domain.counts import in_twenty
from triage.domain.money import money_text
from triage.domain.shop.settings import Settings
from triage.review.forecasts.calibration import CalibrationTest
from triage.review.forecasts.decision_value import DecisionScore
from triage.review.forecasts.interval_coverage import PromiseCheck
from triage.review.forecasts.outcome_review import OutcomeReview
from triage.review.forecasts.paired_bootstrap import Difference
from triage.review.forecasts.reliability import ReliabilityBin
from triage.review.forecasts.scores import BrierParts

# 90 % of standard normal z lie within.
_UNUSUAL = 1.645


FORECASTER_NAMES = {
    "model": "this model",
    "overall": "overall rate",
    "raw": "smoothed rate of the kind",
    "beta": "belief and rate of the kind",
    "ridge": "ridge logistic",
    "take all": "taking every job",
}


def money_words(books: Settings, invented: bool) -> str:
    """Say whose money margins are in."""
    whose = f"{books.currency}, at the rates and fees of {books.shop}"
    return f"{whose} (the demo's, invented)" if invented else whose


def bias_words(check: PromiseCheck, currency: str) -> str:
    """Say how promised and realised means compare, in the amount's own unit."""
    if check.unit == "minutes":
        return check.bias_words(lambda minutes: f"{minutes:.1f} min".replace("-", "−"))
    return check.bias_words(lambda money: money_text(money, currency))


def lead_words(bins: Sequence[ReliabilityBin]) -> str:
    """The commonest kind of forecast, and what came of it."""
    one = max(bins, key=lambda found: found.happened.of)
    share = one.happened
    repairs = "1 repair" if share.of == 1 else f"{share.of:,} repairs"
    return (
        f"Of {repairs} called about {in_twenty(one.forecast)}, {share.held:,} "
        f"({in_twenty(share.value)}) worked."
    )


def all_words(bins: Sequence[ReliabilityBin]) -> str:
    """All forecasts together, and how many groups of them lie off."""
    tried = sum(one.happened.of for one in bins)
    said, held = sum(one.forecast * one.happened.of for one in bins), sum(one.happened.held for one in bins)
    off = [one for one in bins if not one.happened.low <= one.forecast <= one.happened.high]
    words = f"All together {said:,.0f} of {tried:,} were to work, and {held:,} did."
    if not off:
        return f"{words} Every group of like chances came out as said, to within luck."
    each = "; ".join(
        f"called {20 * one.forecast:.1f}, worked {20 * one.happened.value:.1f} of 20, "
        f"{one.happened.of:,} tries"
        for one in off
    )
    return f"{words} Further off than luck explains: {each}. (Of ten such groups one may be, by luck alone.)"


def gain_words(gains: Mapping[str, Difference]) -> str:
    """Which of the plain rules the chances beat."""
    sure = [FORECASTER_NAMES[name] for name, gain in gains.items() if gain.low > 0]
    worse = [FORECASTER_NAMES[name] for name, gain in gains.items() if gain.high < 0]
    open_ = [FORECASTER_NAMES[name] for name in gains if FORECASTER_NAMES[name] not in (*sure, *worse)]
    said = []
    if sure:
        said.append(f"These chances were better than {_listed(sure)}")
    if open_:
        lead = "against" if said else "Against"
        said.append(f"{lead} {_listed(open_)} the difference may be luck")
    if worse:
        lead = "and worse than" if said else "These chances were worse than"
        said.append(f"{lead} {_listed(worse)}")
    return "; ".join(said) + "." if said else ""


def calibration_words(test: CalibrationTest, parts: BrierParts) -> str:
    """Spiegelhalter's test and the parts of the Brier score, in that order."""
    low, high = test.reference or (-_UNUSUAL, _UNUSUAL)
    usual = low <= test.z <= high
    against = f"were they right, 18 of 20 such records would give {low:.2f} to {high:.2f}"
    if usual:
        plain = "The chances were neither too bold nor too shy, as far as these tries can tell"
    else:
        plain = "The chances were " + ("too bold" if test.z > 0 else "too shy") + ", more than luck explains"
    return (
        f"{plain} (Spiegelhalter z {test.z:.2f}; {against}). Brier score "
        f"{parts.reliability - parts.resolution + parts.uncertainty + parts.within:.4f} = off the mark "
        f"{parts.reliability:.4f} (reliability) − told apart {parts.resolution:.4f} (resolution) + cannot be "
        f"helped {parts.uncertainty:.4f} (uncertainty) + {parts.within:.4f} within groups."
    )


def scope_words(review: OutcomeReview) -> tuple[str, ...]:
    """What is judged, how, and what is not."""
    said = [
        f"{review.attempts:,} repairs tried in {review.jobs:,} jobs that were taken on a kept answer and are "
        f"closed, up to {review.as_of}. {review.estimand}"
    ]
    alone = review.attempts - review.given_earlier
    if alone:
        said.append(
            f"{review.given_earlier:,} are judged given the job's earlier outcomes; {alone:,} by their "
            "chance alone, as the kept answer does not say how they hang together with what came before."
        )
    if review.unforeseen:
        said.append(f"{review.unforeseen:,} tries at damage that no answer spoke of are not judged.")
    if review.left_out:
        each = (f"{jobs:,} job{'s' * (jobs != 1)} {why}" for why, jobs in review.left_out)
        said.append(f"Not judged: {'; '.join(each)}.")
    return tuple(said)


def decision_words(score: DecisionScore, currency: str) -> str:
    """What this model's no would have earned."""
    ours, gain = score.rules["model"], score.gains["take all"]
    made, mean, low, high = (
        money_text(amount, currency, whole=True)
        for amount in (ours.vetoed_margin, gain.mean, gain.low, gain.high)
    )
    return (
        f"Of {score.jobs:,} jobs it would have said no to {ours.vetoed:,}, which in truth made {made} "
        f"together: {mean} a job better than taking all ({low} to {high})."
    )


def _listed(names: Sequence[str]) -> str:
    names = [f"the {name}" for name in names]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
