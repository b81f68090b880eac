"""A fit in words: names of its models, and a figure of the record beside what the fit expects."""

from __future__ import annotations

from collections.abc import Sequence

from triage.posterior.manifest import Manifest, PredictiveCheck

MODEL_NAMES = {
    "success": "chance of repair",
    "hidden_fault": "hidden faults",
    "bench_minutes": "bench minutes",
    "parts_cost": "parts cost",
    "comeback": "comebacks",
    "sale_price": "sale price",
}
# What a plan gets wrong while a model does not describe the record.
AT_STAKE = {
    "success": "Chances and verdicts may be wrong for such repairs",
    "hidden_fault": "Plans may expect too many or too few hidden faults on such devices",
    "bench_minutes": "Labour cost and ready date may be wrong for such attempts",
    "parts_cost": "Average parts costs hold, but their risk may be too high or too low",
    "comeback": "Comeback costs may be wrong for such jobs",
    "sale_price": "Resale values may be wrong for such sales",
}


def model_name(model: str) -> str:
    """A model's name on screens; its own where it is new."""
    return MODEL_NAMES.get(model, model.replace("_", " "))


def listed(names: Sequence[str]) -> str:
    """Names in a row, with "and" before the last."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def assumed_words(manifest: Manifest) -> str:
    """Which models of a fit use assumptions only; "" where none or all do.

    For example "Assumptions only for bench minutes (the fit failed its checks); sale price."
    """
    assumed = manifest.belief_only
    if not assumed or len(assumed) == len(manifest.models):
        return ""
    refused = [model_name(name) for name in manifest.refused]
    others = [model_name(name) for name in assumed if name not in manifest.refused]
    said = [f"{listed(refused)} (the fit failed its checks)"] if refused else []
    said += [listed(others)] if others else []
    return f"Assumptions only for {'; '.join(said)}."


def new_jobs_words(added: int, changed: int) -> str:
    """Jobs that are new, and those of which more is known, in words."""
    new = "1 new job" if added == 1 else f"{added:,} new jobs"
    return f"{new} and {changed:,} changed one{'' if changed == 1 else 's'}"


def check_words(check: PredictiveCheck) -> str:
    """The record beside what the fit expects, in one sentence.

    For example "the record's 41 of 60 is inside the fit's 90 % range (35 to 47)".
    """
    record, expected = check_figures(check)
    if check.inside:
        where = "is inside"
    elif check.fails:
        where = "is far outside"
    else:
        where = "is just outside"
    by_chance = "" if check.inside or check.fails else ", as chance alone does to one figure in ten"
    return f"the record's {record} {where} the fit's 90 % range ({expected}){by_chance}"


def check_figures(check: PredictiveCheck) -> tuple[str, str]:
    """The record's figure, and the 90 % range that the fit expects, as text."""
    if check.unit == "count":
        return (
            f"{check.observed:,.0f} of {check.total:,.0f}",
            f"{check.low:,.0f} to {check.high:,.0f}",
        )
    if check.unit == "minutes":
        return f"{check.observed:,.0f} min", f"{check.low:,.0f} to {check.high:,.0f}"
    return f"{check.observed:.2f}", f"{check.low:.2f} to {check.high:.2f}"


def p_value_words(check: PredictiveCheck) -> str:
    """Two-sided posterior predictive p-value: the share of replicated records as far out as the real one."""
    share = 2 * min(check.tail, 1 - check.tail)
    return "below 0.01" if share < 0.01 else f"{min(share, 1.0):.2f}"
