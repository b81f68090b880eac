"""Learning anew from the record, and going back to an earlier fit."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import streamlit as st

from triage.app_pages.fitting.past_jobs import past_jobs
from triage.app_pages.fitting.quick_learning import quick_learning
from triage.app_pages.shared.current_device import listed
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.long_work_panel import long_work_panel
from triage.domain.catalogue import load_catalogue
from triage.errors import PosteriorError, TriageError
from triage.posterior.store import check_catalogue
from triage.posterior.versions import Version, use_version, version_named, versions
from triage.reports.wording.assumption import double_use_words
from triage.workflows.background.runner import LongWork
from triage.workflows.shop.learned_chances import where_to_learn
from triage.workflows.shop.shop import Shop
from triage.workflows.shop.shop_files import ShopFiles


def learn_section(shop: Shop, files: ShopFiles, rejected: int) -> None:
    """Draw which past jobs there are and the button that learns from them.

    Parameters
    ----------
    rejected : fits that failed so far; the next one draws other random numbers.
    """
    st.header("Learn from these jobs", anchor=False)
    history = past_jobs(shop)
    if history is None:
        return
    if history.invented:
        st.info(
            "These jobs are invented, and what ships was learned from them already. Finish a job under "
            "**Jobs**, or bring your own with `triage ledger import`: the button that learns appears here."
        )
        return
    out = where_to_learn(files)
    half_life = st.number_input(
        "Forget: a job counts half when it is so many days old (empty: never)",
        30.0, 10000.0, None, 30.0, "%.0f", key="fit-half-life",
    )  # fmt: skip
    arguments = {
        "record": history.arguments,
        "out": str(out),
        "catalogue": _text(files.catalogue),
        "priors": _text(files.priors),
        "half_life": half_life,
        "seed": 1 + rejected,
    }
    explain = (
        f"Fits all six models to {len(history.history.jobs):,} jobs anew: a few minutes for some thousand "
        f"jobs. A fit that passes its checks goes into {literal(str(out))} and is used from then on; one "
        "that does not is kept aside, and what is in use stays. The demo that ships is never written to."
    )
    if files.priors is not None:
        st.caption(
            f"It starts from the set of beliefs {literal(files.priors.name)}. "
            + literal(double_use_words(shop.priors.tuned))
        )
    done = long_work_panel("fit", arguments, "Learn from these jobs", explain)
    if done is not None:
        _what_came(done, files, out)
    quick_learning(shop, history, out)


def _what_came(work: LongWork, files: ShopFiles, out: Path) -> None:
    """What the newest finished fit came to."""
    result = work.result or {}
    jobs = f"{result.get('jobs', 0):,} jobs up to {result.get('as_of', '')}"
    if result.get("folder") and not Path(result["folder"]).is_relative_to(out):
        return  # of another record
    if not result.get("current"):
        st.warning(
            f"The last one learned from {jobs}, and did not pass its checks: it is not used. "
            "What failed stands in its card above. Learning again draws other random numbers, which is worth "
            "one try."
        )
    elif files.posterior is None or files.posterior.resolve() != out.resolve():
        st.warning(
            f"The last one learned from {jobs} and passed. This server was started with other chances "
            f"(--posterior) and goes on using them; start it with {literal(str(out))} to use these."
        )
    else:
        st.success(f"The last one learned from {jobs}, passed its checks, and is in use.")


def earlier_fits(folder: Path, files: ShopFiles) -> None:
    """Draw the fits kept in the shop's folder, and the way back to one of them."""
    try:
        held = versions(folder)
    except PosteriorError:
        return
    st.header("Fits that are kept", anchor=False)
    st.dataframe(
        pd.DataFrame([_row(version) for version in held]), hide_index=True, alt="Fits kept in the folder"
    )
    others = {version.name: version for version in held if not version.in_use}
    if not others:
        st.caption("Only the one in use. The next one that passes takes its place, and this one is kept.")
        return
    chosen = st.selectbox(
        "Go back to", list(others), index=None, placeholder="choose", key="fit-earlier",
        format_func=lambda name: _words(others[name]),
    )  # fmt: skip
    if st.button("Use this one", key="fit-earlier-go", disabled=chosen is None) and chosen:
        try:
            check_catalogue(folder, version_named(folder, chosen).manifest, load_catalogue(files.catalogue))
            use_version(folder, chosen)
        except TriageError as refusal:
            st.error(listed(refusal))
            return
        st.rerun()


def _row(version: Version) -> dict[str, str]:
    told = version.manifest
    return {
        "now": "in use" if version.in_use else "kept",
        "learned from": f"{told.jobs:,} jobs up to {told.as_of}" if told.as_of else "belief only",
        "how": "quick update" if told.update else "full fit" if told.as_of else "",
        "stored": told.stored_at[:16].replace("T", " ") + (" UTC" if told.stored_at else ""),
        "called": told.label,
        "draws": version.name,
    }


def _words(version: Version) -> str:
    row = _row(version)
    return ", ".join(part for part in (row["learned from"], row["how"], row["stored"], row["called"]) if part)


def _text(path: Path | None) -> str | None:
    return None if path is None else str(path.resolve())
