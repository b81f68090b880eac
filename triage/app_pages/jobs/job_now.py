"""The next step of a job: what blocks it, where it is, and the moves that its rules allow now."""

from __future__ import annotations

from typing import Literal

import streamlit as st

from triage.app_pages.jobs.job_cautions import step_cautions
from triage.app_pages.jobs.job_in_hand import JobInHand
from triage.app_pages.jobs.job_later_fate import later_fate_part
from triage.app_pages.shared.literal import literal
from triage.domain.job.final_check import unfixed_kinds
from triage.domain.job.life import MOVE_WORDS, STATE_WORDS, WAIT_WORDS, WAITS, JobMove, moves_from
from triage.domain.job.records import Place
from triage.domain.job.rules import move_refusals
from triage.workflows.jobs.intake import decline, look_at_battery, resolve_stop, take
from triage.workflows.jobs.record_keeper import add_entry, move
from triage.workflows.jobs.words import day, job_words

# Moves that are one press, with nothing else to say.
_PLAIN: tuple[JobMove, ...] = ("start", "resume", "reopen", "make-ready", "reconsider")
# A way back is not what a job in good order asks for.
_WEIGHT: dict[JobMove, Literal["secondary"]] = {"reopen": "secondary", "reconsider": "secondary"}
_LEAVES = "Sale or collection"
# Moves that other parts of the page make, and which part.
_ELSEWHERE: dict[JobMove, str] = {
    "sell": _LEAVES, "return-fixed": _LEAVES, "return-unfixed": _LEAVES, "strip": _LEAVES,
    "dispose": _LEAVES, "leave-uncollected": _LEAVES, "come-back": _LEAVES,
    "rework": _LEAVES, "take-back": _LEAVES, "send-back": _LEAVES,
}  # fmt: skip


def now_part(job: JobInHand) -> None:
    """Draw where the job stands, and what may be done with it."""
    file, catalogue = job.file, job.shop.catalogue
    words = job_words(file, catalogue, job.today, job.shop.settings)
    said = [STATE_WORDS[file.state].capitalize()]
    said += [literal(text) for text in (words.waits_for, words.next_act) if text]
    st.markdown(f"**{said[0]}**" + "".join(f"; {text}" for text in said[1:]) + ".")
    if words.promised:
        late = (
            f", :red[**{words.days_late} day{'s' if words.days_late > 1 else ''} late**]"
            if words.days_late
            else ""
        )
        st.markdown(f"Promised for {day(words.promised, job.today)}{late}.")
    _battery(job)
    _stops(job)
    _moves(job)
    if file.state == "declined":
        later_fate_part(job)
    else:
        _place(job)


def _battery(job: JobInHand) -> None:
    """Before anything else."""
    if job.file.intake.record.battery_looked_at or job.file.state not in ("considered", "taken", "came-back"):
        return
    catalogue = job.shop.catalogue
    step_cautions(job, "battery-look")
    cells = [kind for kind in catalogue.kinds.values() if kind.battery == "hazard"]
    with st.form(job.key("battery"), border=True):
        st.markdown("**Inspect the battery before anything else.** What condition is it in?")
        found = st.pills(
            "Battery", ["", *(kind.slug for kind in cells)], default=None, key=job.key("battery-found"),
            format_func=lambda slug: catalogue.kinds[slug].name if slug else "no visible damage",
            label_visibility="collapsed",
        )  # fmt: skip
        looked = st.form_submit_button(
            "Save battery inspection", type="primary", key=job.key("battery-looked")
        )
    if looked:
        if found is None:
            st.error("Choose the battery's condition.")
        else:
            job.do(look_at_battery, found, said="Battery inspection saved.")


def _stops(job: JobInHand) -> None:
    for stop in job.file.open_stops:
        if stop.record.about == "battery":
            step_cautions(job, "make-safe")
        with st.form(job.key(f"stop-{stop.id}")):
            st.markdown(f":red[:material/front_hand: **Stop**] {literal(stop.record.reason)}")
            how = st.text_input("How was it resolved?", max_chars=400, key=job.key(f"stop-{stop.id}-how"))
            if st.form_submit_button("Clear this stop", key=job.key(f"stop-{stop.id}-resolved")):
                job.do(resolve_stop, stop.id, (how or "").strip())


def _moves(job: JobInHand) -> None:
    """The moves of the table, those the rules allow now as buttons; the others with the reason."""
    file, catalogue = job.file, job.shop.catalogue
    allowed = moves_from(file.state, file.route)
    if not allowed:
        return
    if "take" in allowed or "decline" in allowed:
        _decide(job)
    if "verify" in allowed:
        _verify(job)
    refused: list[str] = []
    with st.container(horizontal=True, key=job.key("moves")):
        for name in (name for name in _PLAIN if name in allowed):
            reasons = move_refusals(file, name, catalogue)
            if reasons:
                refused.append(f"**{MOVE_WORDS[name]}**: {'; '.join(map(literal, reasons))}")
            elif st.button(MOVE_WORDS[name], type=_WEIGHT.get(name, "primary"), key=job.key(f"move-{name}")):
                job.do(move, name, job.today)
    elsewhere = [MOVE_WORDS[name] for name in allowed if name in _ELSEWHERE]
    if refused:
        st.markdown("Not possible yet:\n" + "\n".join(f"- {line}" for line in refused))
    if elsewhere:
        st.caption(f"Under **{_LEAVES}**: {', '.join(elsewhere).lower()}.")
    if "wait" in allowed:
        _wait(job)


def _decide(job: JobInHand) -> None:
    file = job.file
    refused = move_refusals(file, "take", job.shop.catalogue)
    with st.form(job.key("decide")):
        paid = None
        if file.route == "bought":
            paid = st.number_input(
                f"Price paid ({file.currency})", 0.0, 1e7, job.major(file.intake.record.ask_minor), 5.0,
                "%.2f", key=job.key("paid"),
            )  # fmt: skip
        with st.container(horizontal=True):
            accept = st.form_submit_button(
                "Buy it" if file.route == "bought" else "Accept it",
                type="primary",
                key=job.key("take"),
                disabled=bool(refused),
            )
            leave = st.form_submit_button("Decline it", key=job.key("leave"))
    if refused:
        st.markdown("You cannot accept it yet:\n" + "\n".join(f"- {literal(words)}" for words in refused))
    if accept:
        job.do(take, job.today, None if paid is None else job.minor(paid), said="Device accepted.")
    if leave:
        job.do(decline, job.today, said="Device declined.")


def _wait(job: JobInHand) -> None:
    with st.form(job.key("wait")):
        with st.grid(2, min_column_width=150, gap="xsmall"):
            what = st.selectbox(
                "On hold for", list(WAITS), index=None, format_func=WAIT_WORDS.__getitem__,
                placeholder="choose", key=job.key("wait-for"),
            )  # fmt: skip
            note = st.text_input("Details", max_chars=200, key=job.key("wait-note"))
        if st.form_submit_button("Put on hold", key=job.key("wait-go")):
            job.do(move, "wait", job.today, what, (note or "").strip())


def _verify(job: JobInHand) -> None:
    refused = move_refusals(job.file, "verify", job.shop.catalogue, accepted_failures="given")
    if refused:
        st.markdown(
            "You cannot complete the final check yet:\n" + "\n".join(f"- {literal(w)}" for w in refused)
        )
        return
    failed = move_refusals(job.file, "verify", job.shop.catalogue)
    to_do = () if job.file.data_job is not None else unfixed_kinds(job.file, job.shop.catalogue)
    with st.form(job.key("verify")):
        why = ""
        if to_do:
            names = ", ".join(literal(kind.name) for kind in to_do)
            st.markdown(
                f"Not repaired yet: {names}. Complete the final check when no more repairs will follow."
            )
        if failed:
            st.markdown("\n".join(f"- {literal(words)}" for words in failed))
            why = st.text_input(
                "Reason to go on despite the failed lines", max_chars=400, key=job.key("verify-why")
            )
        weight: Literal["primary", "secondary"] = "secondary" if to_do else "primary"
        if st.form_submit_button(MOVE_WORDS["verify"], type=weight, key=job.key("verify-go")):
            job.do(move, "verify", job.today, note=(why or "").strip())


def _place(job: JobInHand) -> None:
    now = job.file.places[-1].record.where if job.file.places else ""
    with st.form(job.key("place")):
        where = st.text_input("Location", now, max_chars=100, key=job.key("where"),
                              placeholder="shelf 3, or fireproof battery box")  # fmt: skip
        if st.form_submit_button("Save location", key=job.key("where-go")):
            if (where or "").strip() in ("", now):
                st.error("Enter the new location.")
            else:
                job.do(add_entry, Place(where.strip()))
