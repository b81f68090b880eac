"""How often a check is right, from jobs of which some were never opened to find out.

Units are opened, and the truth learned, mostly where the check read positive.
Counting only those makes a check look better at finding and worse at clearing
than it is. Under verification that depends on the reading alone, the record
splits into three independent parts: how often the check reads positive, and
how often the fault is there behind each reading. Each is a Beta given its
counts, and sensitivity and specificity follow by Bayes' rule.

References
----------
Begg, C. B. and Greenes, R. A. 1983, "Assessment of diagnostic tests when
disease verification is subject to selection bias", Biometrics 39:207.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, TypeVar

import numpy as np
from pydantic import Field

Share = TypeVar("Share", float, np.ndarray)
Count = Annotated[int, Field(ge=0, strict=True)]


@dataclass(frozen=True)
class CheckRecord:
    """Counts of past jobs with one check, by its reading and what was found.

    positive_present, positive_absent, negative_present, negative_absent : opened
        jobs. positive_unseen, negative_unseen : jobs never opened.
    """

    positive_present: Count = 0
    positive_absent: Count = 0
    negative_present: Count = 0
    negative_absent: Count = 0
    positive_unseen: Count = 0
    negative_unseen: Count = 0


def naive_accuracy(record: CheckRecord) -> tuple[float, float]:
    """Sensitivity and specificity among opened jobs only: biased, for comparison."""
    present = record.positive_present + record.negative_present
    absent = record.positive_absent + record.negative_absent
    return record.positive_present / present, record.negative_absent / absent


def corrected_accuracy(record: CheckRecord) -> tuple[float, float]:
    """Sensitivity and specificity over all jobs (Begg & Greenes' estimate)."""
    positive = record.positive_present + record.positive_absent
    negative = record.negative_present + record.negative_absent
    return _by_bayes(
        (positive + record.positive_unseen) / _all(record),
        record.positive_present / positive,
        record.negative_present / negative,
    )


def accuracy_draws(
    record: CheckRecord,
    sensitivity: float,
    specificity: float,
    jobs: float,
    count: int,
    rng: np.random.Generator,
) -> tuple[np.ndarray, np.ndarray]:
    """Draws of sensitivity and specificity, each of shape (count,), from assumption and record.

    Parameters
    ----------
    sensitivity, specificity, jobs : the assumption before any record; it is worth
        `jobs` jobs with the fault and as many without.

    Notes
    -----
    The three Betas are one Dirichlet over the four cells, cut at the reading:
    without a record, and with one in which every job was opened, sensitivity
    and specificity are Beta distributed.
    """
    believed = (jobs * sensitivity, jobs * (1 - specificity), jobs * (1 - sensitivity), jobs * specificity)
    a, b, c, d = (
        seen + prior
        for seen, prior in zip(
            (
                record.positive_present,
                record.positive_absent,
                record.negative_present,
                record.negative_absent,
            ),
            believed,
            strict=True,
        )
    )
    positive = rng.beta(a + b + record.positive_unseen, c + d + record.negative_unseen, count)
    return _by_bayes(positive, rng.beta(a, b, count), rng.beta(c, d, count))


def _by_bayes(positive: Share, present_if_positive: Share, present_if_negative: Share) -> tuple[Share, Share]:
    """Sensitivity and specificity from the three parts of the record."""
    present = positive * present_if_positive + (1 - positive) * present_if_negative
    sensitivity = positive * present_if_positive / present
    specificity = (1 - positive) * (1 - present_if_negative) / (1 - present)
    return sensitivity, specificity


def _all(record: CheckRecord) -> int:
    return sum(vars(record).values())
