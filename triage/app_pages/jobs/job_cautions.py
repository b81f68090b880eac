"""Cautions for each act on a job, as in a plan: by the act, and by what is known of the device."""

from __future__ import annotations

from collections.abc import Iterable

import streamlit as st

from triage.app_pages.jobs.job_in_hand import JobInHand
from triage.app_pages.shared.cautions import folded_cautions, show_cautions
from triage.app_pages.shared.literal import literal
from triage.domain.catalogue_entries import Access
from triage.domain.job.safety_facts import act_reminders, battery_now, liquid_now


def step_cautions(job: JobInHand, name: str) -> None:
    """Draw the cautions of a step that every job shares."""
    catalogue = job.shop.catalogue
    step = catalogue.steps.get(name)
    if step is None:
        return
    battery, liquid = battery_now(job.file, catalogue), liquid_now(job.file, catalogue)
    slugs = list(step.cautions)
    if battery in ("bad", "out-safe"):
        slugs += step.if_hazard
    elif battery == "suspect":
        slugs += step.if_suspect
    if liquid in ("wet", "may-be-wet"):
        slugs += step.if_wet
    kinds = [catalogue.kinds.get(kept.record.kind) for kept in job.file.findings]
    if any(kind is not None and "glass-splinters" in kind.cautions for kind in kinds):
        slugs += step.if_glass
    known = [catalogue.cautions[slug] for slug in dict.fromkeys(slugs) if slug in catalogue.cautions]
    show_cautions(tuple(caution for caution in known if caution.always))
    folded_cautions(tuple(caution for caution in known if not caution.always))


def named_cautions(job: JobInHand, slugs: Iterable[str]) -> None:
    """Draw some cautions, each once."""
    known = job.shop.catalogue.cautions
    show_cautions(tuple(known[slug] for slug in dict.fromkeys(slugs) if slug in known))


def battery_first(job: JobInHand, acts: Iterable[str], access: Access) -> None:
    """Say what an act that is allowed needs first: the battery out."""
    for words in act_reminders(job.file, acts, job.shop.catalogue, access):
        st.markdown(f":orange[:material/warning: **First**] {literal(words)}")
