"""Diagnostics of a fitted model, each with what it means and the limit that was published for it."""

from __future__ import annotations

from dataclasses import dataclass

from triage.inference.diagnostics import LEAST_BFMI, LEAST_EFFECTIVE_SAMPLE, MOST_RHAT
from triage.inference.success_checks import LOO_DRAWS, highest_shape
from triage.outcome_models.integrated_likelihood import TOLERANCE
from triage.posterior.manifest import LikelihoodChecks, ModelRecord

VEHTARI_2021 = "Vehtari et al. 2021, Bayesian Analysis 16:667"
VEHTARI_2024 = "Vehtari et al. 2024, JMLR 25(72)"
BETANCOURT = "Betancourt 2016, arXiv:1604.00695"


@dataclass(frozen=True)
class Figure:
    """One diagnostic.

    means : in plain words. good : whether it keeps its limit. gate : whether a fit that does not
        keep it is refused. trouble : what is wrong when it does not, as the end of "because ...".
    source : who published the limit; "our own" where nobody did.
    """

    name: str
    value: str
    limit: str
    means: str
    good: bool
    gate: bool
    trouble: str
    source: str


def figures(record: ModelRecord) -> tuple[Figure, ...]:
    """Every diagnostic that a model's fit kept; none for a model that is belief only."""
    found = record.diagnostics
    if found is None:
        return ()
    made = [
        Figure(
            "R-hat",
            f"{found.rhat:.3f}",
            f"at most {MOST_RHAT}",
            f"whether the chains tell the same story; the worst number is {found.worst}",
            found.rhat <= MOST_RHAT,
            True,
            f"its chains tell different stories (R-hat {found.rhat:.3f})",
            VEHTARI_2021,
        ),
        _effective("bulk", "the middle", found.ess_bulk),
        _effective("tail", "the ends of an interval", found.ess_tail),
        Figure(
            "Divergences",
            f"{found.divergences}",
            "none",
            "places that the sampler could not follow, so part of what is possible was never visited",
            found.divergences == 0,
            True,
            f"part of what is possible was never visited ({found.divergences} divergences)",
            BETANCOURT,
        ),
    ]
    if found.bfmi == found.bfmi:
        made.append(
            Figure(
                "Energy (E-BFMI)",
                f"{found.bfmi:.2f}",
                f"at least {LEAST_BFMI}",
                "whether the sampler moves freely between the middle and the far ends",
                found.bfmi >= LEAST_BFMI,
                False,
                f"the sampler moved sluggishly (energy {found.bfmi:.2f})",
                BETANCOURT + ", from memory",
            )
        )
    return (*made, *_of_likelihood(record.likelihood or LikelihoodChecks()))


def _effective(which: str, what: str, value: float) -> Figure:
    return Figure(
        f"Effective sample, {which}",
        f"{value:,.0f}",
        f"at least {LEAST_EFFECTIVE_SAMPLE}",
        f"how many independent draws know {what}",
        value >= LEAST_EFFECTIVE_SAMPLE,
        True,
        f"it holds too few independent draws for {what} ({value:,.0f})",
        VEHTARI_2021,
    )


def _of_likelihood(checks: LikelihoodChecks) -> list[Figure]:
    """Figures that only the chance of repair has."""
    made = []
    if checks.quadrature_error_99 is not None:
        worst = max(checks.quadrature_error_99, checks.quadrature_error_mean or 0.0)
        made.append(
            Figure(
                "Quadrature error",
                f"{worst:.0e}",
                f"at most {TOLERANCE:.0e}",
                "error in the log likelihood of all jobs from averaging over what hits a whole job at once",
                worst <= TOLERANCE,
                False,
                f"averaging over the job effect is too coarse (error {worst:.0e})",
                "our own",
            )
        )
    if checks.high_k is not None:
        jobs = checks.high_k
        sway = "1 job sways it strongly by itself" if jobs == 1 else f"{jobs:.0f} jobs sway it strongly each"
        made.append(
            Figure(
                "Jobs with high Pareto k",
                f"{jobs:.0f}",
                f"none above {highest_shape(LOO_DRAWS):.2f}",
                "jobs that sway the fit so much by themselves that leaving them out cannot be reckoned",
                jobs == 0,
                False,
                f"{sway} (Pareto k)",
                VEHTARI_2024,
            )
        )
    return made
