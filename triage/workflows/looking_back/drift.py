"""Whether a kind's chances have stopped holding lately, and which fit to offer if so."""

from __future__ import annotations

from dataclasses import dataclass

from triage.domain.history import History
from triage.review.drift.forgetting import DiscountChoice, choose_half_life
from triage.review.drift.offer import DriftOffer, drift_offer
from triage.review.drift.watch import DriftWatch, watch_drift
from triage.workflows.shop.shop import Shop


@dataclass(frozen=True)
class DriftNow:
    """What the watch saw, which way to forget was chosen (None where nothing drifts), and the offer."""

    watch: DriftWatch
    choice: DiscountChoice | None
    offer: DriftOffer


def drift_now(history: History, shop: Shop) -> DriftNow:
    """Watch past jobs for drift up to their last day: against assumptions where the fit failed its checks."""
    fitted = None if shop.posterior.manifest.failed else shop.posterior
    watch = watch_drift(history, fitted, shop.catalogue, shop.priors)
    choice = None
    if watch.alarms:
        choice = choose_half_life(history, shop.catalogue, shop.priors, watch.alarms)
    return DriftNow(watch, choice, drift_offer(watch.alarms, choice))
