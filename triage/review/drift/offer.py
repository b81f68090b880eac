"""A drift alarm in words, always with what to do about it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from triage.review.drift.detector import Alarm
from triage.review.drift.forgetting import DiscountChoice

_LOOK = (
    "First look for what changed: parts supplier, method, technician or devices. "
    "Until you know, use the recent outcomes, not the stated chance."
)


@dataclass(frozen=True)
class DriftOffer:
    """Alarms in words, what to do, and the fit to offer.

    alarms : one sentence a kind. what_to_do : sentences; "" where nothing drifts.
    half_life, half_life_kinds : of the fit that forgets, as `workflows.fit.fit_history`
        takes them; None where forgetting does not score better.
    """

    alarms: tuple[str, ...]
    what_to_do: str
    half_life: float | None = None
    half_life_kinds: tuple[str, ...] | None = None


def drift_offer(alarms: Sequence[Alarm], choice: DiscountChoice | None) -> DriftOffer:
    """Join alarms with what to do.

    Parameters
    ----------
    choice : of `discount.choose_half_life` for these alarms; None where it was not asked.
    """
    if not alarms:
        return DriftOffer((), "")
    said = tuple(f"{alarm.name}: {alarm.words}." for alarm in alarms)
    if choice is None or choice.discount is None:
        tail = (
            ""
            if choice is None
            else f" {choice.words[:1].upper()}{choice.words[1:]}, so no such fit is offered."
        )
        return DriftOffer(said, f"{_LOOK} Then fit again.{tail}")
    kinds = choice.kinds or None
    todo = f"{_LOOK} Then fit again with forgetting: {choice.words}."
    return DriftOffer(said, todo, choice.discount.half_life, kinds)
