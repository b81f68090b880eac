"""The answer for a lot: the choice and its risk, the devices, the whole, the unreadable rows."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from triage.app_pages.shared.cautions import show_cautions
from triage.app_pages.shared.literal import literal
from triage.domain.catalogue import Catalogue
from triage.lot_selection.lot_choice import LotChoice, UnitLine
from triage.policy.answer.assessment import Verdict
from triage.reports.charts.answer import dotplot
from triage.reports.wording.lot import (
    bid_list,
    choice_words,
    limited_words,
    loses_in_20,
    more_words,
    priced_words,
    risk_words,
    waiting_words,
    whole_words,
)
from triage.reports.wording.verdict import VERDICT_WORDS

_TAKEN = "taken"
_SHOWN: dict[str, str] = {
    _TAKEN: "chosen",
    **{v: VERDICT_WORDS[v] for v in (Verdict.TAKE, Verdict.PARTS, Verdict.CHECK, Verdict.LEAVE)},
}
_MOST_FAULTS = 50
# What buying a lot of wrecks always brings with it.
_CAUTIONS = ("ownership-first", "damaged-cell", "cell-transport")


def show_choice(choice: LotChoice, catalogue: Catalogue) -> None:
    """Draw the choice: its sentence, its dots, what more would bring, then the devices."""
    st.header(literal(choice_words(choice)), anchor=False)
    if choice.taken:
        words = risk_words(choice)
        st.altair_chart(
            dotplot(choice.risk.dots, choice.currency), width="content", theme=None, key="lot-dots", alt=words
        )
        st.caption(literal(words))
    lines = (*more_words(choice), *waiting_words(choice), *priced_words(choice))
    st.markdown("\n".join(f"- {literal(line)}" for line in lines))
    show_cautions(
        tuple(catalogue.cautions[slug] for slug in _CAUTIONS if slug in catalogue.cautions),
        dict.fromkeys(_CAUTIONS),
    )
    _units(choice)


def _units(choice: LotChoice) -> None:
    """The devices by verdict, and the bid list."""
    shown = st.segmented_control(
        "Show", list(_SHOWN), default=_TAKEN if choice.taken else Verdict.TAKE, key="lot-shown",
        required=True, format_func=lambda name: f"{_SHOWN[name]} ({len(_of(choice, name))})",
    )  # fmt: skip
    lines = _of(choice, shown or _TAKEN)
    if lines:
        st.dataframe(
            pd.DataFrame([_row(line) for line in lines]),
            hide_index=True,
            alt=f"Devices: {_SHOWN[shown or _TAKEN]}",
            column_config={
                "device": st.column_config.TextColumn(pinned=True),
                **{
                    name: st.column_config.NumberColumn(format="%.0f")
                    for name in (
                        "asking price",
                        "highest price",
                        "expected margin",
                        "minutes",
                        "losses in 20",
                    )
                },
            },
        )
        st.caption(
            literal(
                f"Money in {choice.currency}. The expected margin is at the asking price. Above the "
                "highest price, your rule no longer holds; limited by says which part of it. In losses "
                "in 20, 0 is rounded: fewer than 1."
            )
        )
    else:
        st.caption("No devices.")
    st.download_button(
        "Download the bid list",
        data=lambda: bid_list(choice).encode("utf-8"),
        file_name="bid-list.csv",
        mime="text/csv",
        icon=":material/download:",
        key="lot-bids",
        on_click="ignore",
    )


def _of(choice: LotChoice, shown: str) -> list[UnitLine]:
    lines = [line for line in choice.lines if (line.taken if shown == _TAKEN else line.verdict == shown)]
    return sorted(lines, key=lambda line: -(line.margin if line.margin is not None else -1e9))


def _row(line: UnitLine) -> dict[str, object]:
    loses = loses_in_20(line)
    return {
        "device": line.label,
        "highest price": line.highest_bid,
        "limited by": limited_words(line.limited_by),
        "asking price": line.price,
        "expected margin": line.margin,
        "losses in 20": float(loses) if loses else None,
        "minutes": line.minutes,
        "price class": line.tier,
        "resale value by": line.priced_by,
        "verdict": VERDICT_WORDS[line.verdict],
    }


def show_whole(choice: LotChoice) -> None:
    """The lot as one purchase."""
    if choice.whole is None:
        return
    st.header("Whole lot as one purchase", anchor=False)
    first, *rest = whole_words(choice.whole, choice)
    st.markdown(f"**{literal(first)}**")
    st.markdown("\n".join(f"- {literal(line)}" for line in rest))
    st.caption("The bid list says what to do with each device in that case.")


def show_bad_rows(choice: LotChoice) -> None:
    """Rows that could not be read, what is wrong with each, and what is allowed."""
    if not choice.bad_rows:
        return
    faults = [(row, fault) for row in choice.bad_rows for fault in row.faults]
    with st.expander(f"Unreadable rows: {len(choice.bad_rows)}", icon=":material/warning:"):
        st.markdown("Correct these rows in the file and assess it again. The other rows are assessed.")
        lines = [
            f"- line {row.line}, **{literal(row.label or 'no label')}**, {literal(fault.field)}: "
            f"{literal(fault.wrong)}" + (f"; allowed: {literal(fault.allowed)}" if fault.allowed else "")
            for row, fault in faults[:_MOST_FAULTS]
        ]
        if len(faults) > _MOST_FAULTS:
            lines.append(f"- and {len(faults) - _MOST_FAULTS} more")
        st.markdown("\n".join(lines))
