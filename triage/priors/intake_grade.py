"""What is believed of severities judged at intake: how they come out on the bench."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from pydantic import Field

from triage.arrays import Floats
from triage.domain.catalogue import Catalogue
from triage.domain.documents import Document
from triage.domain.intake_grades import GradeCounts
from triage.errors import Fault

Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
Row = tuple[Share, Share, Share]


@dataclass(frozen=True)
class IntakeGradePriors:
    """Prior file of the bench's severity, given that of the intake.

    bench : by severity at intake, the shares that the bench finds to be 1, 2 and 3. By
        default 9 in 10 are right: common practice, no source.
    jobs : how many findings' experience stands behind each row.
    """

    bench: tuple[Row, Row, Row] = ((0.9, 0.08, 0.02), (0.05, 0.9, 0.05), (0.02, 0.08, 0.9))
    jobs: Annotated[float, Field(gt=0, le=1e6, allow_inf_nan=False)] = 20.0
    note: str = ""

    def shares(self, counts: GradeCounts) -> Floats:
        """Chance of each severity on the bench (column) by that at intake (row), shape (3, 3).

        A Dirichlet belief a row, and counts: the posterior mean, which is all that a
        chance of one finding takes. Without counts, (), no severity was ever told
        and the intake's stands.
        """
        if not counts:
            return np.eye(3)
        known = self.jobs * np.array(self.bench) + np.array(counts, dtype=float)
        shares: Floats = known / known.sum(axis=1, keepdims=True)
        return shares


def faults(priors: IntakeGradePriors, document: Document, catalogue: Catalogue) -> Iterator[Fault]:
    """Yield rows whose shares are not those of a whole."""
    for grade, row in enumerate(priors.bench, 1):
        if abs(sum(row) - 1) > 1e-6:
            line = document.line(("bench",))
            wrong = f"the shares of intake severity {grade} sum to {sum(row):.3g}"
            yield Fault(document.name, line, "bench", wrong, "three shares that sum to 1")
