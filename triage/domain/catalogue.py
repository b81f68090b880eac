"""The catalogue: what can be wrong with a unit, what closes it, what it calls for.

The catalogue holds structure and words only. Every number that a shop's own
record replaces (chances, minutes, prices) lives under `models/`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection
from dataclasses import dataclass, field, fields
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any

from triage.domain.catalogue_entries import (
    BenchStep,
    Bundle,
    Caution,
    Check,
    DamageKind,
    Family,
    Part,
    Repair,
    Ruin,
    Symptom,
    VerificationLine,
    Zone,
)
from triage.domain.catalogue_faults import cross_faults
from triage.domain.catalogue_safety import as_shipped, safety_faults
from triage.domain.documents import Document, build, read_toml
from triage.errors import CatalogueError, Fault

SHIPPED = Path(__file__).parent / "catalogue"


@dataclass(frozen=True)
class Catalogue:
    """Everything above, cross-checked. Field names are those of the TOML file."""

    family: tuple[Family, ...] = ()
    zone: tuple[Zone, ...] = ()
    kind: tuple[DamageKind, ...] = ()
    repair: tuple[Repair, ...] = ()
    check: tuple[Check, ...] = ()
    caution: tuple[Caution, ...] = ()
    verification: tuple[VerificationLine, ...] = ()
    part: tuple[Part, ...] = ()
    symptom: tuple[Symptom, ...] = ()
    bundle: tuple[Bundle, ...] = ()
    step: tuple[BenchStep, ...] = ()
    ruin: tuple[Ruin, ...] = ()
    digest: str = field(default="", compare=False)

    @cached_property
    def kinds(self) -> dict[str, DamageKind]:
        """Damage kinds by slug."""
        return {kind.slug: kind for kind in self.kind}

    @cached_property
    def repairs(self) -> dict[str, Repair]:
        """Repairs by slug."""
        return {repair.slug: repair for repair in self.repair}

    @cached_property
    def checks(self) -> dict[str, Check]:
        """Checks by slug."""
        return {check.slug: check for check in self.check}

    @cached_property
    def cautions(self) -> dict[str, Caution]:
        """Cautions by slug."""
        return {caution.slug: caution for caution in self.caution}

    @cached_property
    def verifications(self) -> dict[str, VerificationLine]:
        """Verification lines by slug."""
        return {line.slug: line for line in self.verification}

    @cached_property
    def parts(self) -> dict[str, Part]:
        """Parts by slug."""
        return {part.slug: part for part in self.part}

    @cached_property
    def symptoms(self) -> dict[str, Symptom]:
        """Symptoms by slug."""
        return {symptom.slug: symptom for symptom in self.symptom}

    @cached_property
    def steps(self) -> dict[str, BenchStep]:
        """Shared bench steps by slug."""
        return {step.slug: step for step in self.step}

    @cached_property
    def families(self) -> dict[str, Family]:
        """Families by slug."""
        return {family.slug: family for family in self.family}

    @cached_property
    def zones(self) -> dict[str, Zone]:
        """Zones by slug."""
        return {zone.slug: zone for zone in self.zone}

    @cached_property
    def hidden_kinds(self) -> tuple[DamageKind, ...]:
        """Kinds that may be there without being seen at intake."""
        return tuple(kind for kind in self.kind if kind.hidden)

    def ruins_of(self, kind: str) -> tuple[Ruin, ...]:
        """What a kind does to the parts that a wreck yields."""
        return tuple(ruin for ruin in self.ruin if ruin.kind == kind)

    def repairs_for(self, kind: str) -> tuple[Repair, ...]:
        """Repairs that close a kind, in catalogue order: the first is the usual one."""
        return tuple(repair for repair in self.repair if kind in repair.closes)

    def parts_hit(self, kinds: Collection[str]) -> set[str]:
        """Parts that some kinds damage: those that their repairs fit anew."""
        return {part for repair in self.repair if set(repair.closes) & set(kinds) for part in repair.parts}

    def usual_method(self, kind: str) -> str:
        """Slug of the usual repair for a kind, or an empty string if none closes it."""
        found = self.repairs_for(kind)
        return found[0].slug if found else ""

    def checks_for(self, kind: str) -> tuple[Check, ...]:
        """Checks that reveal a kind, in catalogue order."""
        return tuple(check for check in self.check if kind in check.reveals)


def load_catalogue(path: Path | None = None) -> Catalogue:
    """Read a catalogue from one TOML file or a folder of them.

    Parameters
    ----------
    path : the file or folder; the shipped catalogue when None.

    Raises
    ------
    CatalogueError : every fault of every file, with file, line and field.
    """
    return _load(Path(path) if path else SHIPPED)


@lru_cache(maxsize=8)
def _load(path: Path) -> Catalogue:
    files = sorted(path.glob("*.toml")) if path.is_dir() else [path]
    documents: list[Document] = []
    faults: list[Fault] = []
    merged: dict[str, Any] = {}
    for file in files:
        try:
            documents.append(read_toml(file, CatalogueError))
            part = build(Catalogue, documents[-1], CatalogueError)
        except CatalogueError as problem:
            faults += problem.faults
            continue
        for item in fields(Catalogue):
            if item.name != "digest":
                merged[item.name] = (*merged.get(item.name, ()), *getattr(part, item.name))
    if path != SHIPPED:
        faults += safety_faults(documents, _load(SHIPPED).kinds)
    if len(documents) == len(files):  # a file that cannot be read would make its slugs unknown
        faults += cross_faults(documents, [item.name for item in fields(Catalogue)], str(path))
    if faults:
        raise CatalogueError(sorted(faults, key=lambda fault: (fault.file, fault.line or 0)))
    if path != SHIPPED:
        # What a shipped kind does to battery and liquid stands, said again or not.
        merged["kind"] = tuple(as_shipped(kind, _load(SHIPPED).kinds) for kind in merged["kind"])
        if not merged.get("ruin"):
            known = {kind.slug for kind in merged["kind"]}
            merged["ruin"] = tuple(ruin for ruin in _load(SHIPPED).ruin if ruin.kind in known)
    if not merged.get("family"):
        slugs = dict.fromkeys(kind.family for kind in merged["kind"])
        merged["family"] = tuple(Family(s, s.replace("-", " ")) for s in slugs)
    content = repr(sorted((name, merged[name]) for name in merged))
    return Catalogue(**merged, digest=hashlib.sha256(content.encode()).hexdigest()[:16])
