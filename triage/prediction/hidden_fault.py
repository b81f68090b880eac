"""Chance that a hidden fault is on a unit, given what is seen on it."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import product

import numpy as np
import xarray as xr
from scipy.special import expit

from triage.arrays import Floats
from triage.domain.catalogue import Catalogue
from triage.domain.units.unit import Finding
from triage.prediction.levels import required
from triage.priors.hidden_fault import HiddenFaultPriors, pair_label

# Beyond this many suspected findings that raise one fault, the likeliest ones are
# summed over and the rest enter by their share: 2^6 terms.
MOST_SUSPECTED = 6


def hidden_chance(
    draws: xr.Dataset,
    hidden: str,
    findings: Iterable[Finding],
    catalogue: Catalogue,
    priors: HiddenFaultPriors,
    battery_suspect: bool = False,
) -> Floats:
    """Return the chance of one hidden fault, shape (draw,).

    A suspected finding counts as there in its share of cases: the chance is
    averaged over whether each is, independently. A battery called suspect
    without a finding that says why counts as one raising finding of severity 2
    and of the average weight.

    Parameters
    ----------
    draws : of the hidden-fault model: `base` (draw, hidden_kind), `weight` (draw, pair).
    hidden : the hidden fault's kind.
    findings : what is on the unit.
    """
    log_odds = required(draws, "base", hidden)
    suspected: list[tuple[float, Floats]] = []
    raised = False
    for finding in findings:
        kind = catalogue.kinds[finding.kind]
        if hidden not in kind.raises:
            continue
        raised = True
        weight = required(draws, "weight", pair_label(finding.kind, hidden))
        added = weight * priors.severity_factor[finding.severity - 1]
        if finding.seen:
            log_odds = log_odds + added
        elif finding.chance > 0:
            suspected.append((finding.chance, added))
    if battery_suspect and not raised:
        log_odds = log_odds + _average_weight(draws, hidden, priors)
    suspected.sort(key=lambda pair: -pair[0])
    for share, added in suspected[MOST_SUSPECTED:]:
        log_odds = log_odds + share * added
    chance = np.zeros_like(log_odds)
    for there in product((True, False), repeat=len(suspected[:MOST_SUSPECTED])):
        case, shifted = 1.0, log_odds
        for present, (share, added) in zip(there, suspected, strict=False):
            case *= share if present else 1 - share
            shifted = shifted + added if present else shifted
        chance += case * expit(shifted)
    return chance


def suspected_shift(draws: xr.Dataset, priors: HiddenFaultPriors) -> Floats:
    """Log odds that a look made on suspicion adds, shape (draw,); the assumption where none was fitted."""
    if "suspected" in draws:
        shift: Floats = draws["suspected"].isel(look_reason=0).to_numpy()
        return shift
    return np.full(draws.sizes["draw"], priors.suspected.mean)


def _average_weight(draws: xr.Dataset, hidden: str, priors: HiddenFaultPriors) -> Floats:
    """Mean weight of the pairs that raise one hidden fault, shape (draw,)."""
    pairs = [str(label) for label in draws["pair"].values] if "pair" in draws.coords else []
    weights = [required(draws, "weight", label) for label in pairs if label.endswith(pair_label("", hidden))]
    if not weights:
        return np.full(draws.sizes["draw"], priors.weight.mean)
    average: Floats = np.mean(weights, axis=0)
    return average
