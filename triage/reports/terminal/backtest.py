"""A back-test in words for the terminal."""

from __future__ import annotations

from triage.reports.wording.calibration import BRIER, FORECASTER_NAMES, LOG_ATTEMPT, LOG_JOB, bias_words
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
        f"lower is better                 {BRIER:>12}  {LOG_ATTEMPT:>20}  {LOG_JOB:>16}",
    ]
    for name, scores in result.scores.items():
        figures = f"{scores.brier:12.4f}  {scores.log:20.4f}  {scores.joint_log:16.4f}"
        lines.append(f"  {FORECASTER_NAMES[name]:<30}{figures}")
    lines += ["", f"improvement by this model in {LOG_JOB} (90 % interval)"]
    for name, gain in result.gains.items():
        lines.append(f"  {FORECASTER_NAMES[name]:<30}{gain.mean:7.4f} ({gain.low:.4f} to {gain.high:.4f})")
    test = result.calibration
    lines += ["", f"calibration: Spiegelhalter z {test.z:.2f}" + _usual(test.reference)]
    for one in result.bins:
        share = one.happened
        lines.append(
            f"  forecast {one.low:.1f} to {one.high:.1f}: mean {one.forecast:.2f}, fixed {share.held} of "
            f"{share.of} (90 % {share.low:.2f} to {share.high:.2f})"
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
    return f"; calibrated chances give {reference[0]:.2f} to {reference[1]:.2f} in 18 of 20 such records"


def _decision_lines(result: Backtest, money: str) -> list[str]:
    score = result.decision
    if score is None:
        return []
    lines = [
        "Value of declining (margin a job)", score.estimand, score.rule,
        f"margins in {money}; {score.jobs} jobs, {score.left_out} left out:",
    ]  # fmt: skip
    for name, rule in score.rules.items():
        lines.append(
            f"  {FORECASTER_NAMES[name]:<30}{rule.margin:10.0f} from {rule.taken} jobs; "
            f"{rule.vetoed} declined, which made {rule.vetoed_margin:.0f}"
        )
    for name, gain in score.gains.items():
        against = f"this model compared with {FORECASTER_NAMES[name]}"
        lines.append(f"  {against}: {gain.mean:.2f} a job (90 % {gain.low:.2f} to {gain.high:.2f})")
    return lines
