"""From stated counts to the form a prior file holds: a mean chance, and the jobs it is worth.

The assumption is a Beta distribution of the chance of a fresh job, with
`chance x jobs` imagined successes and `(1 - chance) x jobs` imagined failures.
What is stated are quantiles of it: its median, and a value it is surprising
to find it beyond.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq, least_squares
from scipy.special import betaincinv, expit

from triage.elicitation.statement import Statement, checked
from triage.errors import BeliefError, Fault

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
    about = said.about / said.of
    ends = [(words, level, value) for words, level, value in said.quantiles if words != "about"]
    if not ends:
        jobs = default_jobs
        chance = _mean_for(about, jobs)
    else:
        found = [_jobs_for(about, *end, said.of, name) for end in ends]
        jobs = float(np.sqrt(np.prod(found))) if len(found) == 2 else found[0]
        chance = _mean_for(about, jobs)
        if len(found) == 2:
            chance, jobs = _closest(said, chance, jobs)
    chance, jobs = min(max(round(chance, 4), 0.0001), 0.9999), round(jobs, 2)
    achieved = tuple(
        Quantile(words, level, value, float(betaincinv(chance * jobs, (1 - chance) * jobs, level)))
        for words, level, value in said.quantiles
    )
    return MatchedBelief(said, chance, jobs, achieved, bool(ends))


def _mean_for(median: float, jobs: float) -> float:
    """Mean of the Beta distribution worth `jobs` with that median."""

    def gap(logit: float) -> float:
        mean = expit(logit)
        return betaincinv(mean * jobs, (1 - mean) * jobs, 0.5) - median

    return float(expit(brentq(gap, -12, 12, xtol=1e-12)))


def _jobs_for(median: float, words: str, level: float, value: float, of: float, name: str) -> float:
    """Worth at which the distribution of that median has `value` at `level`."""

    def at(log_jobs: float) -> float:
        jobs = np.exp(log_jobs)
        mean = _mean_for(median, jobs)
        return float(betaincinv(mean * jobs, (1 - mean) * jobs, level))

    ends = np.log([LEAST_JOBS, MOST_JOBS]).tolist()
    vague, firm = (at(end) for end in ends)
    if not min(vague, firm) < value < max(vague, firm):
        too = "surer" if abs(value - median) <= abs(firm - median) else "vaguer"
        limit = MOST_JOBS if too == "surer" else LEAST_JOBS
        low, high = sorted((vague * of, firm * of))
        wrong = f"{value * of:g} is {too} than {limit:g} job{'s' if limit > 1 else ''} could make anyone"
        raise BeliefError([Fault(name, None, words, wrong, f"above {low:.2f} and below {high:.2f}")])
    return float(np.exp(brentq(lambda x: at(x) - value, ends[0], ends[1], xtol=1e-10)))


def _closest(said: Statement, chance: float, jobs: float) -> tuple[float, float]:
    """Assumption nearest to three quantiles, which two numbers cannot in general meet."""
    levels, values = (np.array(column) for column in zip(*(q[1:] for q in said.quantiles), strict=True))

    def gaps(x: np.ndarray) -> np.ndarray:
        mean, worth = expit(x[0]), np.exp(x[1])
        return betaincinv(mean * worth, (1 - mean) * worth, levels) - values

    start = np.array([np.log(chance / (1 - chance)), np.log(jobs)])
    bounds = ([-12, np.log(LEAST_JOBS)], [12, np.log(MOST_JOBS)])
    found = least_squares(gaps, start, bounds=bounds, xtol=1e-12, ftol=1e-12).x
    return float(expit(found[0])), float(np.exp(found[1]))
