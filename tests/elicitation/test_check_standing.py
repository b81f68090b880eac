"""Assumption and results of checks side by side."""

from __future__ import annotations

import pytest

from triage.domain.catalogue import load_catalogue
from triage.domain.shop.check_record import CheckRecord
from triage.elicitation.check_standing import check_standing
from triage.priors.repair_beliefs import CheckBelief, RepairBeliefs

CATALOGUE = load_catalogue()


def test_results_move_only_the_check_that_they_are_of():
    beliefs = RepairBeliefs(check=(CheckBelief("cell-look", sensitivity=0.6, specificity=0.7, jobs=10),))
    rows = check_standing(beliefs, (("cell-look", CheckRecord(18, 2, 2, 8)),), CATALOGUE)
    assert [row.check for row in rows] == list(CATALOGUE.checks)
    (moved,) = [row for row in rows if row.prior != row.posterior]
    assert moved.check == "cell-look" and moved.record.jobs == moved.record.verified == 30
    # Conjugate: (6 + 18) / 30 and (7 + 8) / 20.
    assert [part.mean for part in moved.prior] == pytest.approx([0.6, 0.7], abs=0.01)
    assert [part.mean for part in moved.posterior] == pytest.approx([0.8, 0.75], abs=0.01)
