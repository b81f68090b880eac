"""Forecasts compared with outcomes: the same parts for past decisions and back-tests."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd
import streamlit as st

from triage.app_pages.shared.literal import literal
from triage.domain.counts import in_twenty
from triage.domain.money import money_text
from triage.reports.charts.calibration import group_chart, group_words, reliability_chart, reliability_words
from triage.reports.wording.calibration import (
    BRIER,
    FORECASTER_NAMES,
    LOG_ATTEMPT,
    LOG_JOB,
    all_words,
    bias_words,
    calibration_words,
    decision_words,
    gain_words,
    lead_words,
    used_words,
)
from triage.review.drift.offer import DriftOffer
from triage.review.forecasts.backtest import Backtest, Block, Group
from triage.review.forecasts.baselines import BASELINES
from triage.review.forecasts.decision_value import DecisionScore
from triage.review.forecasts.interval_coverage import PromiseCheck
from triage.review.forecasts.outcome_review import OutcomeReview

Judged = Backtest | OutcomeReview
_SCORES = (
    "**Brier score**: mean squared difference between chance and outcome. **Log loss**: minus the logarithm "
    "of the chance given to what happened, per attempt or per job. Lower is better in all three."
)


def chances_part(judged: Judged) -> None:
    """The plain sentence, the reliability diagram, and how it is read."""
    st.header(literal(lead_words(judged.bins)), anchor=False)
    st.markdown(literal(all_words(judged.bins)))
    words = reliability_words(judged.bins)
    st.altair_chart(reliability_chart(judged.bins), width="stretch", alt=words)
    st.caption(
        "Calibration: do repairs forecast at 15 in 20 work 15 times in 20? Each point is a group of similar "
        "forecasts, with its number of attempts. The vertical line is the 90 % interval of the observed "
        "rate. Points on the dashed line are perfectly calibrated; the interval of a diamond does not reach "
        "that line. By chance, 1 in 10 does not."
    )
    with st.expander("Points in words, calibration test, parts of the Brier score"):
        st.markdown(literal(words[:1].upper() + words[1:]))
        st.markdown(literal(calibration_words(judged.calibration, judged.parts)))


def against_part(judged: Judged) -> None:
    """A table of scores beside those of reference models, with the gain's interval."""
    st.subheader("Scores compared with reference models", anchor=False)
    st.markdown(literal(gain_words(judged.gains)))
    st.caption(f"{_SCORES} In brackets: 90 % interval.")
    rows = []
    for name, scores in judged.scores.items():
        gain = judged.gains.get(name)
        better = "" if gain is None else f"{gain.mean:+.3f} ({gain.low:+.3f} to {gain.high:+.3f})"
        better = better.replace("-", "−")
        rows.append(
            {
                "forecast by": FORECASTER_NAMES[name], BRIER: f"{scores.brier:.4f}",
                LOG_ATTEMPT: f"{scores.log:.4f}", LOG_JOB: f"{scores.joint_log:.4f}",
                "lower log loss per job by": better,
            }
        )  # fmt: skip
    config = {"forecast by": st.column_config.TextColumn(pinned=True)}
    st.dataframe(
        pd.DataFrame(rows),
        hide_index=True,
        column_config=config,
        alt="Scores of this model and the reference models",
    )
    with st.expander("How we get this"):
        st.markdown(
            "- The log loss per attempt uses the chance given the job's earlier outcomes. The log loss per "
            "job uses the chance of all outcomes of a job together.\n"
            "- Improvement: the reference model's log loss per job less this model's; above 0, this "
            "model is better. 90 % interval by bootstrap (2,000 resamples of the jobs).\n"
            "- Every reference model uses only the jobs that were closed before.\n"
            + "\n".join(
                f"- {FORECASTER_NAMES[name].capitalize()}: {words}." for name, words in BASELINES.items()
            )
        )


def promises_part(promises: Sequence[PromiseCheck], currency: str) -> None:
    """Whether minutes and margins matched their forecasts."""
    if not promises:
        return
    st.subheader("Minutes and margins", anchor=False)
    for check in promises:
        st.markdown(f"{literal(check.coverage_words)} {literal(bias_words(check, currency))}")
    with st.expander("How we get this"):
        st.markdown(
            "\n".join(
                f"- {check.what[:1].upper()}{check.what[1:]}: {literal(check.basis)}" for check in promises
            )
            + "\n- A 90 % prediction interval should hold 90 % of the outcomes. The mean difference "
            "between forecast and outcome (bias) should be near zero. Its standard error is calculated over "
            "jobs."
        )


def groups_part(title: str, groups: Sequence[Group]) -> None:
    """Groups side by side: the forecast as a tick, what worked as a point."""
    if not groups:
        return
    st.subheader(title, anchor=False)
    st.altair_chart(group_chart(groups), width="stretch", alt=group_words(groups))
    st.caption(
        "Tick: forecast of 20. Point: worked of 20, with the 90 % interval of the observed rate; the "
        "interval of a diamond does not reach its tick."
    )
    with st.expander("As a table"):
        rows = [
            {
                "group": one.name, "attempts": one.attempts, "forecast": in_twenty(one.forecast),
                "worked": in_twenty(one.happened.value), BRIER: f"{one.scores['model'].brier:.3f}",
                f"{BRIER}, {FORECASTER_NAMES['raw']}": f"{one.scores['raw'].brier:.3f}",
            }
            for one in groups
        ]  # fmt: skip
        st.dataframe(pd.DataFrame(rows), hide_index=True, alt=title)


def alarms_part(offer: DriftOffer) -> None:
    """Each alarm, and below them what to do; nothing where nothing drifts."""
    for words in offer.alarms:
        st.warning(literal(words), icon=":material/trending_down:")
    if offer.alarms:
        st.markdown(literal(offer.what_to_do))


def blocks_part(blocks: Sequence[Block]) -> None:
    """The blocks of a back-test, oldest first."""
    st.subheader("By block", anchor=False)
    rows = [
        {
            "jobs taken in": f"{one.origin} to {one.until}", "attempts": one.attempts,
            "jobs known before": one.past_jobs, "fit used": used_words(one.used),
            BRIER: f"{one.scores['model'].brier:.3f}",
            f"{BRIER}, {FORECASTER_NAMES['raw']}": f"{one.scores['raw'].brier:.3f}",
        }
        for one in blocks
    ]  # fmt: skip
    config = {"jobs taken in": st.column_config.TextColumn(pinned=True)}
    st.dataframe(pd.DataFrame(rows), hide_index=True, column_config=config, alt="Scores of each block")
    for one in blocks:
        if one.failures:
            st.caption(
                literal(f"Block from {one.origin}: the fit failed its checks ({'; '.join(one.failures)}).")
            )


def decision_part(score: DecisionScore | None, currency: str, money: str) -> None:
    """The value of declining, and the sentence that says to which jobs it applies."""
    if score is None:
        return
    st.subheader("Value of declining (margin a job)", anchor=False)
    st.markdown(literal(decision_words(score, currency)))
    st.caption(literal(score.estimand))
    rows = [
        {
            "rule": FORECASTER_NAMES[name], "accepted": rule.taken, "declined": rule.vetoed,
            "margin of accepted": money_text(rule.margin, currency, whole=True),
            "margin of declined": money_text(rule.vetoed_margin, currency, whole=True),
        }
        for name, rule in score.rules.items()
    ]  # fmt: skip
    config = {"rule": st.column_config.TextColumn(pinned=True)}
    st.dataframe(pd.DataFrame(rows), hide_index=True, column_config=config, alt="Margins by rule")
    with st.expander("How we get this"):
        left = f" {score.left_out:,} jobs without a margin are left out." if score.left_out else ""
        st.markdown(literal(f"{score.rule} In {money}.{left}"))
        for name, gain in score.gains.items():
            mean, low, high = (money_text(value, currency) for value in (gain.mean, gain.low, gain.high))
            st.markdown(
                f"- This model compared with {FORECASTER_NAMES[name]}: "
                f"{literal(f'{mean} a job (90 % interval {low} to {high}, bootstrap)')}."
            )
