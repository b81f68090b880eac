"""From stated counts to the form a prior file holds: a mean chance, and the jobs it is worth.

The logit of the chance of a fresh job is believed to be normal, as the success
model takes it (`priors.kind_beliefs`). What is stated are quantiles of
it: its median, and a value it is surprising to find it beyond.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq, least_squares
from scipy.special import expit, logit, ndtri

from triage.elicitation.statement import Statement, checked
from triage.errors import BeliefError, Fault
from triage.priors.kind_beliefs import WIDEST, belief_logit, belief_of_logit

# Worth of an assumption, in jobs, that a prior file can hold (`priors.success.Positive`).
LEAST_JOBS, MOST_JOBS = 1.0, 1000.0
# Largest difference between asked and achieved that goes unsaid, as a chance.
TOLERANCE = 0.01


@dataclass(frozen=True)
class Quantile:
    """One thing asked of an assumption and what the assumption gives.

    words : "fewer", "about" or "more". level : chance of lying below.
    asked, achieved : value of the chance at that level.
    """

    words: str
    level: float
    asked: float
    achieved: float

    @property
    def off(self) -> bool:
        """Whether the two differ by more than 1 in 100."""
        return abs(self.asked - self.achieved) > TOLERANCE


@dataclass(frozen=True)
class MatchedBelief:
    """A statement as a prior file holds it.

    chance, jobs : as in `priors.success.KindBelief`, rounded as they are written.
    quantiles : asked and achieved, of the assumption by itself.
    worth_stated : False where only one number was stated, and `jobs` is the default.
    """

    statement: Statement
    chance: float
    jobs: float
    quantiles: tuple[Quantile, ...]
    worth_stated: bool

    @property
    def warnings(self) -> tuple[str, ...]:
        """What was asked and could not be met."""
        return tuple(
            f"{item.words}: asked {item.asked:.3f}, achieved {item.achieved:.3f}"
            for item in self.quantiles
            if item.off
        )


def match_belief(statement: Statement, default_jobs: float, name: str = "belief") -> MatchedBelief:
    """Find the assumption whose quantiles are those stated.

    Parameters
    ----------
    default_jobs : what a statement of one number only is worth.
    name : what faults call the place it was stated.

    Raises
    ------
    BeliefError : the statement contradicts itself, or is firmer or vaguer than a
        prior file can say.
    """
    said = checked(statement, name)
    about = float(logit(said.about / said.of))
    ends = [(words, level, value) for words, level, value in said.quantiles if words != "about"]
    if not ends:
        middle, sd = about, _sd_worth(about, default_jobs)
    else:
        found = [_sd_for(about, *end, said.of, name) for end in ends]
        middle, sd = _closest(said, about, float(np.mean(found))) if len(found) == 2 else (about, found[0])
    chance, jobs = belief_of_logit(middle, sd)
    chance = min(max(round(chance, 4), 0.0001), 0.9999)
    jobs = min(max(round(jobs, 2), LEAST_JOBS), MOST_JOBS) if ends else default_jobs
    mean, sd = belief_logit(chance, jobs)
    achieved = tuple(
        Quantile(words, level, value, float(expit(mean + sd * ndtri(level))))
        for words, level, value in said.quantiles
    )
    return MatchedBelief(said, chance, jobs, achieved, bool(ends))


def _sd_worth(median: float, jobs: float) -> float:
    """Sd of a logit of that median at which it is worth `jobs`; the widest where none is worth so little."""

    def gap(sd: float) -> float:
        return belief_of_logit(median, sd)[1] - jobs

    return WIDEST if gap(WIDEST) >= 0 else float(brentq(gap, 1e-4, WIDEST, xtol=1e-10))


def _sd_for(median: float, words: str, level: float, value: float, of: float, name: str) -> float:
    """Sd at which the distribution of that median, a logit, has `value` at `level`."""
    sd = float((logit(value) - median) / ndtri(level))
    firm, vague = _sd_worth(median, MOST_JOBS), _sd_worth(median, LEAST_JOBS)
    if not firm < sd < vague:
        too, limit = ("surer", MOST_JOBS) if sd <= firm else ("vaguer", LEAST_JOBS)
        low, high = sorted(float(expit(median + end * ndtri(level))) * of for end in (firm, vague))
        wrong = f"{value * of:g} is {too} than {limit:g} job{'s' if limit > 1 else ''} could make anyone"
        raise BeliefError([Fault(name, None, words, wrong, f"above {low:.2f} and below {high:.2f}")])
    return sd


def _closest(said: Statement, median: float, sd: float) -> tuple[float, float]:
    """Mean and sd of the logit nearest to three quantiles, which two numbers cannot in general meet."""
    levels, values = (np.array(column) for column in zip(*(q[1:] for q in said.quantiles), strict=True))

    def gaps(x: np.ndarray) -> np.ndarray:
        return expit(x[0] + np.exp(x[1]) * ndtri(levels)) - values

    start, bounds = [median, np.log(sd)], ([-12, np.log(1e-3)], [12, np.log(WIDEST)])
    found = least_squares(gaps, start, bounds=bounds, xtol=1e-12, ftol=1e-12).x
    return float(found[0]), float(np.exp(found[1]))
