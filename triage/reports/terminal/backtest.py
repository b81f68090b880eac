"""A back-test in words: for the terminal, and what a page calls the forecasters."""

from __future__ import annotations

from triage.reports.wording.calibration import FORECASTER_NAMES, bias_words
from triage.review.drift.offer import drift_offer
from triage.review.forecasts.backtest import Backtest


def backtest_lines(result: Backtest, currency: str, money: str) -> list[str]:
    """Say the result in the terminal.

    Parameters
    ----------
    money : whose money margins are in, as `money_words` says.
    """
    first, last = result.blocks[0].origin, result.blocks[-1].until
    lines = [
        f"{result.attempts} attempts in {result.jobs} jobs taken in after {first} and up to {last}, "
        f"{len(result.blocks)} blocks; {result.failed_fits} of {len(result.blocks)} fits failed",
        "",
        "penalties, lower is better        Brier     log   joint log a job",
    ]
    for name, scores in result.scores.items():
        lines.append(
            f"  {FORECASTER_NAMES[name]:<30}{scores.brier:7.4f} {scores.log:7.4f} {scores.joint_log:11.4f}"
        )
    lines += ["", "joint log a job that this model is better by (90 % interval)"]
    for name, gain in result.gains.items():
        lines.append(f"  {FORECASTER_NAMES[name]:<30}{gain.mean:7.4f} ({gain.low:.4f} to {gain.high:.4f})")
    test = result.calibration
    lines += ["", f"calibration: Spiegelhalter z {test.z:.2f}" + _usual(test.reference)]
    for one in result.bins:
        share = one.happened
        lines.append(
            f"  forecast {one.low:.1f} to {one.high:.1f}: mean {one.forecast:.2f}, fixed {share.held} of "
            f"{share.of} ({share.low:.2f} to {share.high:.2f})"
        )
    for check in result.promises:
        lines += ["", check.coverage_words, bias_words(check, currency), check.basis]
    lines += ["", *_decision_lines(result, money)]
    offer = drift_offer(result.alarms, None)
    lines += [f"drift in {words}" for words in offer.alarms]
    lines += [offer.what_to_do] if offer.alarms else []
    lines += [f"the record has {lack}" for lack in result.lacks]
    return lines


def _usual(reference: tuple[float, float] | None) -> str:
    if reference is None:
        return ""
    return f"; 90 % of such fits, were they right, give {reference[0]:.2f} to {reference[1]:.2f}"


def _decision_lines(result: Backtest, money: str) -> list[str]:
    score = result.decision
    if score is None:
        return []
    lines = [score.estimand, score.rule, f"margins in {money}; {score.jobs} jobs, {score.left_out} left out:"]
    for name, rule in score.rules.items():
        lines.append(
            f"  {FORECASTER_NAMES[name]:<30}{rule.margin:10.0f} from {rule.taken} jobs; "
            f"{rule.vetoed} vetoed, which made {rule.vetoed_margin:.0f}"
        )
    for name, gain in score.gains.items():
        against = f"this model less {FORECASTER_NAMES[name]}"
        lines.append(f"  {against}: {gain.mean:.2f} a job ({gain.low:.2f} to {gain.high:.2f})")
    return lines
