"""The steps of a data job, in order, with the cautions that each calls for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import BenchStep, Caution, Repair
from triage.domain.data_job import DataFacts
from triage.domain.units.unit import Unit
from triage.policy.problem.normalise import cell_hazard, cell_suspect, wet


@dataclass(frozen=True)
class DataStep:
    """One step: its slug and name in the catalogue, the repairs that it makes, its cautions."""

    slug: str
    name: str
    cautions: tuple[Caution, ...]
    repairs: tuple[str, ...] = ()


def data_steps(
    unit: Unit, catalogue: Catalogue, facts: DataFacts, repairs: Sequence[Repair]
) -> tuple[DataStep, ...]:
    """Steps of a data job, safety and consent first; what does not apply is left out.

    Parameters
    ----------
    repairs : that bring the board to run, in the order of the plan.
    """
    steps = []
    for slug in _slugs(unit, catalogue, facts, repairs):
        step = catalogue.steps.get(slug, BenchStep(slug, slug.replace("-", " ").capitalize()))
        made = tuple(repairs) if slug == "data-revive" else ()
        called = [*step.cautions, *(caution for repair in made for caution in repair.cautions)]
        if cell_hazard(unit, catalogue):
            called += step.if_hazard
        elif cell_suspect(unit, catalogue):
            called += step.if_suspect
        if wet(unit, catalogue):
            called += step.if_wet
        known = catalogue.cautions
        cautions = tuple(known[caution] for caution in dict.fromkeys(called) if caution in known)
        steps.append(DataStep(slug, step.name, cautions, tuple(repair.name for repair in made)))
    return tuple(steps)


def _slugs(unit: Unit, catalogue: Catalogue, facts: DataFacts, repairs: Sequence[Repair]) -> Iterator[str]:
    if cell_hazard(unit, catalogue):
        yield "make-safe"
    yield from ("ownership", "data-ask")
    if facts.irreplaceable:
        yield "data-refer"
    if cell_suspect(unit, catalogue) and not cell_hazard(unit, catalogue):
        yield "battery-look"
    if wet(unit, catalogue):
        yield from ("data-clean", "data-dry")
    if repairs:
        yield "data-revive"
    yield from ("data-copy", "data-open", "data-hand-over", "return-unfixed", "data-erase-copy")
