"""How a job may end: sold, returned, stripped, disposed of, left uncollected.

No unit is sold as fully working with a line of its final check failed or
missing; one sold as less discloses its faults in writing. A dangerous cell
is never sold. Local law comes before all of it.
"""

from __future__ import annotations

from datetime import date, timedelta

from triage.domain.catalogue import Catalogue
from triage.domain.job.data.rules import not_ended
from triage.domain.job.file import JobFile
from triage.domain.job.final_check import standing, unfixed_kinds
from triage.domain.job.records import Grade, HandOver
from triage.domain.job.rules import Refusals, move_refusals
from triage.domain.job.safety_facts import act_refusals, battery_doubts

# How pages and refusals name grades.
GRADE_WORDS: dict[Grade, str] = {
    "working": "fully working",
    "downgraded": "limited function",
    "unfixed": "not repaired",
    "parts": "parts only",
}
# Grades, best first.
_GRADES = ("working", "downgraded", "unfixed", "parts")


def sale_refusals(file: JobFile, handover: HandOver, notice: str, catalogue: Catalogue) -> Refusals:
    """Why a unit may not be sold like this.

    Parameters
    ----------
    notice : the lawful notice given to the owner of an uncollected unit.
    """
    refused = list(move_refusals(file, "sell", catalogue))
    refused += _notice_refusals(file, notice)
    refused += _cell_refusals(file, catalogue)
    refused += act_refusals(file, ("sell",), catalogue)
    if any(stop.record.about == "data" for stop in file.open_stops):
        refused.append("data on the device are still wanted: save them first")
    if not handover.wiped.strip():
        refused.append("enter the method and the proof of the data wipe")
    if not handover.person.strip():
        refused.append("enter the buyer")
    return (*refused, *_grade_refusals(file, handover, catalogue))


def return_refusals(file: JobFile, handover: HandOver, fixed: bool, catalogue: Catalogue) -> Refusals:
    """Why a unit may not go back to its owner as fixed, or as not fixed."""
    refused = list(move_refusals(file, "return-fixed" if fixed else "return-unfixed", catalogue))
    if fixed:
        if file.data_job is not None:
            refused.append("a data job repairs nothing: return the device unrepaired")
        refused += [
            f"a device with a dangerous battery cannot be returned as repaired: {name}"
            for name in dangerous_cells(file, catalogue)
        ]
        if handover.grade not in ("working", "downgraded"):
            refused.append(
                f'a device returned repaired cannot have the grade "{GRADE_WORDS[handover.grade]}"'
            )
        return (*refused, *_grade_refusals(file, handover, catalogue))
    if file.state != "taken":  # one that was never begun goes back as it came
        refused += not_ended(file)
    if file.data_ended and file.data_ended[-1].record.outcome != "none":
        check = standing(file, catalogue)
        refused += [f"not tested yet: {catalogue.verifications[slug].name}" for slug in check.missing]
    if handover.grade != "unfixed":
        refused.append('a device returned unrepaired needs the grade "not repaired"')
    said = handover.disclosure.casefold()
    refused += [
        f"add to the written disclosure: {name}"
        for name in dangerous_cells(file, catalogue)
        if name.casefold() not in said
    ]
    return tuple(refused)


def strip_refusals(
    file: JobFile, parts: tuple[str, ...], catalogue: Catalogue, tested: tuple[str, ...] = ()
) -> Refusals:
    """Why a unit may not be stripped for these parts, of which some are said to be tested and working."""
    refused = list(move_refusals(file, "strip", catalogue))
    refused += [f"the catalogue has no part {part!r}" for part in parts if part not in catalogue.parts]
    if "battery" in parts:
        refused += battery_doubts(file, catalogue)
    damaged = damaged_parts(file, catalogue)
    refused += [
        f"the record says: {damaged[part]}. Shelve the {catalogue.parts[part].name} as not tested"
        for part in tested
        if part in damaged and part in catalogue.parts
    ]
    if any(stop.record.about == "data" for stop in file.open_stops):
        refused.append("data on the device are still wanted: save them first")
    return tuple(refused)


def damaged_parts(file: JobFile, catalogue: Catalogue) -> dict[str, str]:
    """Parts that damage still on the unit would have replaced, and the name of that damage."""
    seen = {kept.record.kind for kept in file.findings if kept.record.chance >= 1}
    damaged: dict[str, str] = {}
    for kind in unfixed_kinds(file, catalogue):
        usual = catalogue.repairs.get(catalogue.usual_method(kind.slug))
        for part in usual.parts if usual and kind.slug in seen else ():
            if part in catalogue.parts and not catalogue.parts[part].stays:
                damaged.setdefault(part, kind.name)
    return damaged


def hold_refusals(file: JobFile, on: date, hold_days: int) -> Refusals:
    """Why a unit that was bought may not be sold or stripped yet: its holding period is not over."""
    until = held_until(file, hold_days)
    if until is None or on >= until:
        return ()
    return (
        f"the holding period in your settings ends on {until:%d %b %Y}: "
        "sell or strip the device on that day or later",
    )


def held_until(file: JobFile, hold_days: int) -> date | None:
    """Day on which the holding period of a unit that was bought is over; None for any other."""
    taken = next((kept.record.on for kept in file.moves if kept.record.move == "take"), None)
    return taken + timedelta(days=hold_days) if taken and hold_days and file.route == "bought" else None


def dispose_refusals(file: JobFile, notice: str, catalogue: Catalogue) -> Refusals:
    """Why a unit may not be disposed of."""
    return (*move_refusals(file, "dispose", catalogue), *_notice_refusals(file, notice))


def dangerous_cells(file: JobFile, catalogue: Catalogue) -> tuple[str, ...]:
    """Dangerous battery damage still in the unit, by name."""
    return tuple(kind.name for kind in unfixed_kinds(file, catalogue) if kind.battery == "hazard")


def disclosures(file: JobFile, catalogue: Catalogue) -> dict[str, str]:
    """What a buyer or owner must be told: the words required in writing, and the sentence for them."""
    check = standing(file, catalogue)
    names = {slug: catalogue.verifications[slug].name for slug in check.required}
    told: dict[str, str] = {}
    if file.data_job is not None:
        told["not repaired"] = (
            "Opened to save data, not repaired and not sealed: no water resistance is stated."
        )
    told |= {names[slug]: f"Did not pass: {names[slug]}." for slug in check.failed}
    told |= {names[slug]: f"Not tested: {names[slug]}." for slug in check.cannot + check.missing}
    for kind in unfixed_kinds(file, catalogue):
        lost = kind.lost_function or kind.name
        told[lost] = f"Without {lost}." if kind.lost_function else f"Not repaired: {lost}."
        if kind.battery == "hazard":
            told[lost] = f"Dangerous, {lost}: never charge, press or post it."
    return told


def disclosure_text(file: JobFile, catalogue: Catalogue) -> str:
    """The disclosure that a hand-over needs; "" when all is well."""
    return " ".join(disclosures(file, catalogue).values())


def _grade_refusals(file: JobFile, handover: HandOver, catalogue: Catalogue) -> Refusals:
    """Why a unit may not have its grade."""
    check, refused = standing(file, catalogue), []
    names = {slug: catalogue.verifications[slug].name for slug in check.required}
    if handover.grade == "working":
        refused += [f"not fully working, failed: {names[slug]}" for slug in check.failed]
        refused += [f"not fully working, not tested: {names[slug]}" for slug in check.cannot + check.missing]
        refused += [
            f"not fully working, not repaired: {catalogue.kinds[kind].name}" for kind in check.unfixed
        ]
        return tuple(refused)
    if _GRADES.index(handover.grade) < _GRADES.index(check.grade):
        refused.append(f'the final check allows at best the grade "{GRADE_WORDS[check.grade]}"')
    said = handover.disclosure.casefold()
    for words in disclosures(file, catalogue):
        if words.casefold() not in said:
            refused.append(f"add to the written disclosure: {words}")
    return tuple(refused)


def _cell_refusals(file: JobFile, catalogue: Catalogue) -> list[str]:
    return [f"a dangerous battery is never sold: {name}" for name in dangerous_cells(file, catalogue)]


def _notice_refusals(file: JobFile, notice: str) -> list[str]:
    if file.state != "uncollected" or notice.strip():
        return []
    return ["the device is uncollected: enter which legal notice the owner was given, and when"]
