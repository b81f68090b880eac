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
        keep it is refused. trouble : what is wrong when it does not, as the end of "cannot be trusted: ...".
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
    """Every diagnostic that a model's fit kept; none for a model that is assumptions only."""
    found = record.diagnostics
    if found is None:
        return ()
    made = [
        Figure(
            "R-hat",
            f"{found.rhat:.3f}",
            f"at most {MOST_RHAT}",
            f"how well the chains agree (1 is best); the worst is {found.worst}",
            found.rhat <= MOST_RHAT,
            True,
            f"its chains disagree (R-hat {found.rhat:.3f})",
            VEHTARI_2021,
        ),
        _effective("bulk", "the middle of the distribution", found.ess_bulk),
        _effective("tail", "the ends of a credible interval", found.ess_tail),
        Figure(
            "Divergences",
            f"{found.divergences}",
            "none",
            "steps where the sampler failed, so it missed a part of the posterior",
            found.divergences == 0,
            True,
            f"the sampler missed a part of the posterior ({found.divergences} divergences)",
            BETANCOURT,
        ),
    ]
    if found.bfmi == found.bfmi:
        made.append(
            Figure(
                "Energy (E-BFMI)",
                f"{found.bfmi:.2f}",
                f"at least {LEAST_BFMI}",
                "how well the sampler moves between the middle and the tails",
                found.bfmi >= LEAST_BFMI,
                False,
                f"the sampler moved slowly through the tails (energy {found.bfmi:.2f})",
                BETANCOURT + ", from memory",
            )
        )
    return (*made, *_of_likelihood(record.likelihood or LikelihoodChecks()))


def _effective(which: str, what: str, value: float) -> Figure:
    return Figure(
        f"Effective sample size, {which}",
        f"{value:,.0f}",
        f"at least {LEAST_EFFECTIVE_SAMPLE}",
        f"independent draws that the fit is worth for {what}",
        value >= LEAST_EFFECTIVE_SAMPLE,
        True,
        f"its effective sample size is too low for {what} ({value:,.0f})",
        VEHTARI_2021,
    )


def _of_likelihood(checks: LikelihoodChecks) -> list[Figure]:
    """Figures that only the chance of repair has."""
    made = []
    if checks.several is not None:
        made.append(
            Figure(
                "Jobs of several attempts",
                f"{checks.several:,.0f}" if checks.several else "none: job effect not told",
                "",
                "jobs that tell how much the attempts of one job hang together",
                True,
                False,
                "",
                "our own",
            )
        )
    if checks.quadrature_error_99 is not None:
        worst = max(checks.quadrature_error_99, checks.quadrature_error_mean or 0.0)
        made.append(
            Figure(
                "Quadrature error",
                f"{worst:.0e}",
                f"at most {TOLERANCE:.0e}",
                "error in the log likelihood of all jobs from integrating out the job effect",
                worst <= TOLERANCE,
                False,
                f"the integration over the job effect is too coarse (error {worst:.0e})",
                "our own",
            )
        )
    if checks.high_k is not None:
        jobs = checks.high_k
        sway = "1 job influences it strongly" if jobs == 1 else f"{jobs:.0f} jobs each influence it strongly"
        made.append(
            Figure(
                "Jobs with high Pareto k",
                f"{jobs:.0f}",
                f"none above {highest_shape(LOO_DRAWS):.2f}",
                "jobs that influence the fit so much that leaving one out cannot be estimated",
                jobs == 0,
                False,
                f"{sway} (Pareto k)",
                VEHTARI_2024,
            )
        )
    return made
