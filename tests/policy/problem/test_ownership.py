"""Only a kind that the catalogue flags as the owner's lock can be worked on for the owner."""

from dataclasses import replace

import pytest

from triage.domain.catalogue import load_catalogue
from triage.domain.units.unit import Finding, Ownership, Unit
from triage.policy.problem.ownership import FREE, NO_PRICE, rule_on

CATALOGUE = load_catalogue()
OWNER = Ownership(lock="locked-to-owner", proof_recorded=True)


def with_stop(slug, account_lock):
    """The shipped catalogue with its account lock under another slug."""
    lock = replace(CATALOGUE.kinds["account-locked"], slug=slug, account_lock=account_lock)
    return replace(CATALOGUE, kind=(*CATALOGUE.kind, lock))


@pytest.mark.parametrize(
    ("slug", "account_lock", "standing"),
    [
        ("signed-in", True, FREE),
        ("block-listed", False, NO_PRICE),
        ("account-lock-of-another", False, NO_PRICE),
    ],
)
def test_an_owners_lock_is_known_by_its_flag_and_not_by_its_name(slug, account_lock, standing):
    unit = Unit("walk-in", "middle", (Finding(slug),), ownership=OWNER)
    catalogue = with_stop(slug, account_lock)
    assert rule_on(unit, catalogue, buying=False).standing == standing
    assert rule_on(unit, catalogue, buying=True).standing == NO_PRICE
