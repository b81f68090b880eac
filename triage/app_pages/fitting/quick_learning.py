"""Taking up a day's jobs without a new fit, and what the weights it rests on are worth."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import streamlit as st

from triage.app_pages.shared.current_device import listed
from triage.app_pages.shared.literal import literal
from triage.errors import PosteriorError, TriageError
from triage.inference.diagnostics import LEAST_EFFECTIVE_SAMPLE
from triage.inference.success_checks import highest_shape
from triage.posterior.manifest import Manifest, QuickUpdate
from triage.posterior.versions import last_full_fit
from triage.reports.wording.fit import model_name, new_jobs_words
from triage.workflows.fitting.quick_update import Update, update_folder
from triage.workflows.fitting.record_of_fit import check_beliefs, older_forms
from triage.workflows.shop.shop import Shop
from triage.workflows.shop.shop_history import ShopHistory

_SAID = "quick-said"


def quick_learning(shop: Shop, history: ShopHistory, out: Path) -> None:
    """Draw the button that takes up new jobs; nothing where no full fit of this record stands behind it.

    Parameters
    ----------
    history : the shop's own past jobs. out : folder that its fits go into.
    """
    try:
        fitted = last_full_fit(out)
        check_beliefs(fitted, shop.priors)
    except PosteriorError:
        return
    if not fitted.as_of or older_forms(fitted):
        return
    st.subheader("Learn today's jobs quickly", anchor=False)
    said = st.session_state.pop(_SAID, None)
    if said:
        kind, words = said
        {"done": st.success, "nothing": st.info, "refused": st.warning}[kind](literal(words))
    if shop.posterior.manifest.update is not None:
        _rests_on(shop.posterior.manifest.update)
    if st.button("Learn today's jobs quickly", icon=":material/bolt:", key="quick-go"):
        with st.spinner("Weighing what the new jobs say…"):
            _learn(shop, history, out)
    st.caption(_how(fitted))


def _learn(shop: Shop, history: ShopHistory, out: Path) -> None:
    try:
        update = update_folder(out, history.history, shop.catalogue, shop.priors)
    except TriageError as refusal:
        st.error(f"Nothing was changed.\n\n{listed(refusal)}")
        return
    st.session_state[_SAID] = _words(update)
    st.rerun()


def _words(update: Update) -> tuple[str, str]:
    since = update.since
    if update.why_not:
        return "refused", f"Nothing was changed. {'; '.join(update.why_not)}."
    if update.posterior is None:
        return "nothing", "There is nothing new to learn: what is in use knows all these jobs."
    jobs = new_jobs_words(since.added, since.changed)
    return "done", f"Learned from {jobs} since the full fit of {since.before.as_of}; it is in use."


def _rests_on(update: QuickUpdate) -> None:
    """What the update in use was made from, and how much its weights are worth."""
    st.markdown(
        f"In use is a quick update of the full fit of {update.as_of}, "
        f"with {new_jobs_words(update.added, update.changed)}."
    )
    rows = [
        {
            "what is learned": model_name(name),
            "tail of the weights (Pareto k)": f"{shape:.2f}",
            "worth so many draws": f"{update.effective[name]:,.0f}",
        }
        for name, shape in update.pareto_k.items()
    ]
    with st.expander("How far the quick update can be relied on"):
        st.table(pd.DataFrame(rows).set_index("what is learned"))
        st.caption(
            "The figures of the models above, and the record beside them, are those of the full fit. "
            f"An update worth fewer than {LEAST_EFFECTIVE_SAMPLE} draws, or with too heavy a tail, is never "
            "put into use."
        )


def _how(fitted: Manifest) -> str:
    most = highest_shape(fitted.draws)
    return (
        f"How we get this: nothing is fitted. Each of the {fitted.draws:,} draws of the full fit of "
        f"{fitted.as_of} is weighted by how likely it finds the jobs since, and draws are taken again by "
        "their weights: some seconds. Each time it starts from the full fit, so errors cannot add up over "
        f"the days. Where the weights cannot be relied on (Pareto k above {most:.2f}: Vehtari, Simpson, "
        "Gelman, Yao and Gabry 2024), nothing changes and you are asked to learn again."
    )
