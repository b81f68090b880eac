"""A new fit to the record, and going back to an earlier one."""

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
from triage.reports.wording.fit import listed as listed_names
from triage.reports.wording.fit import model_name
from triage.workflows.background.runner import LongWork
from triage.workflows.shop.learned_chances import where_to_learn
from triage.workflows.shop.shop import Shop
from triage.workflows.shop.shop_files import ShopFiles


def learn_section(shop: Shop, files: ShopFiles, rejected: int) -> None:
    """Draw which past jobs there are and the button that fits the models to them.

    Parameters
    ----------
    rejected : fits that failed so far; the next one draws other random numbers.
    """
    st.header("New fit", anchor=False)
    history = past_jobs(shop)
    if history is None:
        return
    if history.invented:
        st.info(
            "These jobs are invented; the fit of the demo shop already uses them. Finish a job under "
            "**Jobs**, or import your own with `triage record import`. You can then run a fit here."
        )
        return
    out = where_to_learn(files)
    half_life = st.number_input(
        "Forgetting: days after which a job counts half (empty: never)",
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
        f"Fits all six models to {len(history.history.jobs):,} jobs. Some thousand jobs take a few minutes. "
        f"The fit is saved in {literal(str(out))}. Each model that passes its checks is used from then on. "
        "Assumptions replace a model that fails. If none passes, the fit in use stays. The shipped demo is "
        "never changed."
    )
    if files.priors is not None:
        st.caption(
            f"It starts from the set of assumptions {literal(files.priors.name)}. "
            + literal(double_use_words(shop.priors.tuned))
        )
    done = long_work_panel("fit", arguments, "Fit to these jobs", explain)
    if done is not None:
        _what_came(done, files, out)
    quick_learning(shop, history, out)


def _what_came(work: LongWork, files: ShopFiles, out: Path) -> None:
    """The result of the newest finished fit."""
    result = work.result or {}
    jobs = f"{result.get('jobs', 0):,} jobs up to {result.get('as_of', '')}"
    if result.get("folder") and not Path(result["folder"]).is_relative_to(out):
        return  # of another record
    if not result.get("current"):
        st.warning(
            f"The last fit used {jobs} and failed its checks, so it is not used. Its card above shows what "
            "failed. Try once more: a new fit uses other random numbers."
        )
    elif files.posterior is None or files.posterior.resolve() != out.resolve():
        st.warning(
            f"The last fit used {jobs} and is usable. This server was started with another fit (--posterior) "
            f"and keeps using it. To use the new one, start the server with {literal(str(out))}."
        )
    elif failed := result.get("failures"):
        names = listed_names([model_name(name) for name in failed])
        st.warning(
            f"The last fit used {jobs} and is in use. It failed its checks for {names}: assumptions are used "
            "there, and no past job. The cards above show what failed. Try once more: a new fit uses other "
            "random numbers."
        )
    else:
        st.success(f"The last fit used {jobs}, passed its checks and is in use.")


def earlier_fits(folder: Path, files: ShopFiles) -> None:
    """Draw the fits saved in the shop's folder, and the way back to one of them."""
    try:
        held = versions(folder)
    except PosteriorError:
        return
    st.header("Saved fits", anchor=False)
    st.dataframe(
        pd.DataFrame([_row(version) for version in held]), hide_index=True, alt="Saved fits of the folder"
    )
    others = {version.name: version for version in held if not version.in_use}
    if not others:
        st.caption("There is only the fit in use. The next usable one replaces it, and this one stays saved.")
        return
    chosen = st.selectbox(
        "Earlier fit", list(others), index=None, placeholder="choose", key="fit-earlier",
        format_func=lambda name: _words(others[name]),
    )  # fmt: skip
    if st.button("Use this fit", key="fit-earlier-go", disabled=chosen is None) and chosen:
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
        "status": "in use" if version.in_use else "saved",
        "fitted to": f"{told.jobs:,} jobs up to {told.as_of}" if told.as_of else "assumptions only",
        "kind": "quick update" if told.update else "full fit" if told.as_of else "",
        "saved on": told.stored_at[:16].replace("T", " ") + (" UTC" if told.stored_at else ""),
        "assumptions only": ", ".join(map(model_name, told.belief_only)) if told.as_of else "all",
        "label": told.label,
        "folder": version.name,
    }


def _words(version: Version) -> str:
    row = _row(version)
    return ", ".join(part for part in (row["fitted to"], row["kind"], row["saved on"], row["label"]) if part)


def _text(path: Path | None) -> str | None:
    return None if path is None else str(path.resolve())
