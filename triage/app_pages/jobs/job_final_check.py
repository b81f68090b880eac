"""The final check: the lines that this job's repairs call for, one tap each, nothing preset."""

from __future__ import annotations

import streamlit as st

from triage.app_pages.jobs.job_in_hand import JobInHand
from triage.app_pages.shared.cautions import show_cautions
from triage.app_pages.shared.literal import literal
from triage.domain.catalogue_entries import VerificationLine
from triage.domain.job.final_check import (
    FinalCheck,
    RequiredLine,
    required_lines,
    result_of,
    standing,
    to_do_again,
)
from triage.domain.job.records import LineResult
from triage.domain.job.rules import held_back
from triage.workflows.jobs.work import check_line

_TAPS: dict[LineResult, str] = {"pass": "pass", "fail": "fail", "cannot": "cannot be tested here"}
_GRADES = {
    "working": "fully working",
    "downgraded": "limited function, which must be disclosed in writing",
    "unfixed": "not repaired",
}


def final_check_part(job: JobInHand) -> None:
    """Draw how the check stands, and buttons for each line that is required."""
    file, catalogue = job.file, job.shop.catalogue
    check = standing(file, catalogue)
    st.markdown(
        f"{len(check.passed)} of {len(check.required)} lines passed, {len(check.failed)} failed, "
        f"{len(check.cannot)} cannot be tested, {len(check.missing)} to do. "
        + (
            "The grade shows when every line has a result."
            if check.missing
            else f"Grade: {_GRADES[check.grade]}."
        )
    )
    for repair, lines in to_do_again(file, catalogue).items():
        names = ", ".join(catalogue.verifications[slug].name for slug in lines)
        st.error(f"Redo: {literal(catalogue.repairs[repair].name)} (failed: {literal(names)})")
    if refused := held_back(file):
        st.markdown("Not possible now:\n" + "\n".join(f"- {literal(words)}" for words in refused))
        return
    if file.state not in ("in-work", "verified", "ready", "uncollected"):
        st.caption("Start work first. The final check is done while a job is in progress or after the work.")
        return
    step = catalogue.steps.get("verify")
    slugs = ("first-charge-attended", "no-emergency-call", *(step.cautions if step else ()))
    if file.data_job is not None:  # nothing is tested but the data
        slugs = ("data-privacy", "data-authority")
    show_cautions(tuple(catalogue.cautions[slug] for slug in slugs if slug in catalogue.cautions))
    sealed = file.data_job is None and st.checkbox(
        "The device is closed and sealed", key=f"job-{file.id}-sealed"
    )
    for need in required_lines(file, catalogue):
        _line(job, need, check, sealed)


def _line(job: JobInHand, need: RequiredLine, check: FinalCheck, sealed: bool) -> None:
    line = need.line
    answered = {slug: "passed" for slug in check.passed} | {slug: "**failed**" for slug in check.failed}
    answered |= {slug: "cannot be tested here" for slug in check.cannot}
    now = answered.get(line.slug, "test after closing" if need.closed and not sealed else "to do")
    with st.container(gap="xsmall", border=True, key=job.key(f"line-{line.slug}-box")):
        st.markdown(f"**{literal(line.name)}** — {now}")
        st.caption(f"{literal(line.limit)} ({literal(line.source)})")
        reading = _reading(job, line) if line.unit else None
        with st.container(horizontal=True, gap="xsmall"):
            for tap, words in _TAPS.items():
                if st.button(words.capitalize(), key=job.key(f"line-{line.slug}-{tap}")):
                    unit = "" if reading is None else line.unit
                    result = result_of(line, tap, reading).result
                    said = f"{literal(line.name)}: {_TAPS[result]}."
                    job.do(check_line, line.slug, tap, job.today, reading, unit, sealed, said=said)


def _reading(job: JobInHand, line: VerificationLine) -> float | None:
    """What the instrument showed, judged at once; it stays while other lines are saved."""
    saved = sum(kept.record.line == line.slug for kept in job.file.lines)
    reading = st.number_input(
        f"Reading ({line.unit})", value=None, step=0.1, format="%.3f",
        key=f"job-{job.file.id}-{saved}-line-{line.slug}-reading",
    )  # fmt: skip
    if reading is not None:
        within = "within the limit" if line.passes(reading) else "**outside the limit**: it cannot pass"
        st.markdown(f"{reading:g} {line.unit} is {within}.")
    return reading
