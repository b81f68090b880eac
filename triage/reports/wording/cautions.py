"""Each caution once in full, at the first act it is for; afterwards its title and where it stands."""

from __future__ import annotations

from collections.abc import Container, Iterable
from dataclasses import dataclass

from triage.domain.catalogue_entries import Caution
from triage.policy.answer.assessment import PlanStep

ABOVE = 0


@dataclass(frozen=True)
class Mentions:
    """What is to be said of cautions at one act.

    whole : those said in full here.
    before : those said in full before, each with the number of the step; `ABOVE` is before the plan.
    """

    whole: tuple[Caution, ...]
    before: tuple[tuple[Caution, int], ...]


class CautionsSaid:
    """Which cautions an answer has said in full already, and at which step."""

    def __init__(self, above: Iterable[Caution] = (), at_step: Container[str] = ()) -> None:
        """Say some above the plan already.

        Parameters
        ----------
        at_step : slugs of those of them that are said in full at their step all the same.
        """
        self._stopping = {caution.slug for caution in above}
        self._place = {slug: ABOVE for slug in self._stopping if slug not in at_step}

    def must_be_said(self, caution: Caution) -> bool:
        """Whether a caution stands in every answer, however short: of the battery, of liquid, of rights."""
        return caution.always or caution.slug in self._stopping

    def at(self, number: int, cautions: Iterable[Caution]) -> Mentions:
        """Say cautions at a step, or at a branch of it: each once, whole the first time."""
        once = {caution.slug: caution for caution in cautions}.values()
        before = tuple(
            (caution, self._place[caution.slug]) for caution in once if caution.slug in self._place
        )
        whole = tuple(caution for caution in once if caution.slug not in self._place)
        self._place.update({caution.slug: number for caution in whole})
        return Mentions(whole, before)


def first_places(steps: Iterable[PlanStep]) -> dict[str, int]:
    """By slug, the number of the step of a plan, or of a branch of it, that a caution is first for."""
    place: dict[str, int] = {}
    for number, step in enumerate(steps, start=1):
        later = (one for branch in step.branches for one in (*branch.steps, *branch.ending))
        for caution in (caution for one in (step, *later) for caution in one.cautions):
            place.setdefault(caution.slug, number)
    return place


def whole_words(caution: Caution) -> str:
    """Title and rule of a caution."""
    return f"{caution.title}. {' '.join(caution.lines)}"


def place_words(number: int) -> str:
    """Where a caution was said in full."""
    return "see above" if number == ABOVE else f"see step {number}"


def before_words(before: Iterable[tuple[Caution, int]]) -> str:
    """Cautions that were said in full before, in one line."""
    return "; ".join(f"{caution.title} ({place_words(number)})" for caution, number in before)
