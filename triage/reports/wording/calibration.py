"""Forecasts against outcomes: a plain sentence first, then the standard scores."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from triage.domain.money import is_loss, money_text
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
    "raw": "smoothed rate per kind",
    "beta": "assumption plus rate per kind",
    "ridge": "ridge logistic regression",
    "take all": "accepting every job",
}
# Columns, captions and command line use the same names.
BRIER, LOG_ATTEMPT, LOG_JOB = "Brier score", "log loss per attempt", "log loss per job"
_USED = {"fit": "its own fit", "the fit before": "the previous fit", "belief only": "assumptions only"}


def used_words(used: str) -> str:
    """What the chances of a block came from; `used` as a back-test stores it."""
    return _USED.get(used, used)


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
    """In how many groups of similar chances forecast and outcome agree."""
    groups = "1 group" if len(bins) == 1 else f"{len(bins)} groups"
    return f"Forecast and outcome agree, within chance, in {len(bins) - len(_off(bins))} of {groups}"


def all_words(bins: Sequence[ReliabilityBin]) -> str:
    """All forecasts together, and the groups whose outcomes differ by more than chance."""
    tried = sum(one.happened.of for one in bins)
    said, held = sum(one.forecast * one.happened.of for one in bins), sum(one.happened.held for one in bins)
    off = _off(bins)
    words = f"In total, {said:,.0f} of {tried:,} repairs were expected to work; {held:,} did."
    if not off:
        return f"{words} In every group of similar chances, forecast and outcome matched within chance."
    each = "; ".join(
        f"forecast {20 * one.forecast:.1f}, worked {20 * one.happened.value:.1f} of 20, "
        f"{one.happened.of:,} attempts"
        for one in off
    )
    groups = "1 group has" if len(off) == 1 else f"{len(off)} groups have"
    return (
        f"{words} {groups} a forecast outside the 90 % interval of the outcome: {each}. Of 10 groups with "
        "correct forecasts, about 1 would be outside by chance."
    )


def _off(bins: Sequence[ReliabilityBin]) -> list[ReliabilityBin]:
    return [one for one in bins if not one.happened.low <= one.forecast <= one.happened.high]


def gain_words(gains: Mapping[str, Difference]) -> str:
    """Which of the reference models this model beats."""
    sure = [FORECASTER_NAMES[name] for name, gain in gains.items() if gain.low > 0]
    worse = [FORECASTER_NAMES[name] for name, gain in gains.items() if gain.high < 0]
    open_ = [FORECASTER_NAMES[name] for name in gains if FORECASTER_NAMES[name] not in (*sure, *worse)]
    said = []
    if sure:
        said.append(f"This model scored better than {_listed(sure)}.")
    if open_:
        said.append(f"Its difference from {_listed(open_)} is within chance.")
    if worse:
        said.append(f"It scored worse than {_listed(worse)}.")
    return " ".join(said)


def calibration_words(test: CalibrationTest, parts: BrierParts) -> str:
    """Spiegelhalter's test and the parts of the Brier score, in that order."""
    low, high = test.reference or (-_UNUSUAL, _UNUSUAL)
    usual = low <= test.z <= high
    against = f"calibrated chances give {low:.2f} to {high:.2f} in 18 of 20 such records"
    if usual:
        plain = "The chances are neither over- nor under-confident, as far as these attempts show"
    else:
        which = "over-confident" if test.z > 0 else "under-confident"
        plain = f"The chances are {which}, by more than chance explains"
    return (
        f"{plain} (Spiegelhalter z {test.z:.2f}; {against}). {BRIER} "
        f"{parts.reliability - parts.resolution + parts.uncertainty + parts.within:.4f} = reliability "
        f"{parts.reliability:.4f} (miscalibration) − resolution {parts.resolution:.4f} (how well easy and "
        f"hard repairs are separated) + uncertainty {parts.uncertainty:.4f} (what no forecast could avoid) + "
        f"{parts.within:.4f} within groups."
    )


def scope_words(review: OutcomeReview) -> tuple[str, ...]:
    """What is scored, how, and what is not."""
    said = [
        f"{review.attempts:,} repair attempts in {review.jobs:,} closed jobs with a saved decision, "
        f"up to {review.as_of}. {review.estimand}"
    ]
    alone = review.attempts - review.given_earlier
    if alone:
        said.append(
            f"{review.given_earlier:,} are scored given the job's earlier outcomes. {alone:,} are scored by "
            "their chance alone, because the saved decision does not link them to earlier outcomes."
        )
    if review.unforeseen:
        said.append(f"{review.unforeseen:,} attempts at damage that no decision covered are not scored.")
    if review.left_out:
        each = (f"{jobs:,} job{'s' * (jobs != 1)} {why}" for why, jobs in review.left_out)
        said.append(f"Not scored: {'; '.join(each)}.")
    return tuple(said)


def decision_words(score: DecisionScore, currency: str) -> str:
    """What the jobs that this model would have declined made, and what declining them saves."""
    ours, gain = score.rules["model"], score.gains["take all"]
    mean, low, high = (
        money_text(amount, currency, whole=True) for amount in (gain.mean, gain.low, gain.high)
    )
    return (
        f"Of {score.jobs:,} jobs, this model would have declined {ours.vetoed:,}; they "
        f"{_made(ours.vetoed_margin, currency)}. "
        f"Value of declining: {mean} more margin a job, over all jobs, than accepting every job "
        f"(90 % interval {low} to {high})."
    )


def _made(margin: float, currency: str) -> str:
    verb = "lost" if is_loss(margin) else "made"
    return f"{verb} {money_text(abs(margin), currency, whole=True)}"


def _listed(names: Sequence[str]) -> str:
    names = [f"the {name}" for name in names]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
