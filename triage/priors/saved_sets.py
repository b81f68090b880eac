"""Prior sets on disk: a named set is a folder of TOML files; what differs between two; saving one.

A set is changed by editing the TOML text it came from, so that comments and
order stay as a person wrote them. It is checked as it would be read before it
takes its place, and takes it in one step.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields, is_dataclass
from pathlib import Path
from typing import Any

import tomlkit

from triage.domain.catalogue import Catalogue
from triage.errors import Fault, PriorFileError
from triage.priors.prior_set import PriorSet, load_priors
from triage.priors.success import KindBelief
from triage.priors.tuned_jobs import FILE as TUNED
from triage.priors.tuned_jobs import TunedJobs


@dataclass(frozen=True)
class BeliefChange:
    """One value that differs between two sets; None where a set does not have it."""

    file: str
    place: str
    before: Any
    after: Any

    def __str__(self) -> str:
        """One line for a reader."""
        return f"{self.file}, {self.place}: {_said(self.before)} -> {_said(self.after)}"


@dataclass(frozen=True)
class SavedSet:
    """A set as it was saved, and what it changed of the one it came from."""

    folder: Path
    priors: PriorSet
    changes: tuple[BeliefChange, ...]


def named_sets(root: Path) -> tuple[str, ...]:
    """Names of the sets that lie under a folder, in order: every folder with a TOML file of a model."""
    names = {f"{item.name}.toml" for item in fields(PriorSet)}
    found = (path for path in Path(root).glob("*") if path.is_dir() and not path.name.startswith("."))
    return tuple(sorted(path.name for path in found if any((path / name).is_file() for name in names)))


def differences(before: PriorSet, after: PriorSet) -> tuple[BeliefChange, ...]:
    """Every value that differs between two sets, in the order of the files."""
    found: list[BeliefChange] = []
    for item in fields(PriorSet):
        if not item.repr:  # what is no assumption has no part in the digest either
            continue
        old, new = (dict(_leaves(getattr(s, item.name), "")) for s in (before, after))
        places = dict.fromkeys((*old, *new))
        found += [
            BeliefChange(item.name, p, old.get(p), new.get(p)) for p in places if old.get(p) != new.get(p)
        ]
    return tuple(found)


def _leaves(value: Any, place: str) -> Iterator[tuple[str, Any]]:
    """Yield each value under an assumption with its place; entries of a list go by their slug."""
    if is_dataclass(value):
        for item in (item for item in fields(value) if item.repr):
            yield from _leaves(getattr(value, item.name), f"{place}, {item.name}".removeprefix(", "))
    elif isinstance(value, tuple) and value and all(is_dataclass(entry) for entry in value):
        for number, entry in enumerate(value, 1):
            yield from _leaves(entry, f"{place} {getattr(entry, 'slug', number)}")
    else:
        yield place, value


def save_set(
    folder: Path,
    catalogue: Catalogue,
    beliefs: Iterable[KindBelief],
    came_from: Path | None,
    tuned: TunedJobs | None = None,
) -> SavedSet:
    """Save a set that differs from another in some assumptions about success.

    Parameters
    ----------
    folder : the new set's; free, or the one it came from, which is then changed.
    came_from : the set's folder; None for the defaults of every file.
    tuned : jobs that the assumptions come from, added to those of the set.

    Raises
    ------
    PriorFileError : the folder is taken, or the set would not be readable.
    """
    try:
        return _save(Path(folder), catalogue, beliefs, came_from, tuned or TunedJobs())
    except OSError as problem:
        wrong = f"cannot be written ({problem.strerror})"
        raise PriorFileError([Fault(str(folder), None, "folder", wrong, "a folder to write in")]) from problem


def _save(
    folder: Path,
    catalogue: Catalogue,
    beliefs: Iterable[KindBelief],
    came_from: Path | None,
    tuned: TunedJobs,
) -> SavedSet:
    before = load_priors(came_from, catalogue)
    same = came_from is not None and folder.exists() and folder.samefile(came_from)
    if folder.exists() and not same:
        raise PriorFileError([Fault(str(folder), None, "folder", "is taken", "a new name")])
    folder.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=".writing-", dir=folder.parent) as scratch:
        made = Path(scratch) / "set"
        made.mkdir()
        for path in sorted(Path(came_from).iterdir()) if came_from else ():
            if path.is_file():
                shutil.copy(path, made)
        text = (made / "success.toml").read_text(encoding="utf-8") if (made / "success.toml").exists() else ""
        (made / "success.toml").write_text(with_beliefs(text, beliefs), encoding="utf-8")
        jobs = before.tuned | tuned
        if jobs.jobs:
            (made / TUNED).write_text(jobs.text(), encoding="utf-8")
        priors = load_priors(made, catalogue)
        if same:
            # What guards against double use goes first: cut short, it guards too much.
            for name in (TUNED, "success.toml"):
                if (made / name).exists():
                    os.replace(made / name, folder / name)
        else:
            os.replace(made, folder)
    return SavedSet(folder, priors, differences(before, priors))


def with_beliefs(text: str, beliefs: Iterable[KindBelief]) -> str:
    """Return the text of a success.toml with some assumptions changed or added."""
    document = tomlkit.parse(text)
    entries = document.setdefault("kind", tomlkit.aot())
    for belief in beliefs:
        entry = next((held for held in entries if held.get("slug") == belief.slug), None)
        if entry is None:
            entry = tomlkit.table()
            entry["slug"] = belief.slug
            entries.append(entry)
            entry = entries[-1]
        entry["chance"], entry["jobs"] = belief.chance, belief.jobs
        if belief.reason:
            entry["reason"] = belief.reason
        else:
            entry.pop("reason", None)
    return tomlkit.dumps(document)


def _said(value: Any) -> str:
    return "nothing" if value is None else f'"{value}"' if isinstance(value, str) else str(value)
