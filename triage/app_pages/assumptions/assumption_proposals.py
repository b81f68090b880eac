"""Propose from past jobs: assumptions for kinds with few attempts, ticked one by one, never silently."""

from __future__ import annotations

from datetime import date, timedelta

import streamlit as st

from triage.app_pages.assumptions.assumption_keeping import keep, name_asked, sets_here
from triage.app_pages.shared.current_device import listed
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.long_work_panel import long_work_panel
from triage.app_pages.shared.shop_counter import shop_files
from triage.domain.history import History
from triage.elicitation.proposal import LITTLE, KindProposal, Proposal, proposal_from
from triage.errors import TriageError
from triage.reports.wording.assumption import double_use_words, proposal_words, proposed_from
from triage.workflows.fitting.record_of_fit import record_of_fit
from triage.workflows.fitting.tuning import accept, propose_from
from triage.workflows.shop.own_sets import OwnSet, named_folder
from triage.workflows.shop.shop import Shop
from triage.workflows.shop.shop_history import ShopHistory

_FROM = {"fit": "The fit in use", "day": "Jobs up to a date"}

_HOW = f"""
- A kind with fewer than {LITTLE} attempts is treated as one more kind of its family (empirical Bayes). The
  family's kinds with {LITTLE} or more attempts give a mean and a spread of the log-odds. The few attempts of
  the kind itself then update them (Efron and Morris 1975, *JASA* 70:311; Gelman and Hill 2007, chapter 12).
  A family needs three such kinds.
- The proposed assumption has the resulting mean chance. It is worth as many jobs as give the same spread.
- Each job is stored as a SHA-256 hash of its label and intake day. The hashes of all jobs behind a proposal
  are saved with the set. A fit refuses any of these jobs.
"""


def proposals_part(shop: Shop, found: ShopHistory | None) -> None:
    """Draw where a proposal comes from, what it proposes, and the ticks that accept some of it."""
    st.markdown(
        "For a damage kind with few attempts, its family may be the best guide. These are assumptions that "
        "your past jobs suggest. **Nothing changes until you tick a line and save it.**"
    )
    st.warning(
        "**A job counts once.** A set that takes a proposal cannot be fitted to the jobs behind that "
        "proposal, because they would count twice. Propose from the jobs up to a date, and later jobs "
        "remain for the fit.",
        icon=":material/rule:",
    )
    if found is None:
        return
    base = sets_here(shop)[0]
    which = st.segmented_control(
        "Propose from", list(_FROM), default="fit", required=True, format_func=lambda name: _FROM[name],
        key="assumption-from", persist_state="session",
    )  # fmt: skip
    proposal = _of_the_fit(shop, found) if which == "fit" else _up_to_a_day(shop, found, base)
    if proposal is not None:
        _left_to_learn(proposal, found.history)
        _ticked(proposal, base, shop)
    with st.expander("How we get this", type="compact"):
        st.markdown(_HOW)


def _of_the_fit(shop: Shop, found: ShopHistory) -> Proposal | None:
    try:
        record = record_of_fit(shop.posterior, found.arguments, shop.catalogue, found.history)
        return propose_from(shop.posterior, record, shop.catalogue, shop.priors)
    except TriageError as refusal:
        st.info(f"The fit in use gives no proposal.\n\n{listed(refusal)}")
        return None


def _up_to_a_day(shop: Shop, found: ShopHistory, base: OwnSet) -> Proposal | None:
    """Ask for the day, fit the jobs before it as long work; the newest proposal that came of it."""
    days = found.history.jobs["date"].sort_values()
    first, middle, last = (days.iloc[place].date() for place in (0, len(days) // 2, -1))
    until = st.date_input(
        "Use jobs up to", middle, min_value=first, max_value=max(last - timedelta(days=1), first),
        key="assumption-until", persist_state="session",
    )  # fmt: skip
    early = int((days.dt.date <= until).sum())
    st.markdown(
        f"**{early:,}** jobs came in up to that day and are used for the proposal. **{len(days) - early:,}** "
        "came later and remain for the fit."
    )
    files = shop_files()
    work = long_work_panel(
        "propose",
        {
            "record": found.arguments,
            "until": until.isoformat(),
            "priors": str(base.folder) if base.folder else None,
            "catalogue": str(files.catalogue.resolve()) if files.catalogue else None,
        },
        "Propose from these jobs",
        "This fits only the jobs closed by that day. Some thousand jobs take some minutes.",
    )
    if work is None or work.result is None:
        return None
    try:
        proposal = proposal_from(work.result, "the proposal")
    except TriageError as refusal:
        st.error(listed(refusal))
        return None
    if proposal.prior_hash != base.priors.digest:
        st.info("The newest proposal was made for another set than the one in use. Make a new proposal.")
        return None
    st.caption(f"Proposal from {literal(proposal.source)}.")
    return proposal


def _left_to_learn(proposal: Proposal, history: History) -> None:
    """How many jobs the rule against counting a job twice leaves for a fit."""
    tuned = proposed_from(proposal)
    later = int((history.jobs["date"].dt.date > date.fromisoformat(proposal.until)).sum())
    left = f"**{later:,} job{'' if later == 1 else 's'}**" if later else "**None**"
    st.markdown(
        f"Of a set that takes one of these proposals: {literal(double_use_words(tuned))} "
        f"{left} of today's record would remain for the fit."
    )


def _ticked(proposal: Proposal, base: OwnSet, shop: Shop) -> None:
    if not proposal.kinds:
        st.info(
            f"There is nothing to propose: no kind with fewer than {LITTLE} attempts belongs to a family "
            "with three kinds that have more."
        )
        return
    with st.form("assumption-accept", border=False):
        ticked = [item.kind for item in proposal.kinds if _tick(item, proposal, shop)]
        name = name_asked(base, "assumption-accept-name")
        pressed = st.form_submit_button("Save ticked proposals", type="primary", key="assumption-accept-go")
    if pressed:
        folder = base.folder
        keep(lambda: accept(proposal, ticked, named_folder(name), folder, shop.catalogue, "the proposal"))


def _tick(item: KindProposal, proposal: Proposal, shop: Shop) -> bool:
    kind = shop.catalogue.kinds[item.kind]
    family = next((held.name.lower() for held in shop.catalogue.family if held.slug == item.family), "")
    return st.checkbox(
        f"**{literal(kind.name)}**: {literal(proposal_words(item))}.  \n{literal(item.why(family))}.",
        key=f"assumption-tick-{proposal.until}-{item.kind}",  # a tick is for these numbers, not for others
    )
