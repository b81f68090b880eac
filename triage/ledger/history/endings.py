"""Endings, and looks inside, that a job of a file cannot have had."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from triage.domain.history import WRITTEN_OFF
from triage.errors import Fault

# What is told of a stripped device alone, and what only together.
_OF_STRIPPING = ("parts_value", "strip_minutes", "selling_fees", "parts_margin")
_TOGETHER = ("sold", "selling_fees", "parts_margin")


def endings_refused(
    first: Mapping[tuple[str, str], tuple[Any, int | None]], name: str, shown: Mapping[str, str]
) -> Iterator[Fault]:
    """Yield endings that a job cannot have had.

    first : by job and column, the value of the job and its line.
    """
    for (job, column), (ending, line) in first.items():
        if column in _OF_STRIPPING and first.get((job, "ending"), ("",))[0] != "stripped":
            wrong = f"{ending:g} is given for a device that was not stripped"
            yield Fault(name, line, shown.get(column, column), wrong, "blank, or the ending stripped")
        elif column in _TOGETHER[1:]:
            others = [other for other in _TOGETHER if (job, other) not in first]
            sold = first.get((job, "sold"), (0.0, None))[0]
            if others:
                wrong = f"{ending:g} is given, and {' and '.join(others)} is blank"
                yield Fault(
                    name, line, shown.get(column, column), wrong, "all three or none: " + ", ".join(_TOGETHER)
                )
            elif column == "parts_margin" and sold is not None and ending > sold:
                wrong = f"{ending:g} is more than the parts brought, {sold:g}"
                yield Fault(name, line, shown.get(column, column), wrong, "at most what is in sold")
        if column == "data_minutes" and (job, "data_outcome") not in first:
            wrong = f"{ending:g} is given for a job whose data_outcome is blank"
            yield Fault(name, line, shown.get(column, column), wrong, "blank, or the outcome in data_outcome")
        if column == "ending":
            route = first.get((job, "route"), ("", None))[0]
            back = (job, "comeback_date") in first or (job, "comeback_kind") in first
            if refused := _ending_refused(ending, route, back):
                yield Fault(name, line, shown.get("ending", "ending"), *refused)


def looks_refused(
    first: Mapping[tuple[str, str], tuple[Any, int | None]], name: str, shown: Mapping[str, str]
) -> Iterator[Fault]:
    """Yield depths of, and reasons for, a look inside that was not made; the parameters are as above."""
    for (job, column), (said, line) in first.items():
        if column in ("look_depth", "look_reason") and (job, "hidden_faults") not in first:
            wrong = f"{said!r} is given for a job whose hidden_faults is blank"
            allowed = "blank, or what the look found in hidden_faults (none for nothing)"
            yield Fault(name, line, shown.get(column, column), wrong, allowed)


def _ending_refused(ending: str, route: str, back: bool) -> tuple[str, str] | None:
    """What is wrong with the ending of a job, and what is allowed; None where it can be."""
    wrong = f"{ending!r} cannot be"
    if route == "bought" and ending.startswith("returned"):
        return f"{wrong} of a device that was bought", "sold, stripped or disposed"
    if route == "walk-in" and ending == "stripped":
        return f"{wrong} of an owner's device", "another ending, or the route bought"
    if ending in WRITTEN_OFF and back:
        return f"{wrong} of a device that came back", "how it ended the first time"
    return None
