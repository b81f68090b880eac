"""The answer for one unit, as screens and the command line read it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from triage.domain.catalogue_entries import Caution, VerificationLine
from triage.domain.units.unit import Unit
from triage.policy.answer.promise import Promise
from triage.policy.answer.right_answer import RightAnswer
from triage.policy.pricing.ways import Way
from triage.policy.problem.forecast import WhyChance
from triage.policy.problem.options import PartLine

Route = Literal["buy", "walk-in"]
# How a plan may end; "buy-locked": it may not be stripped, as its lock can only be settled once it works.
PlanRoute = Literal["buy", "walk-in", "buy-locked"]
Origin = Literal["seen", "suspected", "hidden", "cause"]
StepKind = Literal[
    "isolate", "make-safe", "ownership", "save-data", "parts-in-hand", "open", "board-out", "shields-off",
    "battery-look", "cell-look", "battery-out", "look", "trace", "check", "repair", "dry-fit", "close",
    "seal", "repeat-checks", "verify", "sell", "hand-back", "strip", "return-unfixed",
]  # fmt: skip

_IN_ANY_CASE: tuple[StepKind, ...] = ("isolate",)
_BEFORE_DECIDING: tuple[StepKind, ...] = ("isolate", "make-safe", "ownership")


class Verdict(StrEnum):
    """What to do with a device; the values are those of `--json` and of stored decisions, not labels."""

    TAKE = "take it"
    CHECK = "check first"
    PARTS = "take for parts"
    LEAVE = "leave it"


@dataclass(frozen=True)
class MoneyLine:
    """One line of the margin breakdown; positive is income, negative is cost."""

    label: str
    amount: float
    note: str = ""


class Then(StrEnum):
    """The next repair or ending after a step that did not go as planned; opening and looking are skipped."""

    STOP = "stop"
    FINISH = "finish"
    REPAIR = "repair"
    GO_ON = "go-on"
    REPAIR_CAUSE = "repair-cause"


@dataclass(frozen=True)
class Otherwise:
    """What happens when a step does not go as planned.

    repair : slug of the repair that follows (`Then.REPAIR`).
    chance : of this result; None at a repair, where it is one minus its chance, and at a trace.
    stops_for : damage kinds that mean stopping when one of them is the cause; None is no cause found.
    """

    then: Then
    repair: str = ""
    chance: float | None = None
    stops_for: tuple[str | None, ...] = ()


@dataclass(frozen=True)
class Cause:
    """A possible cause of a symptom; `kind` is None where no cause is found."""

    kind: str | None
    chance: float


class BranchEnd(StrEnum):
    """Where a branch leads to, after its own steps."""

    REJOIN = "rejoin"
    STOP = "stop"
    FINISH = "finish"
    UNTOLD = "untold"


@dataclass(frozen=True)
class Branch:
    """What follows a step whose result was not the likely one.

    chance : of this result, once the step is reached.
    found : at a look or a check, the result; None at a repair, which failed, and at a trace.
    causes : at a trace the causes that are followed so, None for no cause found; at a look that
        can show more than one damage, those damages.
    steps : what is done then, without branches of its own: `otherwise` says what if one goes wrong.
    end : where the branch leads after them; `UNTOLD` where it is too long to show.
    rejoins : number of the step, from 1, at which the branch joins the likely path again.
    ending : the steps that close such a job, where it stops or is finished off the likely path.
    """

    chance: float
    end: BranchEnd
    found: bool | None = None
    causes: tuple[str | None, ...] = ()
    steps: tuple[PlanStep, ...] = ()
    rejoins: int | None = None
    ending: tuple[PlanStep, ...] = ()


@dataclass(frozen=True)
class PlanStep:
    """One step of the plan on the path where things go well; `reports.wording.plan` puts it in words.

    subject : slug of what it is about: the repair, the check, the damage looked for, the symptom traced.
    minutes : expected bench minutes when it goes well.
    chance : chance that it works, given that all before it did; None if certain.
    otherwise : what happens when it does not work; None where nothing can go wrong.
    stop_point : whether failing here means stopping.
    final_test : a look that only the final test can take.
    moves : parts that a repair transfers; none that is damaged itself.
    found : the likelier result of a check or a look, which the next steps are for.
    cause : the likeliest cause at a trace, which the next steps are for; causes : the first few by chance.
    branches : the other results of the step, the likelier first.
    """

    kind: StepKind
    subject: str = ""
    minutes: float = 0.0
    chance: float | None = None
    otherwise: Otherwise | None = None
    stop_point: bool = False
    parts: tuple[PartLine, ...] = ()
    cautions: tuple[Caution, ...] = ()
    verify: tuple[VerificationLine, ...] = ()
    final_test: bool = False
    found: bool | None = None
    cause: str | None = None
    causes: tuple[Cause, ...] = ()
    branches: tuple[Branch, ...] = ()
    moves: tuple[str, ...] = ()


@dataclass(frozen=True)
class FindingChance:
    """One damage on the device and the chance of repairing it.

    presence : chance that it is there, after the check results in hand.
    before : the same before them.
    mean, low, high : chance that the repair works on this unit, and its 90 %
        credible interval.
    attempts, fixed : past attempts behind it.
    planned : chance in the plan, once the steps before it went well; None where the likely path has no
        such step. It is the one that is shown.
    why : what moves the chance most from the plain rate of those attempts.
    """

    kind: str
    name: str
    severity: int
    presence: float
    repair: str
    mean: float
    low: float
    high: float
    attempts: int
    fixed: int
    prior_only: bool
    origin: Origin
    before: float = 1.0
    planned: float | None = None
    why: tuple[WhyChance, ...] = ()

    @property
    def chance(self) -> float:
        """The chance that is shown: as at its step of the plan."""
        return self.mean if self.planned is None else self.planned


WhyLeft = Literal["no-repair", "not-worth", "too-complex", "some-paths"]


@dataclass(frozen=True)
class Left:
    """Damage that stays on a device which is finished.

    why : no repair offered; none worth its cost; its repair was left out of a plan too complex to
        weigh; or the repair that the plan makes fails on some paths.
    chance : that a finished device has it.
    takes_off : what it takes off the price of such a device, money; None where that is not known.
    """

    kind: str
    name: str
    why: WhyLeft
    chance: float
    takes_off: float | None


@dataclass(frozen=True)
class CheckIdea:
    """A check worth making before deciding to buy or decline.

    worth : expected value of its information, less its cost, money.
    changes_in_20 : of 20 devices like this, how many decisions it changes.
    """

    check: str
    name: str
    minutes: float
    worth: float
    reveals: tuple[str, ...]
    changes_in_20: int = 0
    cautions: tuple[Caution, ...] = ()


@dataclass(frozen=True)
class PartFlip:
    """The price of one part at which the verdict changes; None when no price changes it."""

    part: str
    price: float
    flips_at: float | None
    confirmed: bool


Take = Literal["leave", "untested", "tested"]


@dataclass(frozen=True)
class PartWorth:
    """One part of a device that is stripped as it lies.

    take : whether it stays in, is taken out and sold untested, or tested first.
    good : chance that it is good. price : what it fetches then, tested, money.
    worth : expected money after fees, tax and its own minutes, money; of a part that stays in,
        what taking it out would add before the device is opened for it.
    minutes : bench minutes of taking it out, and of testing it where that is worth it.
    """

    part: str
    take: Take
    good: float
    price: float
    worth: float
    minutes: float


@dataclass(frozen=True)
class StrippedNow:
    """A device stripped as it lies; `minutes` of opening it count once, for all its parts.

    worth : expected money of the parts worth taking out, after fees, tax and bench time.
    """

    parts: tuple[PartWorth, ...]
    minutes: float
    worth: float


@dataclass(frozen=True)
class Assessment:
    """The whole answer for a device at one price.

    price : asking price, or the quote for a walk-in; None when neither was given.
    valued_at : price that margin and losses are for: `price`, else the limit, else nothing paid, or
        an owner's device quoted at its resale value.
    limit : highest price to pay, or lowest price to quote; None when there is none.
    dots, fine_dots : 20 and 50 equally likely margins, lowest first, money.
    losses_in_20 : dots below zero.
    expected_margin, minutes, margin_per_hour : exact expectations of the plan; by the hour, None
        where hardly a minute is spent.
    chance_finished : chance that the unit ends up working, with every required function.
    left : damage that stays on a unit that ends up working.
    steps : the whole plan that the figures rest on; what may be shown of it is `steps_now`.
    stops_at_once : whether the plan is to stop before anything is done.
    ready_days : likely and late (9 in 10) day it is ready: bench queue, slowest
        part, cure and soak; 0 when it is not to be finished.
    source : the data behind the chances.
    exact : False when repairs or checks had to be set aside to weigh the rest.
    shortfall : mean margin of the worst 1 in 10, money.
    share_not_known : share of the margin's variance that comes from uncertain chances (epistemic);
        the rest varies from job to job even where every chance is known (aleatory).
    right : what is open of the right to sell it; None where nothing is.
    promise : the forecasts that are stored, to be scored later.
    stripped : its parts, where the price book lists them; None where it has one value for all.
    priced_by : where the resale value is from, in words: the model, and how old, or the price class.
    ways : the ways to go with a device to buy, the plan's own first; none where ownership forbids a price.
    """

    unit: Unit
    route: Route
    currency: str
    price: float | None
    verdict: Verdict
    sentence: str
    limit: float | None
    limit_words: str
    minutes: float
    chance_finished: float
    stops_at_once: bool
    steps: tuple[PlanStep, ...]
    findings: tuple[FindingChance, ...]
    checks: tuple[CheckIdea, ...]
    first_cautions: tuple[Caution, ...]
    notes: tuple[str, ...]
    source: str
    exact: bool = True
    expected_margin: float | None = None
    losses_in_20: int | None = None
    dots: tuple[float, ...] = ()
    fine_dots: tuple[float, ...] = ()
    margin_per_hour: float | None = None
    valued_at: float | None = None
    lines: tuple[MoneyLine, ...] = ()
    left: tuple[Left, ...] = ()
    flips: tuple[PartFlip, ...] = ()
    ready_days: tuple[float, float] = (0.0, 0.0)
    shortfall: float | None = None
    share_not_known: float | None = None
    right: RightAnswer | None = None
    promise: Promise = Promise()
    stripped: StrippedNow | None = None
    priced_by: str = ""
    ways: tuple[Way, ...] = ()

    @property
    def plan_route(self) -> PlanRoute:
        """Which endings the words of the plan name."""
        return "buy-locked" if self.right is not None and self.right.bars_stripping else self.route

    @property
    def steps_now(self) -> tuple[PlanStep, ...]:
        """Steps that may be taken on this answer.

        None where the verdict is to decline; where it is to check first, only steps for safety and ownership.
        """
        if self.verdict in (Verdict.TAKE, Verdict.PARTS):
            return self.steps
        allowed = _BEFORE_DECIDING if self.verdict is Verdict.CHECK else _IN_ANY_CASE
        return tuple(step for step in self.steps if step.kind in allowed)
