"""How a job may end: sold, returned, stripped, disposed of, left uncollected.

No unit is sold as fully working with a line of its final check failed or
missing; one sold as less says in writing what is not right. A dangerous cell
is never sold. Local law comes before all of it.
"""

from __future__ import annotations

from datetime import date, timedelta

from triage.domain.catalogue import Catalogue
from triage.domain.job.file import JobFile
from triage.domain.job.final_check import standing, unfixed_kinds
from triage.domain.job.records import HandOver
from triage.domain.job.rules import Refusals, move_refusals
from triage.domain.job.safety_facts import act_refusals

# Order of what a unit may be called, best first.
_GRADES = ("working", "downgraded", "unfixed", "parts")


def sale_refusals(file: JobFile, handover: HandOver, notice: str, catalogue: Catalogue) -> Refusals:
    """Why a unit may not be sold like this.

    Parameters
    ----------
    notice : the lawful notice given to the owner of a unit that nobody fetched.
    """
    refused = list(move_refusals(file, "sell", catalogue))
    refused += _notice_refusals(file, notice)
    refused += _cell_refusals(file, catalogue)
    refused += act_refusals(file, ("sell",), catalogue)
    if any(stop.record.about == "data" for stop in file.open_stops):
        refused.append("data on it are still wanted: save them first")
    if not handover.wiped.strip():
        refused.append("say how what is on it was erased, and what shows it")
    if not handover.person.strip():
        refused.append("say who bought it")
    return (*refused, *_grade_refusals(file, handover, catalogue))


def return_refusals(file: JobFile, handover: HandOver, fixed: bool, catalogue: Catalogue) -> Refusals:
    """Why a unit may not go back to its owner as fixed, or as not fixed."""
    refused = list(move_refusals(file, "return-fixed" if fixed else "return-unfixed", catalogue))
    if fixed:
        refused += [
            f"nothing is given back as fixed with a dangerous cell in it: {name}"
            for name in dangerous_cells(file, catalogue)
        ]
        if handover.grade not in ("working", "downgraded"):
            refused.append(f"what goes back fixed is working or downgraded, not {handover.grade}")
        return (*refused, *_grade_refusals(file, handover, catalogue))
    if handover.grade != "unfixed":
        refused.append("what goes back unfixed is called unfixed")
    said = handover.disclosure.casefold()
    refused += [
        f"the disclosure does not say: {name}"
        for name in dangerous_cells(file, catalogue)
        if name.casefold() not in said
    ]
    return tuple(refused)


def strip_refusals(file: JobFile, parts: tuple[str, ...], catalogue: Catalogue) -> Refusals:
    """Why a unit may not be stripped for these parts."""
    refused = list(move_refusals(file, "strip", catalogue))
    refused += [f"no part is called {part!r}" for part in parts if part not in catalogue.parts]
    if "battery" in parts and dangerous_cells(file, catalogue):
        refused.append("a dangerous cell never goes on the shelf")
    if any(stop.record.about == "data" for stop in file.open_stops):
        refused.append("data on it are still wanted: save them first")
    return tuple(refused)


def hold_refusals(file: JobFile, on: date, hold_days: int) -> Refusals:
    """Why a unit that was bought may not be sold or stripped yet: its holding period is not over."""
    until = held_until(file, hold_days)
    if until is None or on >= until:
        return ()
    return (f"held until {until:%d %b %Y}, as your settings say local rules want",)


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
    """What a buyer or owner must be told: the words that must stand in writing, and the sentence for them."""
    check = standing(file, catalogue)
    names = {slug: catalogue.verifications[slug].name for slug in check.required}
    told = {names[slug]: f"Did not pass: {names[slug]}." for slug in check.failed}
    told |= {names[slug]: f"Not tested: {names[slug]}." for slug in check.cannot + check.missing}
    for kind in unfixed_kinds(file, catalogue):
        lost = kind.lost_function or kind.name
        told[lost] = f"Without {lost}." if kind.lost_function else f"Not repaired: {lost}."
        if kind.battery == "hazard":
            told[lost] = f"Dangerous, never to be charged, pressed or posted: {lost}."
    return told


def disclosure_text(file: JobFile, catalogue: Catalogue) -> str:
    """The disclosure that a hand-over needs; "" when all is well."""
    return " ".join(disclosures(file, catalogue).values())


def _grade_refusals(file: JobFile, handover: HandOver, catalogue: Catalogue) -> Refusals:
    """Why a unit may not be called what it is to be called."""
    check, refused = standing(file, catalogue), []
    names = {slug: catalogue.verifications[slug].name for slug in check.required}
    if handover.grade == "working":
        refused += [f"not working: failed: {names[slug]}" for slug in check.failed]
        refused += [f"not working: not tested: {names[slug]}" for slug in check.cannot + check.missing]
        refused += [f"not working: not repaired: {catalogue.kinds[kind].name}" for kind in check.unfixed]
        return tuple(refused)
    if _GRADES.index(handover.grade) < _GRADES.index(check.grade):
        refused.append(f"it is {check.grade}, not {handover.grade}")
    said = handover.disclosure.casefold()
    for words in disclosures(file, catalogue):
        if words.casefold() not in said:
            refused.append(f"the disclosure does not say: {words}")
    return tuple(refused)


def _cell_refusals(file: JobFile, catalogue: Catalogue) -> list[str]:
    return [f"a dangerous cell is never sold: {name}" for name in dangerous_cells(file, catalogue)]


def _notice_refusals(file: JobFile, notice: str) -> list[str]:
    if file.state != "uncollected" or notice.strip():
        return []
    return ["nobody fetched it: say which lawful notice its owner was given, and when"]
