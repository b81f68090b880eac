"""The steps of a data job on a page, each caution in full where it is first called for."""

from __future__ import annotations

from collections.abc import Iterable

import streamlit as st

from triage.app_pages.shared.cautions import folded_cautions, show_cautions
from triage.app_pages.shared.literal import literal
from triage.policy.data_job.steps import DataStep


def show_data_steps(steps: Iterable[DataStep]) -> None:
    """Draw the steps; cautions for battery, liquid and ownership are open, others unfold."""
    said: set[str] = set()
    for number, step in enumerate(steps, 1):
        repairs = f": {literal('; '.join(step.repairs))}" if step.repairs else ""
        st.markdown(f"**{number}.** {literal(step.name)}{repairs}")
        new = [caution for caution in step.cautions if caution.slug not in said]
        said |= {caution.slug for caution in new}
        show_cautions(tuple(caution for caution in new if _open(caution.slug, caution.always)))
        folded_cautions(tuple(caution for caution in new if not _open(caution.slug, caution.always)))


def _open(slug: str, always: bool) -> bool:
    return always or slug in ("liquid-no-power", "damaged-cell", "data-refer-first", "data-copied-once")
