"""Saved sets: which there are and why, how two of them differ, and which forecasts better."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from triage.app_pages.assumptions.assumption_keeping import go_back, sets_here, when_it_counts
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.long_work_panel import long_work_panel
from triage.app_pages.shared.shop_counter import shop_files
from triage.priors.saved_sets import differences
from triage.priors.success import KindBelief
from triage.reports.wording.assumption import double_use_words, place_words, reason_lines
from triage.reports.wording.calibration import LOG_JOB
from triage.review.forecasts.set_comparison import Comparison, comparison_from
from triage.workflows.shop.own_sets import OwnSet, chosen_set
from triage.workflows.shop.shop import Shop
from triage.workflows.shop.shop_history import ShopHistory

_MOST_COMPARED = 4
_DIFFERENT, _EVERY = "where it differs from the one in use", "every kind"

_HOW = """
- The past jobs are divided by day of intake: the first half for the first fit, the rest in four blocks. For
  each set and block, a fit uses what was known the day before the block, and forecasts the block. No set is
  scored on jobs that any of the sets was tuned on.
- **Log loss per job** is minus the logarithm of the chance given to all outcomes of a job together; lower is
  better. An improvement of .02 means that the outcomes were given 2 % more chance on average. The 90 %
  interval is from bootstrap samples of the jobs. If it contains 0, the difference is within chance.
- A fit that fails its checks is reported and not used. The previous fit, or assumptions only, replaces it.
"""


def sets_part(shop: Shop, found: ShopHistory | None) -> None:
    """Draw the list, one set's reasons, two sets' differences, and the back-test of sets."""
    sets = sets_here(shop)
    readable = {item.words: item for item in sets if not item.problem}
    for item in sets:
        if item.problem:
            st.error(f"The set {literal(item.name)} cannot be read.\n\n{literal(item.problem)}")
    base = sets[0]
    st.dataframe(
        pd.DataFrame([_line(item, base) for item in readable.values()]), hide_index=True,
        alt="Sets of assumptions: what each changes and what it was tuned on",
    )  # fmt: skip
    if len(sets) == 1:
        st.info(
            "You have no set of your own yet. Save one under **State an assumption** or **Propose from past "
            "jobs**; it is then listed here."
        )
    _reasons(readable, shop)
    if len(readable) < 2:
        return
    _differences(readable)
    _compare(readable, found)


def _line(item: OwnSet, base: OwnSet) -> dict[str, str]:
    changed = len(differences(base.priors, item.priors))
    values = f"in {changed} value{'' if changed == 1 else 's'}"
    tuned = item.priors.tuned
    return {
        "set": item.words,
        "kinds stated": str(len(item.priors.success.kind)),
        "differs from the one in use": "" if item.in_use else values,
        "tuned on": f"{len(tuned.jobs):,} jobs up to {tuned.until}" if tuned.jobs else "no job",
        "can be fitted to": f"jobs from {tuned.first_free_day} on" if tuned.jobs else "any job",
    }


def _reasons(sets: dict[str, OwnSet], shop: Shop) -> None:
    with st.expander(
        "Assumptions of a set, with reasons", key="assumption-reasons", on_change="rerun"
    ) as part:
        if not part.open:
            return
        item = sets[st.selectbox("Set", list(sets), key="assumption-reasons-set") or next(iter(sets))]
        if words := double_use_words(item.priors.tuned):
            st.caption(literal(words))
        if item.folder is not None and not item.in_use:
            when_it_counts(item.folder)
        elif item.folder is not None and item.folder == chosen_set():
            go_back()
        names = {slug: kind.name for slug, kind in shop.catalogue.kinds.items()}
        lines = [f"- {literal(line)}" for line in reason_lines(_stated_in(item, sets, shop), names)]
        st.markdown("\n".join(lines) or "No assumption is stated for these kinds. Each uses the default.")


def _stated_in(item: OwnSet, sets: dict[str, OwnSet], shop: Shop) -> list[KindBelief]:
    """Assumptions of a set that are asked for: where it differs from the one in use, or of a family."""
    in_use = next(iter(sets.values())).priors.success
    families = {family.slug: family.name for family in shop.catalogue.family}
    which = st.selectbox(
        "Which kinds?", [*([] if item.in_use else [_DIFFERENT]), *families, _EVERY],
        key=f"assumption-reasons-of-{item.name}", format_func=lambda name: families.get(name, name),
    )  # fmt: skip

    def asked(belief: KindBelief) -> bool:
        if which == _DIFFERENT:
            return in_use.beliefs.get(belief.slug) != belief
        return which in (_EVERY, shop.catalogue.kinds[belief.slug].family)

    return [belief for belief in item.priors.success.kind if asked(belief)]


def _differences(sets: dict[str, OwnSet]) -> None:
    st.header("Differences between two sets", anchor=False)
    names = list(sets)
    with st.grid(2, min_column_width=150, gap="xsmall"):
        one = st.selectbox("From", names, 0, key="assumption-from-set")
        other = st.selectbox("To", names, 1, key="assumption-to-set")
    found = differences(sets[one].priors, sets[other].priors)
    if not found:
        st.caption("The two sets are the same.")
        return
    rows = [
        {"what": place_words(item), "from": _said(item.before), "to": _said(item.after)} for item in found
    ]
    st.dataframe(pd.DataFrame(rows), hide_index=True, alt="What differs between the two sets")


def _said(value: object) -> str:
    return "" if value is None else str(value)


def _compare(sets: dict[str, OwnSet], found: ShopHistory | None) -> None:
    st.header("Back-test of sets", anchor=False)
    if found is None:
        return
    last = found.history.jobs["date"].max().date()
    free = {name: item.priors.tuned.first_free_day for name, item in sets.items()}
    open_to = [name for name, day in free.items() if day is None or day <= last]
    for name in (name for name in sets if name not in open_to):
        st.caption(
            f"{literal(name)} cannot be compared yet. It was tuned on earlier jobs, so the record needs jobs "
            f"taken in from {free[name]} on."
        )
    chosen = st.multiselect(
        "Sets to compare (the others are compared with the first)", open_to,
        open_to[:2], max_selections=_MOST_COMPARED, key="assumption-compare-sets",
    )  # fmt: skip
    if len(chosen) < 2:
        st.caption("Choose two sets or more.")
        return
    files = shop_files()
    work = long_work_panel(
        "compare",
        {
            "record": found.arguments,
            "sets": {name: _folder(sets[name]) for name in chosen},
            "catalogue": str(files.catalogue.resolve()) if files.catalogue else None,
            "settings": str(files.settings.resolve()) if files.settings else None,
        },
        "Compare sets on later jobs",
        "For four dates in the past, each set is fitted to the jobs known then and forecasts the next ones. "
        "This takes some minutes a set.",
    )
    if work is not None and work.result is not None:
        _compared(comparison_from(work.result))
    with st.expander("How we get this", type="compact"):
        st.markdown(_HOW)


def _folder(item: OwnSet) -> str | None:
    return str(item.folder.resolve()) if item.folder else None


def _compared(found: Comparison) -> None:
    st.markdown(f"First set: **{literal(found.sets[0].name)}**. {literal(found.words)}.")
    lines = []
    for item in found.sets:
        words = f"{LOG_JOB} {item.joint_log:.3f}"
        if item.gain is not None:
            words += (
                f", improvement on the first {item.gain:+.3f} (90 % {item.low:+.3f} to {item.high:+.3f}): "
            )
            words += f"it **{item.words}**"
        words += f". {item.failed_words or f'All {item.fits} fits passed'}."
        lines.append(f"- **{literal(item.name)}**: {words}")
    st.markdown("\n".join(lines))
