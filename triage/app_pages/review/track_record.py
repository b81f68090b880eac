"""The page of the track record: past decisions, drift, and the back-test."""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Any

import streamlit as st

from triage.app_pages.fitting.past_jobs import past_jobs
from triage.app_pages.review.track_record_parts import (
    against_part,
    alarms_part,
    blocks_part,
    chances_part,
    decision_part,
    groups_part,
    promises_part,
)
from triage.app_pages.shared.current_device import listed
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.long_work_panel import long_work_panel
from triage.app_pages.shared.next_step import next_step
from triage.app_pages.shared.page_head import page_head
from triage.app_pages.shared.shop_counter import shop_files
from triage.app_pages.shared.shop_record import newest_entry, record_url, shop_record
from triage.errors import TriageError
from triage.reports.json_output.backtest import backtest_from
from triage.reports.wording.calibration import scope_words
from triage.review.drift.detector import false_alarms_a_year
from triage.review.drift.offer import drift_offer
from triage.review.forecasts.backtest import Group
from triage.review.forecasts.outcome_review import OutcomeReview
from triage.shipped import shipped
from triage.workflows.looking_back.drift import DriftNow, drift_now
from triage.workflows.looking_back.outcomes import track_record
from triage.workflows.shop.learned_chances import where_to_learn
from triage.workflows.shop.shop import Shop
from triage.workflows.shop.shop_history import ShopHistory

DEMO_BACKTEST = "models/backtests/demo.json"
_NOTHING_YET = (
    "No past decision can be assessed yet. When you buy or accept a device, its job saves the chances, "
    "minutes and margin of the decision. Once such jobs are closed, this page compares them with the "
    "outcomes. Until then, **Back-test** does the same for past jobs, with forecasts made afterwards from "
    "what was known before."
)


def page() -> None:
    """Draw past decisions, drift and back-test, each in a tab of its own."""
    shop = page_head("Track record", "Earlier chances, minutes and margins, compared with what happened.")
    if shop is None:
        return
    try:
        review = _review(_books(shop), record_url(), newest_entry(), shop)
    except TriageError as refusal:
        st.error(listed(refusal))
        return
    if review is None:
        st.info(_NOTHING_YET)
        back, drift = st.tabs(["Back-test", "Drift"])
    else:
        kept, drift, back = st.tabs(["Past decisions", "Drift", "Back-test"])
        with kept:
            _decisions(review, shop)
    with drift:
        past = past_jobs(shop)
        if past is not None:
            _drift_part(shop, past)
    with back:
        past = past_jobs(shop)
        if past is not None:
            _backtest(shop, past)


# -- past decisions ------------------------------------------------------------------
def _decisions(review: OutcomeReview, shop: Shop) -> None:
    chances_part(review)
    for words in scope_words(review):
        st.caption(literal(words))
    against_part(review)
    promises_part(review.promises, shop.settings.currency)
    groups_part("By family", _named(review.families, shop))
    groups_part("By quarter of the decision", review.quarters)


@st.cache_resource(max_entries=4, show_spinner="Comparing decisions with outcomes…")
def _review(books: str, url: str, newest: int, _shop: Shop) -> OutcomeReview | None:
    ledger, _ = shop_record()
    return None if ledger is None else track_record(ledger, _shop)


# -- drift -------------------------------------------------------------------------
def _drift_part(shop: Shop, past: ShopHistory) -> None:
    found = _drift(past.history.digest, _books(shop), shop.posterior.manifest.folder, past, shop)
    watch, offer = found.watch, found.offer
    st.caption("Drift: outcomes that no longer match their chances.")
    watched = (
        f"{watch.attempts:,} attempts since {watch.watch_from}, compared with {watch.against}. Of 100 "
        f"simulated shops with about {watch.kinds} damage kinds, as here, and without any change, "
        f"{false_alarms_a_year(watch.kinds)} have a false alarm in a year."
    )
    if not offer.alarms:
        st.header("No drift found", anchor=False)
        st.markdown("Recent outcomes of every damage kind match their chances, within chance.")
        st.markdown(literal(watched))
    else:
        alarms_part(offer)
        st.caption(literal(watched))
    if offer.half_life is not None and not past.invented:
        kinds = list(offer.half_life_kinds) if offer.half_life_kinds else None
        forget = {"half_life": offer.half_life, "half_life_kinds": kinds}
        long_work_panel(
            "fit",
            {**_paths(past), "out": str(where_to_learn(shop_files())), **forget},
            "Fit with forgetting",
            f"Old jobs count less: half after {offer.half_life:.0f} days. The fit in use stays until the new "
            "one has passed its checks.",
        )
    with st.expander("How we get this"):
        st.markdown(
            "- A sequential test (betting on the outcomes against the chances) is updated day by day. It "
            "warns once the evidence is more than chance is likely to give.\n"
            "- False alarms: the rate above was measured on 150 simulated shops for each number of kinds. An "
            "alarm without the words *likely, not proven* is false once in 20 years at most, in any shop.\n"
            "- Delay in simulated shops: a sudden fall from 15 in 20 to 8 in 20 was found after three "
            "months, a gradual fall over a year after eleven (medians).\n"
            "- **Forgetting** counts old jobs less. Its half-life is chosen by a monthly back-test and "
            "scored on later months only."
        )


@st.cache_resource(max_entries=4, show_spinner="Watching for drift…")
def _drift(history: str, books: str, draws: str, _past: ShopHistory, _shop: Shop) -> DriftNow:
    return drift_now(_past.history, _shop)


# -- back-test -----------------------------------------------------------------------
def _backtest(shop: Shop, past: ShopHistory) -> None:
    st.markdown(
        "A back-test fits the model to the jobs known at a date in the past, forecasts the next jobs, and "
        "compares. The first fit uses the first half of the jobs; four blocks of later jobs are forecast."
    )
    work = long_work_panel(
        "backtest",
        _paths(past),
        "Back-test these jobs",
        "Each of the four blocks needs its own fits: some minutes for a few hundred jobs, up to half an hour "
        "for thousands. The command triage backtest does the same.",
    )
    found = work.result if work is not None else None
    if found is None and past.invented:
        found = _shipped()
        st.caption("This back-test of the invented jobs comes with the program.")
    if found is None:
        return
    if found.get("record") != past.history.digest:
        st.warning("This back-test is of other past jobs than the current ones. Run it again.")
    try:
        result = backtest_from(found)
    except TriageError:
        st.error("The last back-test was made by another version of this program. Run it again.")
        return
    currency = str(found.get("currency", shop.settings.currency))
    chances_part(result)
    st.caption(
        literal(
            f"{result.attempts:,} attempts in {result.jobs:,} jobs taken in after {result.blocks[0].origin} "
            f"and up to {result.blocks[-1].until}, in {len(result.blocks)} blocks; {result.failed_fits} of "
            "their fits failed."
        )
    )
    against_part(result)
    promises_part(result.promises, currency)
    decision_part(result.decision, currency, str(found.get("money", currency)))
    groups_part("By family", _named(result.families, shop))
    blocks_part(result.blocks)
    alarms_part(drift_offer(result.alarms, None))
    for lack in result.lacks:
        st.caption(literal(f"The record has {lack}."))


@st.cache_data(show_spinner=False)
def _shipped() -> dict[str, Any] | None:
    path = shipped(DEMO_BACKTEST)
    return json.loads(path.read_text(encoding="utf-8")) if path.exists() else None


# -- what both need --------------------------------------------------------------
def _paths(past: ShopHistory) -> dict[str, Any]:
    """How a child process finds the same jobs and books."""
    files = shop_files()
    named = {name: getattr(files, name) for name in ("catalogue", "priors", "settings")}
    given = {name: os.fspath(path.resolve()) for name, path in named.items() if path is not None}
    return {"record": past.arguments, **given}


def _books(shop: Shop) -> str:
    """What a review depends on besides the jobs."""
    return f"{shop.catalogue.digest} {shop.priors.digest} {shop.settings} {date.today()}"


def _named(groups: Sequence[Group], shop: Shop) -> list[Group]:
    """Groups under the names of their families."""
    names = shop.catalogue.families
    return [replace(one, name=names[one.name].name if one.name in names else one.name) for one in groups]


if __name__ == "__main__":
    page()
    next_step("track_record")
