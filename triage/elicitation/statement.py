"""An assumption about a success chance as a technician states it, in counts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from triage.errors import BeliefError, Fault


@dataclass(frozen=True)
class Statement:
    """Such as: of 20 at severity 2 I would fix about 15, and fewer than 11 would surprise me.

    about : how many of `of` would be fixed, as likely to be more as to be fewer.
    fewer, more : fewer than this, or more, would surprise; None where nothing is said.
    surprise : chance that what surprises is so, for each side (1 in 20).
    """

    about: float
    of: float = 20
    fewer: float | None = None
    more: float | None = None
    surprise: float = 0.05

    @property
    def words(self) -> str:
        """The statement as a sentence."""
        said = f"of {self.of:g} at severity 2, about {self.about:g} are fixed"
        limits = [f"fewer than {self.fewer:g}"] if self.fewer is not None else []
        limits += [f"more than {self.more:g}"] if self.more is not None else []
        return said + (f"; {' or '.join(limits)} would be surprising" if limits else "")

    @property
    def quantiles(self) -> tuple[tuple[str, float, float], ...]:
        """What is asked of the chance: words, level, value."""
        asked = [("about", 0.5, self.about / self.of)]
        if self.fewer is not None:
            asked.insert(0, ("fewer", self.surprise, self.fewer / self.of))
        if self.more is not None:
            asked.append(("more", 1 - self.surprise, self.more / self.of))
        return tuple(asked)


def checked(statement: Statement, name: str = "belief") -> Statement:
    """Return a statement that holds together.

    Parameters
    ----------
    name : what faults call the place it was stated.

    Raises
    ------
    BeliefError : every part of it that cannot be, with what is allowed.
    """
    found = [Fault(name, None, *fault) for fault in _faults(statement)]
    if found:
        raise BeliefError(found)
    return statement


def _faults(said: Statement) -> Iterator[tuple[str, str, str]]:
    """Yield field, what is wrong, what is allowed."""
    if not 2 <= said.of <= 1000:
        yield "of", f"{said.of:g} devices", "from 2 to 1000"
        return
    if not 0 < said.about < said.of:
        wrong = f"{said.about:g} of {said.of:g} leaves no uncertainty"
        yield "about", wrong, f"above 0 and below {said.of:g}; say {said.of - 0.5:g} for nearly all"
        return
    if not 0.001 <= said.surprise <= 0.4:
        yield "surprise", f"a chance of {said.surprise:g}", "from .001 to .4, such as .05 for 1 in 20"
    if said.fewer is not None and not 0 < said.fewer < said.about:
        wrong = f"the lower limit {said.fewer:g} is not below the expected {said.about:g}"
        if said.fewer <= 0:
            wrong = f"fewer than {said.fewer:g} is impossible"
        yield "fewer", wrong, f"above 0 and below {said.about:g}"
    if said.more is not None and not said.about < said.more < said.of:
        wrong = f"the upper limit {said.more:g} is not above the expected {said.about:g}"
        if said.more >= said.of:
            wrong = f"more than {said.more:g} of {said.of:g} is impossible"
        yield "more", wrong, f"above {said.about:g} and below {said.of:g}"
