"""The truth of the invented shop: the fields of `truth.toml`, and its reader."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from synthetic_cases.parts_truth import Part, Ruin, Stripping
from triage.domain.documents import build, read_toml
from triage.errors import InputError

SHIPPED = Path(__file__).parent / "truth.toml"


@dataclass(frozen=True)
class Technician:
    """One technician.

    share, board_share : share of jobs without and with board work.
    effect : on the logit of success. speed : factor on bench minutes.
    """

    share: float
    board_share: float
    effect: float
    speed: float


@dataclass(frozen=True)
class Tier:
    """A value tier.

    share : of jobs. working_price : money, middle of the tier.
    effect : on the logit of success.
    sale_ratio : sale price over working price at grade 0, 1 and 2.
    """

    share: float
    working_price: float
    effect: float
    sale_ratio: tuple[float, float, float]


@dataclass(frozen=True)
class Cause:
    """What happened to the unit.

    share : of jobs. effect : on the logit of success.
    tiers : factors on the shares of the tiers: the shop leaves most cheap wet
        and bent units where they are.
    """

    share: float
    effect: float
    tiers: tuple[float, ...] = (1.0, 1.0, 1.0, 1.0)


@dataclass(frozen=True)
class Kind:
    """One damage kind.

    belief, belief_jobs : what the shop assumes of severity 2, and how many
        jobs of experience that assumption is worth.
    chance : the truth for a fresh job at severity 1, 2, 3: average effects,
        usual method, job effect integrated out.
    minutes : bench minutes of a usual success at severity 2 (median).
    cost : book price of the parts over the tier's working price.
    severity : shares of severity 1, 2, 3 among findings of the kind.
    tiers : factors on how often the kind occurs, in the order of the tiers.
    stray : chance that it is on a unit whatever else happened.
    """

    belief: float
    belief_jobs: float
    chance: tuple[float, float, float]
    minutes: float
    cost: float
    severity: tuple[float, float, float] = (0.3, 0.5, 0.2)
    tiers: tuple[float, ...] = (1.0, 1.0, 1.0, 1.0)
    stray: float = 0.0


@dataclass(frozen=True)
class Risk:
    """A finding that is never worked on; it only makes hidden faults likelier."""

    severity: tuple[float, float, float] = (0.3, 0.5, 0.2)
    stray: float = 0.0


@dataclass(frozen=True)
class Bundle:
    """Damage that comes together: the lead is always there, the rest by chance."""

    cause: str
    weight: float
    lead: str
    others: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class HiddenFault:
    """A fault found only on opening.

    base : its chance on a unit with none of the findings that raise it.
    raised_by : what each visible finding adds to the log-odds.
    """

    base: float
    raised_by: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Method:
    """A repair used where it is not the usual one for the finding it leads with.

    difference : on the logit of success. minutes : factor.
    cost : book price over the tier's working price; None keeps the kind's own.
    """

    difference: float
    minutes: float = 1.0
    cost: float | None = None


@dataclass(frozen=True)
class BenchTruth:
    """How the bench works; all values are chances unless stated otherwise.

    walk_in : a job belongs to an owner. owner_declines : the owner says no to
        everything, or (`owner_declines_optional`) to one optional repair.
    no_part : the part cannot be had.
    dear_share, too_dear : above this share of the working price a part is
        refused with this chance.
    other_method, other_method_shared : another method than the usual one is
        tried first, for one finding and for each further one it closes too.
    second_try : a failed required repair is tried again by another method.
    shared_difficulty : the second try meets the same difficulty as the first.
    hopeless, hopeless_job_effect, hopeless_severe : a repair is given up
        unattempted, as a logit: constant, slope on the job effect, addition at
        severity 3.
    opening_breaks, repair_breaks : opening, or one repair, breaks something.
    test_finds : the final test finds one more fault.
    breaks, finds : what gets broken, what the test finds, as weights.
    """

    walk_in: float
    owner_declines: float
    owner_declines_optional: float
    no_part: float
    dear_share: float
    too_dear: float
    other_method: float
    other_method_shared: float
    second_try: float
    shared_difficulty: float
    hopeless: float
    hopeless_job_effect: float
    hopeless_severe: float
    opening_breaks: float
    repair_breaks: float
    test_finds: float
    breaks: dict[str, float]
    finds: dict[str, float]


@dataclass(frozen=True)
class Minutes:
    """Bench minutes of one attempt, log-normal with a heavy tail.

    sd : on the log scale. severity : addition to the log per step.
    failure : factor when it fails. dead_part : factor when the first part was dead.
    stuck, stuck_factor, stuck_sd : an attempt that gets stuck: chance, median factor, log sd.
    give_up : minutes after which the bench gives up.
    """

    sd: float
    severity: float
    failure: float
    dead_part: float
    stuck: float
    stuck_factor: float
    stuck_sd: float
    give_up: float


@dataclass(frozen=True)
class Family:
    """A family's parts and comebacks.

    parts_ratio, parts_sd : parts cost over the book: median, sd on the log scale.
    dead_part : chance that a part is dead on arrival.
    comeback : chance rate per 30 days, in days 0-30, 31-90, 91 and later.
    warranty_days : promised on a repair of this family; a job gets the shortest.
    """

    parts_ratio: float
    parts_sd: float
    dead_part: float
    comeback: tuple[float, float, float]
    warranty_days: int


@dataclass(frozen=True)
class Sales:
    """Money and days after the bench.

    price_sd : of a unit's working price around its tier's, on the log scale.
    sale_sd : of the sale price around its ratio, on the log scale.
    paid_share, paid_sd : purchase price over working price, times the shop's
        belief that all that is needed comes right: median, log sd.
    quote_start, quote_parts, quote_minute : an owner's price: money to begin
        with, factor on the book price, money per expected minute.
    days_to_sell, days_to_sell_sd : median at grade 0 and log sd.
    grade_delay : factor on the days per grade. parts_delay : factor for a stopped unit.
    comeback_kinds : shares of same-fault, our-damage, dead-part.
    new_damage, no_fault_found : returns that are not the shop's doing, per 30 days.
    """

    price_sd: float
    sale_sd: float
    paid_share: float
    paid_sd: float
    quote_start: float
    quote_parts: float
    quote_minute: float
    days_to_sell: float
    days_to_sell_sd: float
    grade_delay: float
    parts_delay: float
    comeback_kinds: dict[str, float]
    new_damage: float
    no_fault_found: float


@dataclass(frozen=True)
class Truth:
    """Everything that is true in the invented shop.

    start, as_of : first day of intake, and the day the record is read.
    jobs, seed : of the history that ships.
    job_effect_sd : of what all repairs of one unit share, on the logit.
    most_findings : at intake.
    technicians, tiers, causes, kinds, risks, hidden, methods, families : by slug;
        the kinds stand in the order in which the bench works on them.
    parts : by slug, what a stripped unit yields. ruins : by kind and part.
    exclusive : groups of kinds of which a unit shows at most one; the first stays.
    """

    note: str
    start: date
    as_of: date
    jobs: int
    seed: int
    job_effect_sd: float
    most_findings: int
    exclusive: tuple[tuple[str, ...], ...]
    technicians: dict[str, Technician]
    tiers: dict[str, Tier]
    causes: dict[str, Cause]
    bench: BenchTruth
    minutes: Minutes
    sales: Sales
    stripping: Stripping
    parts: dict[str, Part]
    ruins: dict[str, dict[str, Ruin]]
    families: dict[str, Family]
    methods: dict[str, Method]
    hidden: dict[str, HiddenFault]
    risks: dict[str, Risk]
    kinds: dict[str, Kind]
    bundles: tuple[Bundle, ...]


def load_truth(path: Path | None = None) -> Truth:
    """Read the truth from a TOML file; the shipped one when `path` is None.

    Raises
    ------
    InputError : every fault of the file, with line and field.
    """
    return build(Truth, read_toml(Path(path) if path else SHIPPED, InputError), InputError)
