"""The page of the model check: whether the fit can be trusted, a new fit, and earlier ones."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pandas as pd
import streamlit as st

from triage.app_pages.fitting.fit_learning import earlier_fits, learn_section
from triage.app_pages.shared.literal import literal
from triage.app_pages.shared.next_step import next_step
from triage.app_pages.shared.page_head import page_head
from triage.app_pages.shared.shop_counter import shop_files
from triage.app_pages.shared.shop_record import shop_record
from triage.reports.charts.fit import chart_words, checks_chart, place_words
from triage.reports.wording.fit import check_figures, p_value_words
from triage.workflows.fitting.model_check import CheckedModel, ModelCheck, RejectedFit, model_check
from triage.workflows.shop.learned_chances import learned_folder, where_to_learn, why_not_used
from triage.workflows.shop.shop import Shop

_ICON = {"yes": "check_circle", "with care": "error", "no": "cancel"}
_HOW = (
    "How we get this. **Diagnostics**: several chains sample each model independently, and published limits "
    "(named in the tables) say how well they must agree. **Posterior predictive check**: 500 records of the "
    "size of yours are simulated from the fit and compared with your record (Gelman, Meng and Stern 1996). "
    "If the record is far outside, the model leaves something out, even where its chains agree. "
    "**Simulation-based calibration** is done once for each model, not for your record: in simulated shops "
    "whose true values are known, do the fit's credible intervals hold them as often as stated (Talts et al. "
    "2018)?"
)


_TERMS = (
    "**R-hat**: how well the sampling chains agree (1 is best). **Effective sample size**: how many "
    "independent draws the fit is worth. **Pareto k**: how strongly single jobs influence the fit. "
    "**90 % range**: holds 9 in 10 records simulated from the fit (posterior predictive check)."
)


def page() -> None:
    """Draw the verdict, each model, rejected fits, the button for a new fit, and earlier fits."""
    files = shop_files()
    shop = page_head("Model check", "Can the fit behind your chances be trusted?")
    if shop is None:
        if files.posterior is not None:
            earlier_fits(files.posterior, files)
        return
    ledger, _ = shop_record()
    checked = model_check(shop, ledger, where_to_learn(files), date.today())
    _verdict(checked, shop)
    _which(files.posterior, why_not_used(files))
    st.caption(_TERMS)
    for model in sorted(checked.models, key=lambda one: ("no", "with care", "yes").index(one.trust)):
        _model(model)
    for fit in checked.rejected:
        _rejected(fit)
    st.caption(_HOW)
    learn_section(shop, files, len(checked.rejected))
    if files.posterior is not None:
        earlier_fits(files.posterior, files)


def _verdict(checked: ModelCheck, shop: Shop) -> None:
    draw = {"yes": st.success, "with care": st.warning, "no": st.error}[checked.trust]
    draw(literal(checked.verdict), icon=f":material/{_ICON[checked.trust]}:")
    told = checked.manifest
    facts = [literal(told.label)] if told.label else []
    facts.append(f"{told.jobs:,} past jobs up to {told.as_of}" if told.as_of else "No past job")
    if told.stored_at:
        facts.append(f"{'updated' if told.update else 'fitted'} on {told.stored_at[:10]}")
    fading = told.models["success"].fading if "success" in told.models else None
    if fading is not None and fading.kinds is None:
        facts.append(f"a job counts half after {fading.half_life_days:,.0f} days")
    st.caption(f"{', '.join(facts)}. {literal(checked.standing.words)}".strip())
    if checked.gaps:
        named = (
            (shop.catalogue.kinds[kind].name if kind in shop.catalogue.kinds else kind, gap)
            for kind, gap in checked.gaps[:6]
        )
        kinds = ", ".join(f"{literal(name)} ({-gap * 100:+.1f} percentage points)" for name, gap in named)
        st.markdown(
            "Repairs not attempted for lack of a prospect of success do not count as failures. If they did, "
            f"these chances would change by more than 10 percentage points: {kinds}."
        )


def _which(own: Path | None, why: str) -> None:
    """Say whose chances the pages use."""
    if own is None:
        st.markdown(f"The pages use the fit of the invented demo shop: {why}.")
    elif own == learned_folder():
        st.markdown(f"The pages use the fit to this record, saved in {literal(str(own))}.")
    else:
        st.markdown(f"The pages use the fit this server was started with, in {literal(str(own))}.")


def _model(model: CheckedModel) -> None:
    name = model.name[0].upper() + model.name[1:]
    with st.container(border=True):
        st.markdown(f":material/{_ICON[model.trust]}: **{name}** {literal(model.words)}.")
        if model.belief_only:
            st.caption("Its figures are the assumptions (prior), unchanged. See **Assumptions**.")
            if model.refused:
                with st.expander("Diagnostics of the fit that failed"):
                    _figures(model)
            return
        st.caption(f"Simulation-based calibration: {literal(model.calibration.words)}")
        with st.expander("Diagnostics and posterior predictive check"):
            _figures(model)
            _checks(model)


def _figures(model: CheckedModel) -> None:
    if not model.figures:
        st.markdown("The fit ended before there were any diagnostics.")
        return
    rows = [
        {
            "diagnostic": literal(figure.name),
            "value": f"{literal(figure.value)}{'' if figure.good else ' (limit exceeded)'}",
            "limit": literal(figure.limit),
            "what it means": literal(figure.means),
            "source of the limit": literal(figure.source),
        }
        for figure in model.figures
    ]
    st.table(pd.DataFrame(rows).set_index("diagnostic"))


def _checks(model: CheckedModel) -> None:
    if model.checks is None:
        st.caption("This fit has no posterior predictive check. Run a new fit to see one.")
        return
    if not model.checks:
        return
    words = chart_words(model.checks)
    st.markdown(f"**Posterior predictive check.** {literal(words[:1].upper() + words[1:])}")
    st.altair_chart(checks_chart(model.checks), width="stretch", alt=words)
    st.caption(
        "Bar: the 90 % range of records simulated from the fit. Point: your record. A square is just "
        "outside, a diamond far outside, as fewer than 1 in 100 simulated records are. p-value: share of "
        "simulated records at least as far out."
    )
    rows = []
    for check in model.checks:
        record, expected = check_figures(check)
        rows.append(
            {
                "figure of the record": check.quantity,
                "record": record,
                "90 % range of the fit": expected,
                "record is": place_words(check),
                "p-value": p_value_words(check),
            }
        )
    st.dataframe(pd.DataFrame(rows), hide_index=True, alt=f"Posterior predictive check: {model.name}")


def _rejected(fit: RejectedFit) -> None:
    with st.container(border=True):
        when = f" of {fit.stored_at[:16].replace('T', ' ')} UTC" if fit.stored_at else ""
        kept = f"{fit.jobs:,} jobs, saved in {literal(fit.folder)}"
        what = "A fit" if fit.whole else "Part of a fit"
        st.markdown(f":material/block: **{what}{when} was not used**: {kept}.")
        for name, why in fit.failures:
            st.markdown(f"- {literal(name.capitalize())}: {literal(why)}")
        st.caption(f"What to do: {literal(fit.advice)}")


if __name__ == "__main__":
    page()
    next_step("model_check")
