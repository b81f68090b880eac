"""What a catalogue is made of: damage kinds, repairs, checks, cautions, lines of the final check, parts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Field

from triage.domain.safety.facts import OPENED, Opened
from triage.domain.safety.rules import Act, Source

Access = Opened
ACCESS_LEVELS: tuple[Access, ...] = OPENED
# Parts that a wreck yields; `rest` is everything else that is sold, as one bundle.
YieldPart = Literal["main-board", "display", "cameras", "housing", "rest"]
RuinedPart = Literal["main-board", "display", "cameras", "housing", "rest", "testing"]
_Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]


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
    read until it is closed; `boots` is False where it cannot be started as
    it lies. `raises` lists the hidden faults it makes likelier.
    `also` holds other words that a bench may search for it by.
    `covers` lists lesser damage of the same part: beside this one, seen, it is
    not counted apart.
    """

    slug: str
    name: str
    family: str
    zones: tuple[str, ...] = ()
    severities: tuple[str, str, str] = ("minor", "works poorly", "function lost")
    role: Literal["repair", "risk", "stop"] = "repair"
    needed: bool = True
    hidden: bool = False
    seen_at: Access = "opened"
    battery: Literal["none", "suspect", "hazard"] = "none"
    account_lock: bool = False
    liquid: bool = False
    blocks_data: bool = False
    boots: bool = True
    raises: tuple[str, ...] = ()
    covers: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    lost_function: str = ""
    plain: str = ""
    also: tuple[str, ...] = ()

    @property
    def depth(self) -> int:
        """Access level at which a look settles whether it is there; a bad cell shows on opening."""
        opened = ACCESS_LEVELS.index("opened")
        return opened if self.battery == "hazard" else max(ACCESS_LEVELS.index(self.seen_at), opened)

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
    the old assembly. `spoilt_by` names damage, seen, that leaves nothing
    to transfer: then the repair is not offered. `plain` says it to the owner. A repair whose slug is not
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
    spoilt_by: tuple[str, ...] = ()
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
    result_words: tuple[str, str] = ("fault found", "clear")
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
    has been "opened", before a "sale", or of "data" that were saved. A line with a `unit` is read off an
    instrument and passes between `least` and `most`; the others are a look.
    """

    slug: str
    name: str
    limit: str
    source: str
    mark: Source
    after_sealing: bool = False
    always: Literal["", "opened", "sale", "data"] = ""
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

    `plain` is its name for the owner, where the bench's own would not do. `holds_data` : what was on
    the unit is in it. `stays` : nobody takes it out for the shelf: used up, glued in, or soldered.
    `replaces` : the part of a wreck that comes out for it, which stays as it was.
    """

    slug: str
    name: str
    paired: bool = False
    plain: str = ""
    holds_data: bool = False
    stays: bool = False
    replaces: Literal["", "main-board", "display", "cameras", "housing", "rest"] = ""


@dataclass(frozen=True)
class Ruin:
    """What one damage does to one part that a wreck yields; common practice, no source.

    part : "testing" where the device no longer starts, so that no part of it can be tested in it.
    chance : that the part is worth nothing, at severity 1, 2, 3.
    left : share of its price that the part fetches otherwise, at severity 1, 2, 3. Of damage
        that is not seen at intake, the share lost counts as a chance that nothing is left.
    mechanism : of ruins of one part by one mechanism only the largest counts; "" is one of its own.
    stays : whether a repair of the damage leaves the part as it is.
    """

    kind: str
    part: RuinedPart
    chance: tuple[_Share, _Share, _Share] = (0.0, 0.0, 0.0)
    left: tuple[_Share, _Share, _Share] = (1.0, 1.0, 1.0)
    mechanism: str = ""
    stays: bool = False


@dataclass(frozen=True)
class Symptom:
    """What the bench sees before the cause is known.

    `access` is where tracing starts; `boots` is False where it cannot be started as it lies.
    """

    slug: str
    name: str
    causes: tuple[str, ...]
    access: Access = "opened"
    cautions: tuple[str, ...] = ()
    boots: bool = True
    also: tuple[str, ...] = ()


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
