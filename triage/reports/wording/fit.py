"""What is said of a fit: names of its models, and a figure of the record beside what the fit expects."""

from __future__ import annotations

from triage.posterior.manifest import PredictiveCheck

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
    "success": "Chances, and with them every verdict, may be off for such repairs",
    "hidden_fault": "Plans may count on too many or too few hidden faults on such units",
    "bench_minutes": "The cost of work, and the ready date, may be off for such attempts",
    "parts_cost": "Averages hold, but plans show too little or too much of the risk in parts",
    "comeback": "The cost of comebacks may be off for such jobs",
    "sale_price": "What a unit will fetch may be off for such sales",
}


def model_name(model: str) -> str:
    """A model's name on screens; its own where it is new."""
    return MODEL_NAMES.get(model, model.replace("_", " "))


def new_jobs_words(added: int, changed: int) -> str:
    """Jobs that are new, and those of which more is known, in words."""
    new = "1 new job" if added == 1 else f"{added:,} new jobs"
    return f"{new} and {changed:,} changed one{'' if changed == 1 else 's'}"


def check_words(check: PredictiveCheck) -> str:
    """The record beside what the fit expects, in one sentence.

    For example "the record's 41 of 60 lies inside what the fit expects (35 to 47)".
    """
    record, expected = check_figures(check)
    if check.inside:
        where = "lies inside"
    elif check.fails:
        where = "lies far outside"
    else:
        where = "lies just outside"
    by_luck = "" if check.inside or check.fails else ", as one figure in ten does by luck"
    return f"the record's {record} {where} what the fit expects ({expected}){by_luck}"


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


def luck_words(check: PredictiveCheck) -> str:
    """How many of a hundred replicated records lie as far out as the real one, on either side."""
    share = 2 * min(check.tail, 1 - check.tail)
    return "fewer than 1" if share < 0.01 else f"{min(share, 1.0) * 100:.0f}"
