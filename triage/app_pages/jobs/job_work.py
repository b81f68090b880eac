"""Damage and repairs: findings, attempts, checks done, and faults found on opening."""

from __future__ import annotations

from dataclasses import replace

import streamlit as st

from triage.app_pages.jobs.job_cautions import battery_first, named_cautions, step_cautions
from triage.app_pages.jobs.job_in_hand import JobInHand
from triage.app_pages.shared.literal import literal
from triage.domain.durations import bench_time
from triage.domain.job.bench_rules import attempt_refusals, check_acts, check_refusals, repair_acts
from triage.domain.job.records import Attempt, CheckMade, FoundDamage, KnownAt, LookDepth, Outcome
from triage.workflows.jobs.intake import found_damage
from triage.workflows.jobs.work import attempt, look_inside, make_check

_OUTCOMES: dict[Outcome, str] = {
    "fixed": "repaired",
    "not-fixed": "not repaired",
    "not-attempted": "not attempted",
}
_WHY_NOT = {
    "job-stopped": "the job was stopped",
    "looked-hopeless": "no prospect of success",
    "owner-said-no": "the owner declined",
    "no-part": "no part available",
    "too-dear": "too expensive",
}

_DEPTHS: dict[LookDepth, str] = {
    "opened": "opened",
    "board-out": "board out",
    "shields-off": "shields off",
}


def work_part(job: JobInHand) -> None:
    """Draw the damage with what was tried; then the forms for work, checks, looks and new damage."""
    _damage(job)
    _attempt(job)
    _check(job)
    _look(job)
    _found(job)


def _damage(job: JobInHand) -> None:
    file, catalogue = job.file, job.shop.catalogue
    rows = []
    for kept in file.findings:
        finding = kept.record
        name = catalogue.kinds[finding.kind].name if finding.kind in catalogue.kinds else finding.kind
        seen = "seen" if finding.chance >= 1 else f"suspected, {20 * finding.chance:.0f} in 20"
        known = "" if finding.known_at == "intake" else f", found during {finding.known_at}"
        tries = [_tried(k.record, catalogue) for k in file.attempts if k.record.finding == finding.kind]
        rows.append(
            f"- **{literal(name)}**, severity {finding.severity} of 3, {seen}{known}: "
            + ("; ".join(tries) or "no attempt yet")
        )
    for made in (kept.record for kept in file.checks):
        check = catalogue.checks.get(made.check)
        words = check.result_words[0 if made.found else 1] if check else ("found" if made.found else "clear")
        rows.append(f"- Check **{literal(check.name if check else made.check)}**: {literal(words)}")
    st.markdown("\n".join(rows) or "No damage recorded.")


def _tried(tried: Attempt, catalogue) -> str:
    words = _OUTCOMES[tried.outcome]
    if tried.method in catalogue.repairs:
        words += f" ({literal(catalogue.repairs[tried.method].name.lower())})"
    if tried.why_not:
        words += f", {literal(_WHY_NOT.get(tried.why_not, tried.why_not))}"
    if tried.minutes is not None:
        words += f", {bench_time(tried.minutes)}"
    return words + (f", round {tried.round}" if tried.round else "")


def _attempt(job: JobInHand) -> None:
    """One damage worked on, with the cautions of its repair before the form."""
    file, catalogue = job.file, job.shop.catalogue
    kinds = [k.record.kind for k in file.findings if k.record.kind in catalogue.kinds]
    kinds = [slug for slug in kinds if catalogue.repairs_for(slug)]
    if not kinds:
        return
    st.subheader("Repair attempt", anchor=False)
    kind = st.pills(
        "Damage", kinds, format_func=lambda slug: catalogue.kinds[slug].name, key=job.key("try-kind")
    )
    if kind is None:
        return
    methods = catalogue.repairs_for(kind)
    method = methods[0].slug
    if len(methods) > 1:
        method = st.pills(
            "Which method?", [repair.slug for repair in methods], default=method, required=True,
            format_func=lambda slug: catalogue.repairs[slug].name, key=job.key(f"try-method-{kind}"),
        )  # fmt: skip
    repair = catalogue.repairs[method or methods[0].slug]
    named_cautions(job, [*repair.cautions, *catalogue.kinds[kind].cautions])
    battery_first(job, repair_acts(repair), repair.access)
    refused = attempt_refusals(file, Attempt(kind, "fixed", repair.slug, round=file.round), catalogue)
    if refused:
        st.markdown("You can only record *not attempted* now:\n" + _listed(refused))
    outcomes: list[Outcome] = ["not-attempted"] if refused else list(_OUTCOMES)
    with st.form(job.key(f"try-{kind}")):
        outcome = st.pills("Outcome", outcomes, format_func=_OUTCOMES.__getitem__, key=job.key("try-outcome"))
        others = [slug for slug in kinds if slug != kind and slug in repair.closes]
        also = []
        if others and not refused:
            also = st.pills(
                "The same repair also covered", others, selection_mode="multi",
                format_func=lambda slug: catalogue.kinds[slug].name, key=job.key("try-also"),
            )  # fmt: skip
        why = st.selectbox(
            "Reason, if not attempted", list(_WHY_NOT), index=None, format_func=_WHY_NOT.__getitem__,
            placeholder="choose", key=job.key("try-why"),
        )  # fmt: skip
        with st.grid(2, min_column_width=150, gap="xsmall"):
            minutes = st.number_input("Minutes", 0.0, 10_000.0, None, 5.0, "%.0f", key=job.key("try-minutes"))
            parts = st.number_input(
                f"Parts used ({file.currency})", 0.0, 1e7, None, 5.0, "%.2f", key=job.key("try-parts")
            )
        sure = st.form_submit_button("Save attempt", type="primary", key=job.key("try-go"))
    if not sure:
        return
    if outcome is None:
        st.error("Choose the outcome.")
        return
    done = outcome != "not-attempted"
    first = Attempt(
        kind, outcome, repair.slug if done else "", "" if done else why or "", minutes,
        None if parts is None else job.minor(parts), technician=job.keeper.by,
    )  # fmt: skip
    # Minutes and parts of one piece of work are counted once.
    rest = (replace(first, finding=slug, minutes=None, parts_minor=None) for slug in also if done)
    job.do(attempt, first, *rest)


def _check(job: JobInHand) -> None:
    file, catalogue = job.file, job.shop.catalogue
    if file.state not in ("considered", "taken", "in-work", "waiting", "came-back"):
        return
    st.subheader("Check", anchor=False)
    slug = st.selectbox(
        "Which check?", list(catalogue.checks), index=None, placeholder="choose",
        format_func=lambda slug: catalogue.checks[slug].name, key=job.key("check"),
    )  # fmt: skip
    if slug is None:
        return
    check = catalogue.checks[slug]
    named_cautions(job, check.cautions)
    battery_first(job, check_acts(check), check.access)
    refused = check_refusals(file, CheckMade(slug, True), catalogue)
    if refused:
        st.markdown("Not possible now:\n" + _listed(refused))
        return
    with st.form(job.key(f"check-{slug}")):
        said = st.pills(
            "Result", [True, False], key=job.key(f"check-{slug}-said"),
            format_func=lambda found: check.result_words[0 if found else 1],
        )  # fmt: skip
        minutes = st.number_input("Minutes", 0.0, 10_000.0, None, 1.0, "%.0f", key=job.key("check-minutes"))
        sure = st.form_submit_button("Save check", type="primary", key=job.key("check-go"))
    if sure and said is None:
        st.error("Choose the result.")
    elif sure and said is not None:
        job.do(make_check, CheckMade(slug, said, minutes))


def _look(job: JobInHand) -> None:
    file, catalogue = job.file, job.shop.catalogue
    if file.state not in ("taken", "in-work"):
        return
    st.subheader("Hidden faults after opening", anchor=False)
    step_cautions(job, "open")
    known = {kept.record.kind for kept in file.findings}
    hidden = [kind.slug for kind in catalogue.hidden_kinds if kind.slug not in known]
    with st.form(job.key("look")):
        found = st.multiselect(
            "Hidden faults found (none chosen: none found)", hidden,
            format_func=lambda slug: catalogue.kinds[slug].name, key=job.key("look-found"),
            placeholder="none",
        )  # fmt: skip
        with st.grid(2, min_column_width=150, gap="xsmall"):
            depth = st.segmented_control(
                "Inspected down to", list(_DEPTHS), key=job.key("look-depth"),
                format_func=lambda depth: _DEPTHS[depth],
                help="Deeper faults stay unknown. Blank: as deep as the work on this job goes.",
            )  # fmt: skip
            why = st.segmented_control(
                "Reason", [False, True], key=job.key("look-why"),
                format_func=lambda suspected: "fault suspected" if suspected else "routine",
            )  # fmt: skip
        if st.form_submit_button("Save inspection", key=job.key("look-go")):
            job.do(look_inside, tuple(found), depth, why)


def _found(job: JobInHand) -> None:
    file, catalogue = job.file, job.shop.catalogue
    known = {kept.record.kind for kept in file.findings}
    moments: list[KnownAt] = ["opening", "test"]
    st.subheader("Additional damage", anchor=False)
    with st.form(job.key("found")):
        kind = st.selectbox(
            "Damage", [slug for slug in catalogue.kinds if slug not in known], index=None,
            format_func=lambda slug: catalogue.kinds[slug].name, placeholder="type to search, or choose",
            key=job.key("found-kind"),
        )  # fmt: skip
        with st.grid(2, min_column_width=150, gap="xsmall"):
            severity = st.segmented_control(
                "Severity (3 is the worst)",
                [1, 2, 3],
                default=2,
                required=True,
                key=job.key("found-severity"),
            )
            known_at = st.segmented_control(
                "Found during", moments, default="opening", required=True, key=job.key("found-at")
            )
        if st.form_submit_button("Save damage", key=job.key("found-go")):
            if kind is None:
                st.error("Choose the damage.")
            else:
                job.do(found_damage, FoundDamage(kind, severity or 2, known_at=known_at or "opening"))


def _listed(refusals: tuple[str, ...]) -> str:
    return "\n".join(f"- {literal(words)}" for words in refusals)
