"""What a job's record says of battery and liquid now, and which work the safety rules forbid then.

The record says what was found and mended, not where the battery lies. So work
that a sound battery may stand beside, once it is out of the device, is allowed
with that said before it.
"""

from __future__ import annotations

from collections.abc import Iterable

from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import Access
from triage.domain.job.file import JobFile
from triage.domain.job.final_check import unfixed_kinds
from triage.domain.safety.facts import BATTERY_LOOK, DEFORMING, Battery, Liquid, facts
from triage.domain.safety.rules import Rule, load_rules

# What a battery that may be taken out is then; a worn one is whole to look at.
_TAKEN_OUT: dict[Battery, Battery] = {"sound": "out-sound", "worn": "out-sound", "replaced": "waiting"}


def battery_now(file: JobFile, catalogue: Catalogue) -> Battery:
    """The battery by the record: a bad one is out once its stop was resolved."""
    open_kinds = unfixed_kinds(file, catalogue)
    if any(kind.battery == "hazard" for kind in open_kinds):
        fitted = any(stop.record.about == "battery" for stop in file.open_stops)
        return "bad" if fitted else "out-safe"
    if not file.intake.record.battery_looked_at:
        return "suspect"
    if any(kind.discharged for kind in open_kinds):
        return "worn"
    return "replaced" if any(catalogue.repairs[r].new_battery for r in _worked(file, catalogue)) else "sound"


def battery_doubts(file: JobFile, catalogue: Catalogue) -> tuple[str, ...]:
    """Why the battery of a unit cannot go on the shelf: only one known to be good may."""
    now = battery_now(file, catalogue)
    if now == "bad" or now == "out-safe":
        return ("a dangerous battery never goes on the shelf",)
    if now not in ("sound", "replaced"):
        return ("this battery is not known to be good: it never goes on the shelf",)
    looks = [kept.record.found for kept in file.checks if kept.record.check == BATTERY_LOOK]
    if looks and looks[-1]:
        return ("the last look at the battery found a fault: it never goes on the shelf",)
    found = (catalogue.kinds.get(kept.record.kind) for kept in file.findings if kept.record.chance > 0)
    doubted = file.intake.record.cause in DEFORMING or any(kind and kind.battery != "none" for kind in found)
    if doubted and now == "sound" and not looks:
        return ("the battery may be damaged: look at it first, and record that check",)
    return ()


def liquid_now(file: JobFile, catalogue: Catalogue) -> Liquid:
    """Liquid by the record: it may be there until somebody has looked inside, or has cleaned it off."""
    if any(kind.liquid and kind.needed for kind in unfixed_kinds(file, catalogue)):
        return "wet"
    closed = {kind for repair in _worked(file, catalogue) for kind in catalogue.repairs[repair].closes}
    if any(catalogue.kinds[kind].liquid for kind in closed if kind in catalogue.kinds):
        return "dried"
    found = (catalogue.kinds.get(kept.record.kind) for kept in file.findings)
    told = file.intake.record.cause == "wet" or any(kind is not None and kind.liquid for kind in found)
    return "may-be-wet" if told and not file.looks else "none"


def act_refusals(
    file: JobFile, acts: Iterable[str], catalogue: Catalogue, access: Access = "closed"
) -> tuple[str, ...]:
    """Why some acts are forbidden now, whether the battery is in the device or out of it."""
    fitted, out = _broken(file, acts, catalogue, access)
    return tuple(rule.why for rule in fitted) if fitted and out else ()


def act_reminders(
    file: JobFile, acts: Iterable[str], catalogue: Catalogue, access: Access = "closed"
) -> tuple[str, ...]:
    """What some acts that are allowed need first: the battery out of the device."""
    fitted, out = _broken(file, acts, catalogue, access)
    return tuple(rule.why for rule in fitted) if fitted and not out else ()


def _broken(
    file: JobFile, acts: Iterable[str], catalogue: Catalogue, access: Access
) -> tuple[tuple[Rule, ...], tuple[Rule, ...]]:
    """Rules that the acts break with the battery where it is, and with a sound one taken out."""
    battery, liquid, made = battery_now(file, catalogue), liquid_now(file, catalogue), tuple(acts)
    if battery in ("suspect", "bad"):
        return (), ()  # the look that is due, or the stop, holds everything back already
    out: Battery = _TAKEN_OUT.get(battery, battery)
    broken = (load_rules().broken(made, facts(lies, liquid, access)) for lies in (battery, out))
    fitted, taken_out = broken
    return fitted, taken_out


def _worked(file: JobFile, catalogue: Catalogue) -> list[str]:
    """Repairs that worked."""
    return [
        kept.record.method
        for kept in file.attempts
        if kept.record.outcome == "fixed" and kept.record.method in catalogue.repairs
    ]
