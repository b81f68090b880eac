"""How often a check is right, from jobs of which some never showed whether it was.

Devices are opened, and the truth learned, mostly where the check read positive.
Counting only those makes a check look better at finding and worse at clearing
than it is. With chance `pi` that the fault is there on a device that is
checked, sensitivity `Se` and specificity `Sp`, a job whose truth is known
contributes its own term; one whose truth is not known contributes

    pi Se + (1 - pi) (1 - Sp)    where it read positive,
    pi (1 - Se) + (1 - pi) Sp    where it read clear.

This holds where verification depends on the result alone. `Se` and `Sp` start
from the assumption, each a Beta; `pi` starts uniform. Where only positives are
opened, the record tells `pi Se` and no more, and `Se` stays as wide as its
assumption.

The posterior is computed exactly: i of the unverified positives and j of the
unverified clears had the fault; given i and j all three are Beta, so it is a
mixture of Betas over (i, j).

References
----------
Begg, C. B. and Greenes, R. A. 1983, "Assessment of diagnostic tests when
disease verification is subject to selection bias", Biometrics 39:207.
Joseph, L., Gyorkos, T. W. and Coupal, L. 1995, "Bayesian estimation of disease
prevalence and the parameters of diagnostic tests in the absence of a gold
standard", American Journal of Epidemiology 141:263 (the same mixture, by Gibbs
sampling; from memory).
"""

from __future__ import annotations

import numpy as np
from scipy.special import betaln, gammaln

from triage.arrays import Floats
from triage.domain.shop.check_record import CheckRecord

# Beyond this many unverified jobs of one result, every second, third, ... number of them stands for its
# neighbours: the weights are smooth over so many.
_MOST_SPLITS = 500


def accuracy_draws(
    record: CheckRecord,
    sensitivity: float,
    specificity: float,
    jobs: float,
    count: int,
    rng: np.random.Generator,
) -> tuple[Floats, Floats]:
    """Independent draws of sensitivity and specificity, each of shape (count,), from assumption and record.

    Parameters
    ----------
    sensitivity, specificity, jobs : the assumption before any record; each is
        worth `jobs` jobs, those with the fault for one and those without for the other.
    """
    positive, negative = _numbers(record.positive_unseen), _numbers(record.negative_unseen)
    i, j = positive[:, None], negative[None, :]
    found = jobs * sensitivity + record.positive_present + i
    missed = jobs * (1 - sensitivity) + record.negative_present + j
    alarmed = jobs * (1 - specificity) + record.positive_absent + record.positive_unseen - i
    cleared = jobs * specificity + record.negative_absent + record.negative_unseen - j
    present = 1.0 + record.positive_present + record.negative_present + i + j
    log_weight = (
        _log_choices(record.positive_unseen, i)
        + _log_choices(record.negative_unseen, j)
        + betaln(found, missed)
        + betaln(alarmed, cleared)
        # `pi` starts as Beta(1, 1).
        + betaln(present, 2.0 + record.jobs - present)
    )
    weight = np.exp(log_weight - log_weight.max()).ravel()
    rows, columns = np.unravel_index(
        rng.choice(weight.size, count, p=weight / weight.sum()), log_weight.shape
    )
    return (
        rng.beta(found[rows, 0], missed[0, columns]),
        rng.beta(cleared[0, columns], alarmed[rows, 0]),
    )


def _numbers(unseen: int) -> Floats:
    """How many of the unverified jobs may have had the fault."""
    numbers: Floats = np.arange(0.0, unseen + 1, unseen // _MOST_SPLITS + 1)
    return numbers


def _log_choices(of: int, some: Floats) -> Floats:
    choices: Floats = gammaln(of + 1) - gammaln(some + 1) - gammaln(of - some + 1)
    return choices
