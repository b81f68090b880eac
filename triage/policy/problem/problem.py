"""A unit as the repair plan sees it: items, options, latent faults, access, money terms.

Everything is plain arrays and indices; `triage.policy.problem.build` makes it
from a unit and its forecast.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from triage.arrays import Floats
from triage.domain.safety.facts import Battery, Liquid
from triage.domain.safety.rules import Rules, load_rules
from triage.policy.problem.parts.unit_parts import Harm, UnitPart
from triage.policy.problem.shared import SharedCosts


@dataclass(frozen=True)
class Item:
    """One damage on the unit, seen, suspected, hidden or the cause of a symptom.

    required : a unit with this item open cannot be sold as working.
    hazard : a bad cell. spent : a cell too low to be charged again.
    liquid : liquid that must be cleaned off before anything is powered.
    latent fault, branch : which latent fault settles whether it is there; -1 when seen.
    unexplained : a cause of a symptom that is none of the known damage; nothing closes it.
    harms : what it does to the parts of the unit.
    """

    key: str
    required: bool = True
    hazard: bool = False
    latent_fault: int = -1
    branch: int = -1
    unexplained: bool = False
    spent: bool = False
    liquid: bool = False
    harms: tuple[Harm, ...] = ()


@dataclass(frozen=True)
class LatentFault:
    """Something not known yet: a suspected finding, a hidden fault, a symptom's cause.

    chance : ndarray, shape (branch, scenario), sums to 1 over branches.
    access : level at which it is settled.
    trace_minutes : None when a look settles it on reaching `access`; else the
        bench minutes of tracing it, an act of its own.
    liquid : while it is not settled there may be liquid inside.
    """

    key: str
    chance: Floats
    access: int
    trace_minutes: float | None = None
    liquid: bool = False


@dataclass(frozen=True)
class PlanCheck:
    """A diagnostic check as the plan sees it.

    reveals : (latent fault, branch) pairs that it can show; it reads positive with
        chance `sensitivity` when any of them holds, else 1 - `specificity`.
    sensitivity, specificity : ndarray, shape (scenario,).
    access : level it needs. minutes : bench minutes; extra : other money.
    excludes : checks that share its error, and so add nothing after it.
    result : True or False when the result is already in hand, else None.
    acts : what the hands do, in the words of the safety rules.
    """

    key: str
    reveals: tuple[tuple[int, int], ...]
    sensitivity: Floats
    specificity: Floats
    minutes: float
    access: int = 0
    extra: float = 0.0
    excludes: tuple[int, ...] = ()
    result: bool | None = None
    acts: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Option:
    """One repair that closes some of the items.

    chance : ndarray, shape (scenario,), success on a first try.
    chance_after : by index of the option that failed first, the same shape.
    minutes, parts, extra : expected bench minutes, parts money and other money
        (collateral damage, dead parts), each (when fixed, when failed).
    after : options whose items must be settled first.
    salvage : share of the unit's parts value that survives a failure; the chance for each of its `parts`.
    recovered : parts value that a fitted part adds when the unit is stripped later.
    comeback : expected money lost to comebacks once it is fixed.
    wait_days : days until its parts are here, likely; 0 when they are on hand.
    acts : what the hands do, in the words of the safety rules.
    new_battery : it fits another battery.
    replaces : parts of the unit that come out for new ones, and stay as they are.
    shared : how minutes, parts and comebacks move with the posterior draw.
    """

    key: str
    closes: tuple[int, ...]
    chance: Floats
    minutes: tuple[float, float]
    parts: tuple[float, float] = (0.0, 0.0)
    extra: tuple[float, float] = (0.0, 0.0)
    access: int = 0
    after: tuple[int, ...] = ()
    chance_after: dict[int, Floats] = field(default_factory=dict)
    salvage: float = 1.0
    recovered: float = 0.0
    comeback: float = 0.0
    wait_days: float = 0.0
    acts: frozenset[str] = frozenset()
    new_battery: bool = False
    replaces: frozenset[str] = frozenset()
    shared: SharedCosts = field(default_factory=SharedCosts)


@dataclass(frozen=True)
class Safety:
    """What is known of battery and liquid before anything is done, and what keeping safe takes.

    look, make_safe, take_out : bench minutes of the careful opening with the look at a suspect
        battery, of making a bad one safe when it is found, of taking a good one out.
    """

    battery: Battery = "no-sign"
    liquid: Liquid = "none"
    look: float = 0.0
    make_safe: float = 0.0
    take_out: float = 0.0
    rules: Rules = field(default_factory=load_rules)


@dataclass(frozen=True)
class PlanProblem:
    """A unit, ready to be planned.

    weights : ndarray, shape (scenario,), sums to 1.
    nodes : so many scenarios in a row are one posterior draw with another job
        effect each; what may be there and how often checks are right is the same in them.
    access_minutes : bench minutes to reach each level from the one below; 0 for
        a level the unit is already at.
    access_extra : expected money lost by breaking something on the way there.
    rate : money per bench minute.
    finish_minutes : closing, sealing and verification, (never opened, opened).
    stop_minutes : stripping (or putting an owner's device together), the same; with `parts`, what
        opening a unit takes on top of the minutes of its parts.
    in_turn : a narrower set of plans for units with very many states: required
        repairs take turns by cost over chance of failing (Mitten's ratio), a
        second method follows at once, and optional repairs wait for the required.
    daily_loss : money a finished unit has lost for each day it waited for parts;
        parts are ordered together, so the slowest one counts.
    owned : it is stripped where the plan stops; an owner's device is put together and returned.
    parts : what it yields, part by part; none where its parts are valued together, and certain.
    harms : what damage that no work closes does to them.
    """

    items: tuple[Item, ...]
    options: tuple[Option, ...]
    latent_faults: tuple[LatentFault, ...]
    weights: Floats
    rate: float
    access_minutes: tuple[float, ...] = (0.0, 0.0, 0.0)
    access_extra: tuple[float, ...] = (0.0, 0.0, 0.0)
    finish_minutes: tuple[float, float] = (0.0, 0.0)
    stop_minutes: tuple[float, float] = (0.0, 0.0)
    checks: tuple[PlanCheck, ...] = ()
    daily_loss: float = 0.0
    in_turn: bool = False
    nodes: int = 1
    owned: bool = True
    safety: Safety = field(default_factory=Safety)
    parts: tuple[UnitPart, ...] = ()
    harms: tuple[Harm, ...] = ()
