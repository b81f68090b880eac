"""The catalogue: what can be wrong with a unit, what closes it, what it calls for.

The catalogue holds structure and words only. Every number that a shop's own
record replaces (chances, minutes, prices) lives under `models/`.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field, fields
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any, Literal

from triage.domain.catalogue_faults import cross_faults
from triage.domain.catalogue_safety import as_shipped, safety_faults
from triage.domain.documents import Document, build, read_toml
from triage.domain.safety.facts import OPENED, Opened
from triage.domain.safety.rules import Act, Source
from triage.errors import CatalogueError, Fault

Access = Opened
ACCESS_LEVELS: tuple[Access, ...] = OPENED

SHIPPED = Path(__file__).parent / "catalogue"


@dataclass(frozen=True)
class Family:
    """A group of kinds that share strength in the models."""

    slug: str
    name: str


@dataclass(frozen=True)
class Zone:
    """A place on a unit, in the words of the bench."""

    slug: str
    name: str


@dataclass(frozen=True)
class DamageKind:
    """One kind of damage.

    `role` is "repair" (work closes it), "risk" (it only makes hidden faults
    likelier, like a bent board) or "stop" (no price and no work).
    `needed` says whether a unit can be sold as fully working without it.
    `account_lock` says that it is a lock which its owner can take off.
    `battery` says what the finding means for the cell: nothing, suspect until
    seen, or a hazard now. `seen_at` is the access at which a suspected one is
    settled by looking. `blocks_data` says whether the owner's data cannot be
    read until it is closed. `raises` lists the hidden faults it makes likelier.
    """

    slug: str
    name: str
    family: str
    zones: tuple[str, ...] = ()
    severities: tuple[str, str, str] = ("minor", "works badly", "function lost")
    role: Literal["repair", "risk", "stop"] = "repair"
    needed: bool = True
    hidden: bool = False
    seen_at: Access = "opened"
    battery: Literal["none", "suspect", "hazard"] = "none"
    account_lock: bool = False
    liquid: bool = False
    blocks_data: bool = False
    raises: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    lost_function: str = ""
    plain: str = ""

    @property
    def discharged(self) -> bool:
        """Whether it says that the cell itself was measured too low to charge."""
        return self.battery == "suspect" and self.family == "power-cell"


@dataclass(frozen=True)
class Repair:
    """Work that closes one or more kinds.

    `closes` is ordered: the first kind present on the unit leads, and its
    chance and minutes are the repair's. `after` names repairs that must be
    settled first when the unit needs them. `acts` is what the hands do; what
    each needs of battery and liquid stands in the safety rules. `moves` names the parts carried over from
    the old assembly. `plain` says it to the owner. A repair whose slug is not
    the first one offered for a kind is another method.
    """

    slug: str
    name: str
    closes: tuple[str, ...]
    parts: tuple[str, ...] = ()
    access: Access = "opened"
    after: tuple[str, ...] = ()
    acts: tuple[Act, ...] = ()
    cautions: tuple[str, ...] = ()
    verify: tuple[str, ...] = ()
    moves: tuple[str, ...] = ()
    irreversible: bool = False
    board_heat: bool = False
    plain: str = ""

    @property
    def new_battery(self) -> bool:
        """Whether a new battery is fitted."""
        return "battery" in self.parts


@dataclass(frozen=True)
class Check:
    """A diagnostic test: what it reveals, at which access, with which hazards."""

    slug: str
    name: str
    reveals: tuple[str, ...]
    access: Access = "closed"
    acts: tuple[Act, ...] = ()
    cautions: tuple[str, ...] = ()
    needs_part: str = ""
    result_words: tuple[str, str] = ("finds it", "finds nothing")
    shares_error_with: tuple[str, ...] = ()


@dataclass(frozen=True)
class Caution:
    """A hazard and what to do about it, with where the rule comes from."""

    slug: str
    title: str
    lines: tuple[str, ...]
    source: str
    mark: Source
    always: bool = False


@dataclass(frozen=True)
class VerificationLine:
    """One line of the final check: what is measured and its pass limit.

    `always` says when it is asked for whatever was repaired: once the unit
    has been "opened", or before a "sale". A line with a `unit` is read off an
    instrument and passes between `least` and `most`; the others are a look.
    """

    slug: str
    name: str
    limit: str
    source: str
    mark: Source
    after_sealing: bool = False
    always: Literal["", "opened", "sale"] = ""
    unit: Literal["", "A", "V", "mA", "°C"] = ""
    least: float | None = None
    most: float | None = None

    def __post_init__(self) -> None:
        """Raise ValueError where a number has no unit, or a unit no number."""
        numbers = [limit for limit in (self.least, self.most) if limit is not None]
        if bool(self.unit) != bool(numbers) or numbers != sorted(numbers):
            raise ValueError("a unit together with least, most or both, least below most")

    def passes(self, reading: float) -> bool:
        """Whether a reading lies within the limits."""
        low = self.least is None or reading >= self.least
        return low and (self.most is None or reading <= self.most)


@dataclass(frozen=True)
class Part:
    """A part a repair uses; `paired` ones are bound to their unit by identity.

    `plain` is its name for the owner, where the bench's own would not do.
    """

    slug: str
    name: str
    paired: bool = False
    plain: str = ""


@dataclass(frozen=True)
class Symptom:
    """What the bench sees before the cause is known; `access` is where tracing starts."""

    slug: str
    name: str
    causes: tuple[str, ...]
    access: Access = "opened"
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class BenchStep:
    """A step every plan shares (open, seal, verify ...) and the cautions it calls for.

    `cautions` always; the others when the unit has a hazardous or suspect
    cell, liquid, or broken glass.
    """

    slug: str
    name: str
    cautions: tuple[str, ...] = ()
    if_hazard: tuple[str, ...] = ()
    if_suspect: tuple[str, ...] = ()
    if_wet: tuple[str, ...] = ()
    if_glass: tuple[str, ...] = ()


@dataclass(frozen=True)
class Bundle:
    """Findings that usually come together, offered as one tap at intake."""

    slug: str
    name: str
    cause: str
    kinds: tuple[str, ...]


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

    def repairs_for(self, kind: str) -> tuple[Repair, ...]:
        """Repairs that close a kind, in catalogue order: the first is the usual one."""
        return tuple(repair for repair in self.repair if kind in repair.closes)

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
    if not merged.get("family"):
        slugs = dict.fromkeys(kind.family for kind in merged["kind"])
        merged["family"] = tuple(Family(s, s.replace("-", " ")) for s in slugs)
    content = repr(sorted((name, merged[name]) for name in merged))
    return Catalogue(**merged, digest=hashlib.sha256(content.encode()).hexdigest()[:16])
