"""What a stored posterior says about itself: where it came from and how far to trust it."""

from __future__ import annotations

import hashlib
import itertools
from dataclasses import asdict, dataclass, field
from datetime import date
from pathlib import PurePath
from typing import Any

from pydantic import TypeAdapter, ValidationError

from triage.domain.catalogue import Catalogue
from triage.domain.intake_grades import GradeCounts

SCHEMA = 2


@dataclass(frozen=True)
class Diagnostics:
    """How well one model's chains mixed; worst over all its numbers.

    rhat : rank-normalised split R-hat. ess_bulk, ess_tail : effective sample
    sizes. divergences : over all chains. bfmi : energy fraction of missing
    information, worst chain. worst : the number with the largest R-hat.
    seconds : of sampling, compilation included.
    """

    rhat: float
    ess_bulk: float
    ess_tail: float
    divergences: int
    bfmi: float
    worst: str
    target_accept: float = 0.0
    retried: bool = False
    seconds: float = 0.0


@dataclass(frozen=True)
class PredictiveCheck:
    """One figure of the record beside what the fit expects of a record like it.

    quantity : what is counted or measured, in words.
    unit : "count" (of `total`), "minutes" or "ratio".
    observed : in the record. low, high : 90 % of the replicated records lie between.
    tail : share of the replicated records above the observed figure, equal ones half.
    """

    quantity: str
    unit: str
    observed: float
    low: float
    high: float
    tail: float
    total: float = 0.0

    @property
    def inside(self) -> bool:
        """Whether the record lies in the 90 % interval, which one in ten leaves by luck."""
        return self.low <= self.observed <= self.high

    @property
    def fails(self) -> bool:
        """Whether fewer than one replicated record in a hundred is as far out as the real one."""
        return not self.inside and 2 * min(self.tail, 1 - self.tail) < 0.01


@dataclass(frozen=True)
class LikelihoodChecks:
    """Checks of a success fit that need its likelihood; None where an older program did not make one.

    quadrature_error_mean, quadrature_error_99 : error in the total log likelihood at the mean
        and at the 99 % quantile of the job effect's sd.
    elpd_loo, elpd_loo_se : log predictive density of a job left out, summed over jobs, by PSIS.
    p_loo : effective number of parameters. high_k : jobs whose Pareto k is too high.
    several : jobs of several attempts; without one the record tells nothing of the job effect.
    """

    quadrature_error_mean: float | None = None
    quadrature_error_99: float | None = None
    elpd_loo: float | None = None
    elpd_loo_se: float | None = None
    p_loo: float | None = None
    high_k: float | None = None
    several: float | None = None


@dataclass(frozen=True)
class Fading:
    """How old jobs count for less: half when so many days old.

    kinds : damage kinds whose jobs fade; None for all.
    """

    half_life_days: float
    kinds: tuple[str, ...] | None = None


@dataclass(frozen=True)
class ModelRecord:
    """One model in a stored posterior.

    belief_only : True when the draws are from its prior.
    why : for people: why it is assumptions only, or what failed.
    passed : whether the gate let these draws through; True for prior draws.
    refused : True when the prior draws stand in for a fit that failed the gate; `why`,
        `diagnostics` and `likelihood` are then those of that fit.
    likelihood : further checks, of a success fit. fading : None where every job counts alike.
    predictive : the record beside what the fit expects; None where an older
        program fitted, which did not look.
    """

    belief_only: bool
    passed: bool
    why: str = ""
    diagnostics: Diagnostics | None = None
    likelihood: LikelihoodChecks | None = None
    fading: Fading | None = None
    predictive: tuple[PredictiveCheck, ...] | None = None
    refused: bool = False


@dataclass(frozen=True)
class QuickUpdate:
    """How updated draws were made: those of a full fit, drawn again by what other jobs say of them.

    fitted : folder of the full fit's draws; an update is always made from one, never from an update.
    as_of : end of the record of that fit (ISO date).
    added, changed : jobs that are new since, and jobs of which something else is known now.
    pareto_k : by model, tail shape of the weights (0 where they are all equal).
    effective : by model, the independent draws of equal weight that the weighted ones are worth,
        for the number of the model for which they are worth least.
    """

    fitted: str
    as_of: str
    added: int
    changed: int
    pareto_k: dict[str, float]
    effective: dict[str, float]


@dataclass(frozen=True)
class Manifest:
    """The description that lies beside the draws.

    label : what the draws are, in words ("demo posterior").
    as_of : cut-off of the record (ISO date), or "" where there was none.
    first : jobs taken in before this ISO date were left out; "" where none were.
    jobs, rows : of the record.
    structure : digest of what the models need of the catalogue.
    attempts : by kind, for severity 1, 2, 3: (attempts, fixed).
    methods : by repair, attempts recorded under its name; none where the
        record does not say which method was used.
    grades : as made by `domain.intake_grades.grade_counts`; () where an older program fitted.
    hopeless_gap : by kind, chance with "looked hopeless" missing less chance
        with it counted as failed, at severity 2.
    job_digests : what the record said of each job, as `domain.job_digests` makes
        them, sorted; none where an older program fitted.
    forms : by model, the form it had (`OutcomeModel.form`); 1 where an older program fitted.
    update : None for a full fit. Diagnostics, predictive checks and
        `hopeless_gap` of updated draws are those of the full fit.
    sampler : settings of the sampler (`chains`, `draws`, `tune` ...) that the draws follow from;
        none where nothing was sampled, or an older program fitted.
    versions : of all that the draws follow from besides: the program, its libraries, the processor.
    stored_at : UTC, ISO; "" where an older program stored it.
    files : by model, (file name, SHA-256 of its bytes).
    """

    seed: int
    as_of: str
    jobs: int
    rows: int
    data_hash: str
    prior_hash: str
    catalogue_digest: str
    structure: str
    kinds: tuple[str, ...]
    models: dict[str, ModelRecord]
    attempts: dict[str, tuple[tuple[int, int], ...]] = field(default_factory=dict)
    methods: dict[str, int] = field(default_factory=dict)
    grades: GradeCounts = ()
    hopeless_gap: dict[str, float] = field(default_factory=dict)
    versions: dict[str, str] = field(default_factory=dict)
    sampler: dict[str, float] = field(default_factory=dict)
    label: str = ""
    first: str = ""
    current: bool = False
    draws: int = 0
    job_digests: tuple[str, ...] = ()
    forms: dict[str, int] = field(default_factory=dict)
    update: QuickUpdate | None = None
    stored_at: str = ""
    folder: str = ""
    files: dict[str, tuple[str, str]] = field(default_factory=dict)
    schema: int = SCHEMA

    @property
    def belief_only(self) -> tuple[str, ...]:
        """Models whose draws are from the prior."""
        return tuple(name for name, record in self.models.items() if record.belief_only)

    @property
    def refused(self) -> tuple[str, ...]:
        """Models whose draws are from the prior because their fit failed the gate."""
        return tuple(name for name, record in self.models.items() if record.refused)

    @property
    def failed(self) -> tuple[str, ...]:
        """Models that the gate did not let through: nothing is foretold while there are any."""
        return tuple(name for name, record in self.models.items() if not record.passed)

    @property
    def chains(self) -> int:
        """Chains that the draws came from, one after another; 1 where that is not known."""
        return int(self.sampler.get("chains", 1))

    def to_json(self) -> dict[str, Any]:
        """Plain values for `manifest.json`."""
        return {**asdict(self), "belief_only": list(self.belief_only)}


def manifest_from(values: dict[str, Any]) -> Manifest:
    """Rebuild a manifest from `to_json`; raises KeyError, TypeError or ValueError if it cannot."""
    values = dict(values)
    values.pop("belief_only", None)
    models = {}
    for name, record in values.pop("models").items():
        told = {**_from_notes(record.get("notes", {})), **record}
        told.pop("notes", None)
        diagnostics, checks = told.pop("diagnostics", None), told.pop("predictive", None)
        likelihood, fading = told.pop("likelihood"), told.pop("fading")
        models[name] = ModelRecord(
            **told,
            diagnostics=diagnostics and Diagnostics(**diagnostics),
            likelihood=likelihood and LikelihoodChecks(**likelihood),
            fading=fading and Fading(fading["half_life_days"], _slugs(fading["kinds"])),
            predictive=None if checks is None else tuple(PredictiveCheck(**check) for check in checks),
        )
    attempts = {
        kind: tuple((int(n), int(k)) for n, k in counts) for kind, counts in values.pop("attempts").items()
    }
    files = {name: (str(file), str(digest)) for name, (file, digest) in values.pop("files").items()}
    update = values.pop("update", None)
    for name in ("kinds", "job_digests"):
        if not isinstance(values.get(name, []), list):
            raise ValueError(f"{name}: a list is wanted")
        values[name] = tuple(values.get(name, ()))
    made = Manifest(
        **values, models=models, attempts=attempts, files=files, update=update and QuickUpdate(**update)
    )
    if not str(made.label).isprintable():
        raise ValueError("label: a text that can be printed is wanted")
    for day in filter(None, (made.as_of, made.first)):
        date.fromisoformat(day)
    for name in (made.folder, *(file for file, _ in files.values())):
        if name == ".." or name != PurePath(str(name)).name:
            raise ValueError(f"{name!r} is no name of a file beside it")
    try:
        made = TypeAdapter(Manifest).validate_python(asdict(made))
    except ValidationError as problem:
        first = problem.errors()[0]
        raise ValueError(f"{'.'.join(map(str, first['loc']))}: {first['msg']}") from problem
    if len(made.grades) not in (0, 3) or min((0, *itertools.chain(*made.grades))) < 0:
        raise ValueError("grades: three rows of counts are wanted, or none")
    if min(made.jobs, made.rows, made.draws) < 0:
        raise ValueError("jobs, rows, draws: no count is negative")
    return made


def _slugs(found: list[str] | None) -> tuple[str, ...] | None:
    return None if found is None else tuple(found)


# How older programs named a half-life among a model's notes: by itself, or "half_life_days of KIND".
_HALF_LIFE, _OF = "half_life_days", "half_life_days of "


def _from_notes(notes: dict[str, float]) -> dict[str, dict[str, Any] | None]:
    """What an older program stored as numbers by name, in the fields that hold it now."""
    likelihood = {name: value for name, value in notes.items() if not name.startswith(_HALF_LIFE)}
    fading: dict[str, Any] | None = None
    if _HALF_LIFE in notes:
        fading = {"half_life_days": notes[_HALF_LIFE], "kinds": None}
    elif some := {name.removeprefix(_OF): days for name, days in notes.items() if name.startswith(_OF)}:
        fading = {"half_life_days": next(iter(some.values())), "kinds": list(some)}
    return {"likelihood": likelihood or None, "fading": fading}


def structure_digest(catalogue: Catalogue) -> str:
    """Hash of what fitted models need of a catalogue: kinds, families, hidden faults, methods.

    Wording, cautions and checks may change without making a fit stale.
    """
    kinds = [(kind.slug, kind.family, kind.hidden, kind.raises) for kind in catalogue.kind]
    repairs = [(repair.slug, repair.closes) for repair in catalogue.repair]
    return hashlib.sha256(repr((kinds, repairs)).encode()).hexdigest()[:16]
