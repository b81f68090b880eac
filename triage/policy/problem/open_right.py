"""Questions that are open about the right to sell a device, and what a refusal would cost.

"Cannot tell" is a chance, not a zero, and a lock is no proof of theft. The questions are
taken as independent, given the source of the device. While one is open nothing is sold and
nothing is stripped; local law decides what becomes of a device that is refused.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import prod
from typing import Literal

from triage.domain.catalogue import Catalogue
from triage.domain.safety.facts import facts
from triage.domain.safety.rules import load_rules
from triage.domain.shop.right_to_sell import RightToSell
from triage.domain.shop.settings import Settings
from triage.domain.units.suspicion import battery_at_intake, latest_results, liquid_at_intake
from triage.domain.units.unit import Unit
from triage.policy.problem.build import PlanInputs
from triage.policy.problem.ownership import IDENTITY_LOOK

Topic = Literal["listed", "locked", "enrolled", "later"]
Settled = Literal["before-paying", "on-arrival", "once-it-works", "never"]
Way = Literal["number-check", "boot-check", "sign-off", "enrolment-check", "none"]


@dataclass(frozen=True)
class Question:
    """One open question.

    clear : chance that it comes out in favour of selling.
    settled : how early it can be settled. way : how. minutes, fee : what that takes, bench minutes and money.
    """

    topic: Topic
    clear: float
    settled: Settled
    way: Way
    minutes: float = 0.0
    fee: float = 0.0

    @property
    def late(self) -> bool:
        """Whether a refusal comes after the work."""
        return self.settled in ("once-it-works", "never")


@dataclass(frozen=True)
class OpenRight:
    """What is open about the right to sell one device; nothing where `questions` is empty.

    price_back : share of the price that the supplier pays back for a refused device.
    hand_over : bench minutes of returning it. rate : money per bench minute.
    """

    questions: tuple[Question, ...] = ()
    price_back: float = 0.0
    hand_over: float = 0.0
    rate: float = 0.0

    @property
    def early(self) -> tuple[Question, ...]:
        """Questions that are settled as soon as it is bought, in this order, up to the first refusal.

        One that is sure to come out clear takes nothing.
        """
        return tuple(one for one in self.questions if not one.late and one.clear < 1.0)

    @property
    def clear_early(self) -> float:
        """Chance that every question which can be settled before the work comes out clear."""
        return prod(one.clear for one in self.early)

    @property
    def clear_late(self) -> float:
        """Chance that those do which only come up after the work."""
        return prod(one.clear for one in self.questions if one.late)

    @property
    def clear(self) -> float:
        """Chance that the right to sell it turns out clear."""
        return self.clear_early * self.clear_late

    @property
    def bars_stripping(self) -> bool:
        """Whether it may not be stripped unless it works: its lock cannot be settled before that."""
        return any(one.settled == "once-it-works" and one.clear < 1.0 for one in self.questions)

    def cost(self, question: Question) -> float:
        """What settling a question takes, money."""
        return question.minutes * self.rate + question.fee

    def without(self, topic: Topic) -> OpenRight:
        """What is left open once a question has come out clear."""
        return replace(self, questions=tuple(one for one in self.questions if one.topic != topic))


def open_right(unit: Unit, catalogue: Catalogue, settings: Settings) -> OpenRight:
    """Collect the questions that are open about a device to be bought.

    That it is listed later counts while anything else is open, and of a source that somebody named: a
    device with everything settled and no source named is taken as the shop always took it.
    """
    owner, told = unit.ownership, settings.right_to_sell
    belief = told.of(owner.source)
    before: Settled = "on-arrival" if owner.source == "auction" else "before-paying"
    questions: list[Question] = []
    looked = IDENTITY_LOOK in latest_results(unit)
    if owner.identity in ("not-checked", "cannot-read") and not looked:
        # A number that cannot be read from outside is found once the device is here.
        when: Settled = before if owner.identity == "not-checked" else "on-arrival"
        questions.append(
            Question("listed", belief.not_listed, when, "number-check", told.number_check, told.number_fee)
        )
    if owner.lock == "cannot-tell":
        questions.append(_lock_question(unit, catalogue, told, before))
    if owner.enrolled == "not-checked" or (not owner.enrolled and questions):
        minutes, fee = told.enrolment_check, told.enrolment_fee
        questions.append(Question("enrolled", belief.not_enrolled, before, "enrolment-check", minutes, fee))
    if questions or owner.source:
        questions.append(Question("later", belief.not_listed_later, "never", "none"))
    return OpenRight(tuple(questions), belief.price_back, told.hand_over, settings.bench_rate / 60.0)


def _lock_question(unit: Unit, catalogue: Catalogue, told: RightToSell, before: Settled) -> Question:
    """The activation lock: the seller signs out in person, or it is started and activation is checked."""
    clear = told.of(unit.ownership.source).not_locked
    if unit.ownership.source == "owner-in-person":
        return Question("locked", clear, "before-paying", "sign-off", told.sign_off)
    liquid = liquid_at_intake(unit, catalogue)
    kinds = [catalogue.kinds[finding.kind] for finding in unit.findings if finding.seen]
    starts = all(kind.boots for kind in kinds) and all(catalogue.symptoms[s].boots for s in unit.symptoms)
    when = before
    if not starts or liquid != "none":
        when = "once-it-works"
    elif not load_rules().allow(frozenset({"power"}), facts(battery_at_intake(unit, catalogue))):
        when = "on-arrival"  # its battery is seen to first
    return Question("locked", clear, when, "boot-check", told.boot_check)


def without_parts(inputs: PlanInputs, hand_over: float) -> PlanInputs:
    """The same unit where nothing may be stripped: where its plan stops it is handed over, bench minutes."""
    options = tuple(replace(option, recovered=0.0) for option in inputs.problem.options)
    problem = replace(
        inputs.problem, options=options, parts=(), harms=(), stop_minutes=(hand_over, hand_over)
    )
    return replace(inputs, problem=problem, parts_value=0.0)
