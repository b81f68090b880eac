"""The page that answers whether what was said came true: kept decisions, drift, and the back-test."""

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
    "No kept answer can be judged yet. Whenever a device is taken, its record keeps the answer it was taken "
    "on: chances, minutes, margin. Once such jobs are closed, this page says how many of the repairs called "
    "15 in 20 worked 15 times in 20. Until then, **Back-test** asks the same of past jobs: what would have "
    "been said on the evening before, and what came."
)


def page() -> None:
    """Draw the three answers, each in a tab of its own."""
    shop = page_head("Did what we said come true?")
    if shop is None:
        return
    try:
        review = _review(_books(shop), record_url(), newest_entry(), shop)
    except TriageError as refusal:
        st.error(listed(refusal))
        return
    if review is None:
        st.info(_NOTHING_YET)
        back, drift = st.tabs(["Back-test", "Lately"])
    else:
        kept, drift, back = st.tabs(["Our answers", "Lately", "Back-test"])
        with kept:
            _kept(review, shop)
    with drift:
        past = past_jobs(shop)
        if past is not None:
            _lately(shop, past)
    with back:
        past = past_jobs(shop)
        if past is not None:
            _backtest(shop, past)


# -- kept answers ------------------------------------------------------------------
def _kept(review: OutcomeReview, shop: Shop) -> None:
    chances_part(review)
    for words in scope_words(review):
        st.caption(literal(words))
    against_part(review)
    promises_part(review.promises, shop.settings.currency)
    groups_part("By family", _named(review.families, shop))
    groups_part("Over time, by the day of the answer", review.quarters)


@st.cache_resource(max_entries=4, show_spinner="Holding kept answers against what came…")
def _review(books: str, url: str, newest: int, _shop: Shop) -> OutcomeReview | None:
    ledger, _ = shop_record()
    return None if ledger is None else track_record(ledger, _shop)


# -- drift -------------------------------------------------------------------------
def _lately(shop: Shop, past: ShopHistory) -> None:
    found = _drift(past.history.digest, _books(shop), shop.posterior.manifest.folder, past, shop)
    watch, offer = found.watch, found.offer
    watched = (
        f"Watched: {watch.attempts:,} tries since {watch.watch_from}, against {watch.against}. "
        f"Kinds of damage watched: {watch.kinds}. Of 100 invented shops with about as many, in which nothing "
        f"changed, {false_alarms_a_year(watch.kinds)} had a false alarm in a year."
    )
    if not offer.alarms:
        st.header("No damage has left its chances lately.", anchor=False)
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
            "Fit anew, forgetting",
            f"Old jobs count for less: half when {offer.half_life:.0f} days old. The chances in use stay "
            "until the new fit has passed its checks.",
        )
    with st.expander("How we get this"):
        st.markdown(
            "- Each damage's outcomes are bet against its chances, day by day. The alarm goes off when "
            "the bets have won more than luck is likely to give them. Played on 400 invented shops where "
            "nothing had changed, for all kinds and looks together, it went off twice in 100 years. "
            "Without the words *likely, not proved* it could do so once in 20 years at most, in any shop.\n"
            "- In such shops a fall from 15 in 20 to 8 in 20 was seen after three months where it came at "
            "once, after eleven where it came by degrees over a year (medians).\n"
            "- How fast to forget is chosen by a back-test month by month, and scored on later months only."
        )


@st.cache_resource(max_entries=4, show_spinner="Watching for drift…")
def _drift(history: str, books: str, draws: str, _past: ShopHistory, _shop: Shop) -> DriftNow:
    return drift_now(_past.history, _shop)


# -- back-test -----------------------------------------------------------------------
def _backtest(shop: Shop, past: ShopHistory) -> None:
    st.markdown(
        "We stand at days in the past, learn from what was known then, say what will come, and look. "
        "The first half of the jobs is the first past; the rest is foretold in four stretches."
    )
    work = long_work_panel(
        "backtest",
        _paths(past),
        "Back-test these jobs",
        "Four times over, each with fits of its own: some minutes for a few hundred jobs, up to half an hour "
        "for thousands. The command triage backtest does the same.",
    )
    found = work.result if work is not None else None
    if found is None and past.invented:
        found = _shipped()
        st.caption("Below: the back-test of the invented jobs, made before and shipped.")
    if found is None:
        return
    if found.get("record") != past.history.digest:
        st.warning("This back-test is of other past jobs than those at hand: run it again.")
    try:
        result = backtest_from(found)
    except TriageError:
        st.error("The last back-test was made by another version of this program: run it again.")
        return
    currency = str(found.get("currency", shop.settings.currency))
    chances_part(result)
    st.caption(
        literal(
            f"{result.attempts:,} tries in {result.jobs:,} jobs taken in after {result.blocks[0].origin} and "
            f"up to {result.blocks[-1].until}, in {len(result.blocks)} stretches; {result.failed_fits} of "
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


# -- what both stand on --------------------------------------------------------------
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
