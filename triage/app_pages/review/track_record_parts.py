"""What stands under forecasts that were held against what happened: the same for decisions and back-tests."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd
import streamlit as st

from triage.app_pages.shared.literal import literal
from triage.domain.counts import in_twenty
from triage.domain.money import money_text
from triage.reports.charts.calibration import group_chart, group_words, reliability_chart, reliability_words
from triage.reports.wording.calibration import (
    FORECASTER_NAMES,
    all_words,
    bias_words,
    calibration_words,
    decision_words,
    gain_words,
    lead_words,
)
from triage.review.drift.offer import DriftOffer
from triage.review.forecasts.backtest import Backtest, Block, Group
from triage.review.forecasts.baselines import BASELINES
from triage.review.forecasts.decision_value import DecisionScore
from triage.review.forecasts.interval_coverage import PromiseCheck
from triage.review.forecasts.outcome_review import OutcomeReview

Judged = Backtest | OutcomeReview


def chances_part(judged: Judged) -> None:
    """The plain sentence, the reliability diagram, and how it is read."""
    st.header(literal(lead_words(judged.bins)), anchor=False)
    st.markdown(literal(all_words(judged.bins)))
    words = reliability_words(judged.bins)
    st.altair_chart(reliability_chart(judged.bins), width="stretch", alt=words)
    st.caption(
        "A point is a group of like chances: how many of 20 were said to work, and how many did; the number "
        "beside it counts the tries, the line holds the truth 18 times in 20. On the dashed line all came "
        "out as said; a diamond lies further off than luck explains."
    )
    with st.expander("The points in words, and the test"):
        st.markdown(literal(words[:1].upper() + words[1:]))
        st.markdown(literal(calibration_words(judged.calibration, judged.parts)))


def against_part(judged: Judged) -> None:
    """A table against forecasts that need no model, with the gain's interval."""
    st.subheader("Against plain rules", anchor=False)
    st.markdown(literal(gain_words(judged.gains)))
    rows = []
    for name, scores in judged.scores.items():
        gain = judged.gains.get(name)
        better = "" if gain is None else f"{gain.mean:+.3f} ({gain.low:+.3f} to {gain.high:+.3f})"
        better = better.replace("-", "−")
        rows.append(
            {
                "who forecast": FORECASTER_NAMES[name], "off by": f"{scores.brier:.4f}",
                "surprise a try": f"{scores.log:.4f}", "surprise a job": f"{scores.joint_log:.4f}",
                "this model is better by": better,
            }
        )  # fmt: skip
    config = {"who forecast": st.column_config.TextColumn(pinned=True)}
    st.dataframe(
        pd.DataFrame(rows), hide_index=True, column_config=config, alt="Scores of this model and plain rules"
    )
    with st.expander("How we get this"):
        st.markdown(
            "- Off by: Brier score, the mean squared distance of chances from what came. Surprise: minus the "
            "logarithm of the chance given to what came, a try given the job's earlier outcomes, or all "
            "outcomes of a job together. Less is better in all three.\n"
            "- Better by: the rule's surprise a job less this model's, above 0 where this model is better; "
            "90 % interval, jobs drawn 2,000 times.\n"
            "- Every rule knows the jobs that were closed before, and no more.\n"
            + "\n".join(
                f"- {FORECASTER_NAMES[name].capitalize()}: {words}." for name, words in BASELINES.items()
            )
        )


def promises_part(promises: Sequence[PromiseCheck], currency: str) -> None:
    """Whether minutes and margins came out as promised."""
    if not promises:
        return
    st.subheader("Minutes and money", anchor=False)
    for check in promises:
        st.markdown(f"{literal(check.coverage_words)} {literal(bias_words(check, currency))}")
    with st.expander("How we get this"):
        st.markdown(
            "\n".join(
                f"- {check.what[:1].upper()}{check.what[1:]}: {literal(check.basis)}" for check in promises
            )
            + "\n- An interval that is as it should be holds what came about as often as it says; a mean "
            "without bias lies as often too high as too low. The error is reckoned from jobs."
        )


def groups_part(title: str, groups: Sequence[Group]) -> None:
    """Groups side by side: said as a tick, worked as a point."""
    if not groups:
        return
    st.subheader(title, anchor=False)
    st.altair_chart(group_chart(groups), width="stretch", alt=group_words(groups))
    st.caption(
        "A tick is what was said, a point what worked, of 20; the line holds the truth 18 times in 20."
    )
    with st.expander("As a table"):
        rows = [
            {
                "group": one.name, "tries": one.attempts, "said": in_twenty(one.forecast),
                "worked": in_twenty(one.happened.value), "off by": f"{one.scores['model'].brier:.3f}",
                "off by, rate of the kind": f"{one.scores['raw'].brier:.3f}",
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
    """The stretches of a back-test, oldest first."""
    st.subheader("Over time", anchor=False)
    rows = [
        {
            "jobs taken in": f"{one.origin} to {one.until}", "tries": one.attempts,
            "known jobs": one.past_jobs, "chances by": one.used,
            "off by": f"{one.scores['model'].brier:.3f}",
            "off by, rate of the kind": f"{one.scores['raw'].brier:.3f}",
        }
        for one in blocks
    ]  # fmt: skip
    config = {"jobs taken in": st.column_config.TextColumn(pinned=True)}
    st.dataframe(pd.DataFrame(rows), hide_index=True, column_config=config, alt="Stretch by stretch")
    for one in blocks:
        if one.failures:
            st.caption(literal(f"From {one.origin}: the fit failed its checks, {'; '.join(one.failures)}."))


def decision_part(score: DecisionScore | None, currency: str, money: str) -> None:
    """What the no would have earned, and the sentence that says of whom this speaks."""
    if score is None:
        return
    st.subheader("What saying no would have earned", anchor=False)
    st.markdown(literal(decision_words(score, currency)))
    st.caption(literal(score.estimand))
    rows = [
        {
            "rule": FORECASTER_NAMES[name], "taken": rule.taken, "no to": rule.vetoed,
            "made": money_text(rule.margin, currency, whole=True),
            "the others made": money_text(rule.vetoed_margin, currency, whole=True),
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
                f"- This model less {FORECASTER_NAMES[name]}: "
                f"{literal(f'{mean} a job ({low} to {high}, 90 % interval, jobs drawn)')}."
            )
