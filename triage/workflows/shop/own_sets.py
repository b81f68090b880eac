"""The shop's own named sets of assumptions: where they lie, what each holds, and saving one."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass, field, replace
from pathlib import Path

from triage.domain.catalogue import Catalogue
from triage.errors import BeliefError, Fault, TriageError
from triage.ledger.opening import folder_of_record, ledger_url
from triage.priors.prior_set import PriorSet, load_priors
from triage.priors.saved_sets import SavedSet, named_sets, save_set
from triage.priors.success import KindBelief
from triage.shipped import shipped
from triage.workflows.shop.shop import DEMO_PRIORS
from triage.workflows.shop.shop_files import ShopFiles

# Names the set in use, in the home of the sets.
_CHOSEN = "in-use.txt"
# Letters of any alphabet, digits, spaces and hyphens: a name is a folder's, and leads nowhere else.
_NAME = re.compile(r"[^\W_](?:[\w -]{0,38}[^\W_])?")


@dataclass(frozen=True)
class OwnSet:
    """One set of assumptions that the shop can start from.

    folder : None where nobody has spoken: every kind takes the default.
    in_use : whether the shop was opened with it.
    problem : why it cannot be read; "" where it can.
    """

    name: str
    folder: Path | None
    in_use: bool = False
    priors: PriorSet = field(default_factory=PriorSet)
    problem: str = ""

    @property
    def words(self) -> str:
        """Its name, and whether it is the one in use."""
        return f"{self.name} (in use)" if self.in_use else self.name


def sets_home(where: str | None = None) -> Path:
    """`$TRIAGE_BELIEFS`, else the folder `beliefs` beside the record's file (or where that would be).

    where : the record, as `ledger_url` takes it; the default one when None.
    """
    given = os.environ.get("TRIAGE_BELIEFS", "")
    return Path(given) if given else folder_of_record(ledger_url(where)) / "beliefs"


def own_sets(in_use: Path | None, catalogue: Catalogue, home: Path | None = None) -> tuple[OwnSet, ...]:
    """Every set the shop can start from: the one in use, then its own by name.

    Parameters
    ----------
    in_use : folder the shop was opened with, as `beliefs_folder` says.
    home : where its own sets lie; `sets_home()` when None.
    """
    home = home or sets_home()
    name = "no assumptions of your own" if in_use is None else in_use.name
    found = [_read(name, in_use, catalogue, in_use=True)]
    for own in named_sets(home):
        folder = home / own
        if in_use is None or not folder.samefile(in_use):
            found.append(_read(own, folder, catalogue))
    return tuple(found)


def _read(name: str, folder: Path | None, catalogue: Catalogue, in_use: bool = False) -> OwnSet:
    try:
        return OwnSet(name, folder, in_use, load_priors(folder, catalogue))
    except TriageError as refusal:
        return OwnSet(name, folder, in_use, problem=str(refusal))


def named_folder(name: str, home: Path | None = None) -> Path:
    """Folder of a set of the shop's own.

    Raises
    ------
    BeliefError : the name cannot be one.
    """
    name = name.strip()
    if not _NAME.fullmatch(name):
        wrong = f"{name!r} is not a possible name of a set" if name else "the set has no name"
        allowed = "up to 40 letters and digits, with spaces or hyphens between them"
        raise BeliefError([Fault("set", None, "name", wrong, allowed)])
    return (home or sets_home()) / name


def choose_set(name: str | None, home: Path | None = None) -> None:
    """Make a set of the shop's own the one that is in use, from the next fit on; None goes back.

    Raises
    ------
    BeliefError : there is no such set, or the choice cannot be written.
    """
    home = home or sets_home()
    if name is not None and name not in named_sets(home):
        wrong, allowed = f"{name!r} is not a set of yours", ", ".join(named_sets(home)) or "you have none yet"
        raise BeliefError([Fault("set", None, "name", wrong, allowed)])
    try:
        if name is None:
            (home / _CHOSEN).unlink(missing_ok=True)
        else:
            waiting = home / f".{_CHOSEN}-{os.getpid()}"
            waiting.write_text(name, encoding="utf-8")
            os.replace(waiting, home / _CHOSEN)
    except OSError as problem:
        wrong = f"cannot be written ({problem.strerror})"
        raise BeliefError(
            [Fault(str(home), None, "folder", wrong, "a folder with write permission")]
        ) from problem


def chosen_set(home: Path | None = None) -> Path | None:
    """Folder of the set that was chosen; None where none was, or it is there no longer."""
    home = home or sets_home()
    try:
        name = (home / _CHOSEN).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        return None
    return home / name if name in named_sets(home) else None


def with_chosen_set(files: ShopFiles, where: str | None = None) -> ShopFiles:
    """The same files, with the set that was chosen in place of the demo's; a named folder stands."""
    chosen = chosen_set(sets_home(where)) if files.priors is None else None
    return replace(files, priors=chosen) if chosen else files


def keep_belief(belief: KindBelief, folder: Path, came_from: Path | None, catalogue: Catalogue) -> SavedSet:
    """Save a set with one assumption changed, and why.

    Parameters
    ----------
    folder, came_from : as in `save_set`.

    Raises
    ------
    BeliefError : no reason is given, or the set is the shipped one.
    PriorFileError : as in `save_set`.
    """
    if not belief.reason.strip():
        wrong = "an assumption needs a reason; you will want to read it if the record disagrees"
        raise BeliefError([Fault(belief.slug, None, "reason", wrong, "what you have seen, in your words")])
    refuse_shipped(folder)
    return save_set(folder, catalogue, [belief], came_from)


def refuse_shipped(folder: Path) -> None:
    """Refuse to write in the shipped demo's set; raises BeliefError."""
    if folder.exists() and folder.samefile(shipped(DEMO_PRIORS)):
        wrong = "is the shipped demo set, which cannot be changed"
        raise BeliefError([Fault(str(folder), None, "folder", wrong, "a new name")])
