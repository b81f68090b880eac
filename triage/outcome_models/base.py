"""What every outcome model is: a design from history, a PyMC model, what is kept of it.

A model is plain data about four functions, so that one conformance test can
run them all and a new one is an entry in the registry.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.priors.prior_set import PriorSet


@dataclass(frozen=True)
class OutcomeModel:
    """One outcome model.

    name : also the name of its prior file and of its stored draws.
    purpose : one line for people.
    design : (history, catalogue, priors) -> frozen design with `coords`
        (dict of dimension name to labels), or None when the history lacks
        what the model needs; the fit then keeps prior draws for it.
    needs : what the history must have, said to the user when it lacks it.
    build : (design, priors) -> pymc.Model; dims named as in `coords`.
    prior_design : (catalogue, priors) -> the same design with no rows, for
        draws from the prior alone ("belief only").
    stored : names of the variables kept, each with draw as first dimension;
        one whose dimension has no levels is not in the model.
    form : counts the changes after which older draws mean something else.
    """

    name: str
    purpose: str
    needs: str
    design: Callable[[History, Catalogue, PriorSet], Any | None]
    prior_design: Callable[[Catalogue, PriorSet], Any]
    build: Callable[[Any, PriorSet], Any]
    stored: tuple[str, ...]
    form: int = 1
