"""Taking a unit in: what it is, what stops it, whether the shop takes it, and on which answer."""

from __future__ import annotations

import json
from dataclasses import asdict, replace
from datetime import date
from importlib.metadata import version as program_version
from typing import Any, Literal

from triage.domain.catalogue import Catalogue
from triage.domain.documents import parse_toml
from triage.domain.job.file import JobFile
from triage.domain.job.life import ENDED, STATE_WORDS, JobRoute
from triage.domain.job.records import (
    CheckMade,
    Decision,
    FoundDamage,
    Intake,
    LaterFate,
    Payment,
    Stop,
    StopResolved,
)
from triage.domain.job.rules import data_stops, move_refusals
from triage.domain.money import to_minor
from triage.domain.units.suspicion import latest_results
from triage.domain.units.unit import Unit
from triage.domain.units.unit_file import unit_from
from triage.errors import JobRuleError, UnitFileError
from triage.ledger.drafts import StoredDraft, claim_draft
from triage.ledger.record import Writing
from triage.policy.answer.assessment import Assessment
from triage.policy.problem.normalise import cell_hazard, completed
from triage.policy.problem.ownership import rule_on
from triage.reports.wording.plan import step_words
from triage.workflows.jobs.record_keeper import JobChange, RecordKeeper, refuse
from triage.workflows.shop.shop import Shop


def consider(
    keeper: RecordKeeper, intake: Intake, route: JobRoute, label: str = "", passcode: str = ""
) -> JobFile:
    """Open a job for a unit under consideration, with what was found and what stops it.

    Parameters
    ----------
    intake : `description` is the unit file text; what it says of the device fills
        the fields of the intake that are empty.
    label : of the job; the next free one when "".

    Raises
    ------
    UnitFileError : the description cannot be read, every fault of it.
    """
    with keeper.writing() as writing:
        job = _open_job(keeper, writing, intake, route, label)
        if passcode:
            writing.keep_passcode(job, passcode)
        return writing.job(job)


def consider_and_decide(
    keeper: RecordKeeper,
    intake: Intake,
    route: JobRoute,
    answer: Assessment,
    then: Literal["take", "decline", "ask-owner"],
    price_minor: int | None = None,
    draft: tuple[str, StoredDraft] | None = None,
) -> tuple[JobFile, tuple[str, ...]]:
    """Open a job with the answer behind its decision, and carry that out: one transaction.

    A taking that the rules refuse leaves the job considered, its decision kept.

    Parameters
    ----------
    then : "ask-owner" leaves the job considered until its owner answers a quote.
    price_minor : paid for a bought unit that is taken.
    draft : token and content of the draft that is decided on; it becomes one job, once.

    Returns
    -------
    The job, and why it is not taken yet; () when nothing is against it.

    Raises
    ------
    DraftTakenError, LedgerConflictError : as `claim_draft`; nothing is written then.
    """
    with keeper.writing() as writing:
        job = _open_job(keeper, writing, intake, route)
        if draft is not None:
            claim_draft(writing, *draft, job)
        change = JobChange(keeper, writing, writing.job(job))
        change.append(decision(answer, intake.description, keeper.shop))
        refused: tuple[str, ...] = ()
        if then == "take":
            refused = _take_refusals(change, price_minor)
            if not refused:
                _take(change, intake.on, price_minor)
        elif then == "decline":
            _decline(change, intake.on)
        return change.now(), refused


def _open_job(
    keeper: RecordKeeper, writing: Writing, intake: Intake, route: JobRoute, label: str = ""
) -> int:
    unit = described(intake.description, keeper.shop)
    currency = keeper.shop.settings.currency
    told: dict[str, Any] = {"name": unit.name, "tier": unit.tier, "model": unit.model, "cause": unit.cause}
    told |= {"technician": unit.technician, "data": "wanted" if unit.data_wanted else intake.data}
    filled = {name: value for name, value in told.items() if getattr(intake, name) in ("", "not-asked")}
    if intake.working_price_minor is None and unit.working_price is not None:
        filled["working_price_minor"] = to_minor(unit.working_price, currency)
    intake = replace(intake, **filled)
    job = writing.open_job(label or writing.next_label(keeper.label_prefix), route, currency, intake)
    for finding in completed(unit, keeper.catalogue).findings:
        writing.append(job, FoundDamage(**vars(finding)))
    for check, found in latest_results(unit).items():
        writing.append(job, CheckMade(check, found))
    for stop in stops_due(unit, intake, route, keeper.catalogue):
        writing.append(job, stop)
    return job


def described(description: str, shop: Shop) -> Unit:
    """The unit that an intake describes."""
    return unit_from(parse_toml(description, "description", UnitFileError), shop.catalogue, shop.prices)


def stops_due(unit: Unit, intake: Intake, route: JobRoute, catalogue: Catalogue) -> tuple[Stop, ...]:
    """Stops that an intake raises by itself.

    A battery that nobody has looked at is not among them: until somebody has,
    the rules hold everything back.
    """
    ruling = rule_on(unit, catalogue, buying=route == "bought")
    stops = [Stop(reason, "ownership") for reason in ruling.reasons]
    if cell_hazard(unit, catalogue):
        stops.append(_UNSAFE)
    return (*stops, *data_stops(intake))


def look_at_battery(
    keeper: RecordKeeper, job: int, version: int, damage: str = "", note: str = ""
) -> JobFile:
    """Record that somebody looked at the battery, and what is wrong with it (a damage kind)."""
    with keeper.changing(job, version) as change:
        intake = change.file.intake
        refuse(["the battery was already inspected"] if intake.record.battery_looked_at else [])
        looked = replace(intake.record, battery_looked_at=True)
        change.writing.append(job, looked, replaces=intake.id, why="the battery was inspected")
        if damage and damage not in _kinds(change.file):
            write_damage(change, FoundDamage(damage, note=note))
        return change.now()


def found_damage(keeper: RecordKeeper, job: int, version: int, damage: FoundDamage) -> JobFile:
    """Record a damage found later; a dangerous cell or a doubt about the right to the unit stops the job."""
    with keeper.changing(job, version) as change:
        known = damage.kind in _kinds(change.file)
        refuse([f"{damage.kind} is already recorded: correct that entry"] if known else [])
        write_damage(change, damage)
        return change.now()


def resolve_stop(keeper: RecordKeeper, job: int, version: int, stop: int, how: str) -> JobFile:
    """Resolve a stop; the record keeps who did."""
    with keeper.changing(job, version) as change:
        refused = [] if how.strip() else ["enter how the stop was resolved"]
        if stop not in {kept.id for kept in change.file.open_stops}:
            refused.append("this job has no such open stop")
        refuse(refused)
        change.append(StopResolved(stop, how))
        return change.now()


def decide(keeper: RecordKeeper, job: int, version: int, answer: Assessment) -> JobFile:
    """Keep the answer that stands behind a decision, as it was given, so that it can be judged later."""
    with keeper.changing(job, version) as change:
        change.append(decision(answer, change.file.intake.record.description, keeper.shop))
        return change.now()


def keep_passcode(keeper: RecordKeeper, job: int, version: int, code: str) -> JobFile:
    """Keep the code that opens an owner's device, until the unit leaves."""
    with keeper.changing(job, version) as change:
        refused = [] if code else ["enter the passcode"]
        if change.file.state in ("declined", *ENDED):
            refused.append(f"no passcode can be saved while the job is {STATE_WORDS[change.file.state]}")
        refuse(refused)
        change.writing.keep_passcode(job, code)
        return change.now()


def take(keeper: RecordKeeper, job: int, version: int, on: date, price_minor: int | None = None) -> JobFile:
    """Accept a unit: bought at a price, or an owner's on a yes or a paid diagnostic fee."""
    with keeper.changing(job, version) as change:
        refuse(_take_refusals(change, price_minor))
        _take(change, on, price_minor)
        return change.now()


def _take_refusals(change: JobChange, price_minor: int | None) -> tuple[str, ...]:
    refused = list(move_refusals(change.file, "take", change.keeper.catalogue))
    bought = change.file.route == "bought"
    if bought and (price_minor is None or price_minor < 0):
        refused.append("enter the price paid, 0 or more")
    if not bought and price_minor is not None:
        refused.append("a walk-in device has no purchase price")
    return tuple(refused)


def _take(change: JobChange, on: date, price_minor: int | None) -> None:
    if price_minor is not None:
        change.append(Payment("purchase", -price_minor, on))
    change.move("take", on)


def decline(keeper: RecordKeeper, job: int, version: int, on: date, note: str = "") -> JobFile:
    """Leave a unit with whoever brought it."""
    with keeper.changing(job, version) as change:
        refuse(move_refusals(change.file, "decline", keeper.catalogue))
        _decline(change, on, note)
        return change.now()


def _decline(change: JobChange, on: date, note: str = "") -> None:
    change.move("decline", on, note=note)
    change.let_go(on)


def later_fate(keeper: RecordKeeper, job: int, version: int, margin_minor: int, source: str) -> JobFile:
    """Record the result of a declined unit elsewhere."""
    with keeper.changing(job, version) as change:
        refused = [] if source.strip() else ["enter the source of this result"]
        if change.file.state != "declined":
            refused.append("only a declined device can have a result elsewhere")
        refuse(refused)
        change.append(LaterFate(margin_minor, source))
        return change.now()


def decision(answer: Assessment, description: str, shop: Shop) -> Decision:
    """What an assessment said, frozen: chances and their intervals by damage kind, 20 margins, the plan."""
    currency, manifest = answer.currency, shop.posterior.manifest

    def minor(amount: float | None) -> int | None:
        return None if amount is None else to_minor(amount, currency)

    forecast = {
        "findings": {
            row.kind: {
                "severity": row.severity, "presence": row.presence, "repair": row.repair, "low": row.low,
                "high": row.high, "prior_only": row.prior_only, "origin": row.origin,
            }
            for row in answer.findings
        },
        "plan": [step_words(step, shop.catalogue) for step in answer.steps_now],
        "chance_finished": answer.chance_finished,
        "route": answer.route,
        "source": answer.source,
        "promise": asdict(answer.promise),
    }  # fmt: skip
    return Decision(
        verdict=answer.verdict.value,
        posterior=manifest.folder or manifest.structure,
        priors=shop.priors.digest,
        program=program_version("bench-triage"),
        description=description,
        price_minor=minor(answer.price),
        limit_minor=minor(answer.limit),
        margin_minor=minor(answer.expected_margin),
        minutes=answer.minutes,
        losses_in_20=answer.losses_in_20,
        chances=_json({row.kind: row.mean for row in answer.findings}),
        dots=_json([to_minor(dot, currency) for dot in answer.dots]),
        forecast=_json(forecast),
    )


_UNSAFE = Stop("the battery is dangerous: make it safe and store it apart", "battery")


def write_damage(change: JobChange, damage: FoundDamage) -> None:
    """Record a damage within an act, and the stop that it raises."""
    kind = change.keeper.catalogue.kinds.get(damage.kind)
    if kind is None:
        raise JobRuleError((f"the catalogue has no damage {damage.kind!r}",))
    change.append(damage)
    if kind.battery == "hazard" and damage.chance >= 1 and not _open(change.file, "battery"):
        change.append(_UNSAFE)
    if kind.role == "stop":
        change.append(Stop(kind.plain or kind.name, "ownership"))


def _kinds(file: JobFile) -> set[str]:
    return {kept.record.kind for kept in file.findings}


def _open(file: JobFile, about: str) -> bool:
    return any(stop.record.about == about for stop in file.open_stops)


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)
