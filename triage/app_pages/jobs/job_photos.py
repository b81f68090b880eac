"""Photographs of a job: kept by the hash of their bytes, shown small."""

from __future__ import annotations

import streamlit as st

from triage.app_pages.jobs.job_in_hand import JobInHand
from triage.app_pages.shared.literal import literal
from triage.errors import TriageError
from triage.workflows.jobs.photos import MOST_MEGABYTES, keep_photo, photo_bytes, photo_folder
from triage.workflows.jobs.record_keeper import add_entry


def photos_part(job: JobInHand) -> None:
    """Draw the photographs, and the way to add one."""
    folder = photo_folder(job.keeper.ledger)
    with st.form(job.key("photo")):
        file = st.file_uploader(
            f"Photo (PNG or JPEG, up to {MOST_MEGABYTES} MB)", ["png", "jpg", "jpeg"],
            max_upload_size=MOST_MEGABYTES, key=job.key("photo-file"),
        )  # fmt: skip
        caption = st.text_input("Caption", max_chars=200, key=job.key("photo-caption"))
        if st.form_submit_button("Save photo", key=job.key("photo-go")):
            if file is None:
                st.error("Choose a photo.")
            else:
                try:
                    photo = keep_photo(folder, file.getvalue(), (caption or "").strip())
                except TriageError as refusal:
                    st.error(literal(str(refusal)))
                else:
                    job.do(add_entry, photo, said="Photo saved.")
    if not job.file.photos:
        return
    with st.grid(3, min_column_width=105, gap="xsmall"):
        for kept in job.file.photos:
            with st.container(gap=None):
                try:
                    content = photo_bytes(folder, kept.record)
                except TriageError as refusal:
                    st.caption(literal(str(refusal)))
                    continue
                words = kept.record.caption or "photo of this job"
                st.image(content, alt=words, width="stretch")
                st.caption(literal(words))
