"""Quick update: a day's jobs added without a new fit, and how reliable its weights are."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import streamlit as st

from triage.app_pages.shared.current_device import listed
from triage.app_pages.shared.literal import literal
from triage.errors import PosteriorError, TriageError
from triage.inference.diagnostics import LEAST_EFFECTIVE_SAMPLE
from triage.inference.success_checks import highest_shape
from triage.outcome_models.registry import older_forms
from triage.posterior.manifest import Manifest, QuickUpdate
from triage.posterior.versions import last_full_fit
from triage.reports.wording.fit import model_name, new_jobs_words
from triage.workflows.fitting.quick_update import Update, update_folder
from triage.workflows.fitting.record_of_fit import check_beliefs
from triage.workflows.shop.shop import Shop
from triage.workflows.shop.shop_history import ShopHistory

_SAID = "quick-said"


def quick_learning(shop: Shop, history: ShopHistory, out: Path) -> None:
    """Draw the button that adds new jobs; nothing without a full fit of this record.

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
    st.subheader("Quick update", anchor=False)
    said = st.session_state.pop(_SAID, None)
    if said:
        kind, words = said
        {"done": st.success, "nothing": st.info, "refused": st.warning}[kind](literal(words))
    if shop.posterior.manifest.update is not None:
        _rests_on(shop.posterior.manifest.update)
    if st.button("Add today's jobs", icon=":material/bolt:", key="quick-go"):
        with st.spinner("Weighting the draws by the new jobs…"):
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
        return "nothing", "There are no new jobs. The fit in use has all of them."
    jobs = new_jobs_words(since.added, since.changed)
    return "done", f"Added {jobs} since the full fit of {since.before.as_of}. The update is in use."


def _rests_on(update: QuickUpdate) -> None:
    """What the update in use was made from, and how much its weights are worth."""
    st.markdown(
        f"The fit in use is a quick update of the full fit of {update.as_of}, "
        f"with {new_jobs_words(update.added, update.changed)}."
    )
    rows = [
        {
            "model": model_name(name),
            "Pareto k (tail of the weights)": f"{shape:.2f}",
            "effective sample size (draws)": f"{update.effective[name]:,.0f}",
        }
        for name, shape in update.pareto_k.items()
    ]
    with st.expander("Reliability of the quick update"):
        st.table(pd.DataFrame(rows).set_index("model"))
        st.caption(
            "The diagnostics and posterior predictive checks above are those of the full fit. The effective "
            "sample size counts both the weights and how far draws of a chain resemble each other. An update "
            f"with an effective sample size below {LEAST_EFFECTIVE_SAMPLE} draws, or too high a Pareto k, is "
            "never used."
        )


def _how(fitted: Manifest) -> str:
    most = highest_shape(fitted.draws)
    return (
        f"How we get this: there is no new fit. Each of the {fitted.draws:,} draws of the full fit of "
        f"{fitted.as_of} is weighted by the likelihood of the jobs since then, and draws are resampled by "
        "these weights (importance resampling). This takes some seconds. It always starts from the full fit, "
        f"so errors do not add up. If the weights are unreliable (Pareto k above {most:.2f}: Vehtari, "
        "Simpson, Gelman, Yao and Gabry 2024), nothing changes and you are asked to run a full fit."
    )
