"""All prior files of one shop, read together, checked together, hashed together."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from types import ModuleType
from typing import Any

from triage.domain.catalogue import Catalogue
from triage.domain.documents import build, read_toml
from triage.errors import Fault, PriorFileError, nearest
from triage.priors import (
    bench_minutes,
    comeback,
    hidden_fault,
    intake_grade,
    parts_cost,
    repair_beliefs,
    sale_price,
    success,
)
from triage.priors.tuned_jobs import TunedJobs, read_tuned_jobs


@dataclass(frozen=True)
class PriorSet:
    """One shop's assumptions; each field but the last is one TOML file of the same name.

    tuned : the jobs some of them come from, which no fit may use again.
    """

    success: success.SuccessPriors = field(default_factory=success.SuccessPriors)
    hidden_fault: hidden_fault.HiddenFaultPriors = field(default_factory=hidden_fault.HiddenFaultPriors)
    bench_minutes: bench_minutes.BenchMinutesPriors = field(default_factory=bench_minutes.BenchMinutesPriors)
    parts_cost: parts_cost.PartsCostPriors = field(default_factory=parts_cost.PartsCostPriors)
    comeback: comeback.ComebackPriors = field(default_factory=comeback.ComebackPriors)
    sale_price: sale_price.SalePricePriors = field(default_factory=sale_price.SalePricePriors)
    intake_grade: intake_grade.IntakeGradePriors = field(default_factory=intake_grade.IntakeGradePriors)
    repairs: repair_beliefs.RepairBeliefs = field(default_factory=repair_beliefs.RepairBeliefs)
    tuned: TunedJobs = field(default_factory=TunedJobs, repr=False)

    @cached_property
    def digest(self) -> str:
        """Hash of every assumption, for the manifest of a fit."""
        return hashlib.sha256(repr(self).encode()).hexdigest()[:16]


# Each file's schema module. Its dataclass is the field's type and can be built with no
# arguments: what a shop without that file starts from. A `faults(priors, document,
# catalogue)` function, where the module has one, checks the file against the catalogue.
_SCHEMAS: dict[str, tuple[type, ModuleType]] = {
    "success": (success.SuccessPriors, success),
    "hidden_fault": (hidden_fault.HiddenFaultPriors, hidden_fault),
    "bench_minutes": (bench_minutes.BenchMinutesPriors, bench_minutes),
    "parts_cost": (parts_cost.PartsCostPriors, parts_cost),
    "comeback": (comeback.ComebackPriors, comeback),
    "sale_price": (sale_price.SalePricePriors, sale_price),
    "intake_grade": (intake_grade.IntakeGradePriors, intake_grade),
    "repairs": (repair_beliefs.RepairBeliefs, repair_beliefs),
}


def load_priors(folder: Path | None, catalogue: Catalogue) -> PriorSet:
    """Read every prior file of a folder.

    Parameters
    ----------
    folder : holds `<field>.toml` for any of the fields of `PriorSet`; a file
        that is not there means the defaults of its dataclass, and None means
        them for all. `tuned_on.json` there says which jobs they come from.
    catalogue : whose slugs the files must use.

    Raises
    ------
    PriorFileError : every fault of every file.
    """
    if folder is None:
        return PriorSet()
    folder = Path(folder)
    if not folder.is_dir():
        wrong = "is not a folder"
        raise PriorFileError([Fault(str(folder), None, "folder", wrong, "a folder of TOML files")])
    names = list(_SCHEMAS)
    found: list[Fault] = []
    for path in sorted(folder.glob("*.toml")):
        if path.stem not in names:
            wrong = "no model reads this file" + nearest(path.stem, names)
            found.append(Fault(str(path), None, "file name", wrong, ", ".join(f"{n}.toml" for n in names)))
    parts: dict[str, Any] = {}
    for name in names:
        path = folder / f"{name}.toml"
        if not path.exists():
            continue
        schema, module = _SCHEMAS[name]
        try:
            document = read_toml(path, PriorFileError)
            parts[name] = build(schema, document, PriorFileError)
        except PriorFileError as problem:
            found += problem.faults
            continue
        if hasattr(module, "faults"):
            found += module.faults(parts[name], document, catalogue)
    try:
        tuned = read_tuned_jobs(folder)
    except PriorFileError as problem:
        found += problem.faults
    if found:
        raise PriorFileError(found)
    return PriorSet(**parts, tuned=tuned)
