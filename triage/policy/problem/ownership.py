"""Who may sell a device or have it repaired, and the price that this allows.

Ownership comes before money: no lock is ever bypassed, and where the right to the
device is in doubt there is no price at all. Local law decides; this is the
cautious reading of it.
"""

from __future__ import annotations

from dataclasses import dataclass

from triage.domain.catalogue import Catalogue
from triage.domain.units.suspicion import latest_results
from triage.domain.units.unit import Unit

FREE, CHECK_FIRST, NO_PRICE = "free", "check-first", "no-price"
IDENTITY_LOOK = "identity-and-lock-look"
REACTING = (
    "its battery is reacting (hot while off, hissing, smelling or smoking): open nothing, "
    "isolate it outdoors or in a fire-safe place, leave and call the fire service"
)


@dataclass(frozen=True)
class Ruling:
    """What ownership allows.

    standing : `free`; `check-first` (the right to sell it is open: see `open_right`); `no-price`
        (decline it).
    reasons : in plain words, most serious first.
    """

    standing: str
    reasons: tuple[str, ...] = ()


def rule_on(unit: Unit, catalogue: Catalogue, buying: bool) -> Ruling:
    """Judge a unit's ownership for buying it or for taking it in as a walk-in."""
    if unit.battery == "reacting":
        return Ruling(NO_PRICE, (REACTING,))
    owner = unit.ownership
    stops = [catalogue.kinds[f.kind] for f in unit.findings if catalogue.kinds[f.kind].role == "stop"]
    refusals = []
    if owner.listed:
        refusals.append(
            "its serial number or IMEI is on a block list: hold it and report it as local rules require"
        )
    if owner.identity == "mismatch":
        refusals.append("its serial numbers or IMEI do not match")
    looked = latest_results(unit).get(IDENTITY_LOOK)
    if looked:
        refusals.append(
            "the check of ownership proof, serial number and IMEI, lock and messages found a problem"
        )
    if owner.lock == "locked-to-another":
        refusals.append("its activation lock belongs to somebody who is not here")
    if buying and owner.lock == "locked-to-owner":
        refusals.append(
            "the seller's own activation lock is still on; the seller must remove it before you pay"
        )
    if buying and owner.enrolled == "enrolled":
        refusals.append(
            "it is enrolled with an organisation or on finance: whoever holds it must release it first"
        )
    for kind in stops:
        own_lock = not buying and owner.lock == "locked-to-owner" and kind.account_lock
        if not own_lock:
            refusals.append(f'one damage is "{kind.name}"')
    if refusals:
        return Ruling(NO_PRICE, tuple(refusals))
    doubts = []
    if owner.lock == "cannot-tell":
        doubts.append("it is not known yet whether it has an activation lock")
    if owner.identity == "not-checked" and looked is None:
        doubts.append("its serial number and IMEI are not checked yet")
    if owner.identity == "cannot-read" and looked is None:
        doubts.append("its serial number and IMEI cannot be read, so no list can be checked")
    if owner.enrolled == "not-checked":
        doubts.append("it is not known yet whether it is enrolled with an organisation or on finance")
    if buying and doubts:
        return Ruling(CHECK_FIRST, tuple(doubts))
    if not buying and not owner.proof_recorded:
        return Ruling(FREE, ("record the owner's proof of ownership and signature before work starts",))
    return Ruling(FREE)
