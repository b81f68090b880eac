"""How far stored chances can be trusted today: what they were learned from, and what came since."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from triage.ledger.record import Ledger
from triage.ledger.summary import closed_since
from triage.outcome_models.registry import older_forms
from triage.posterior.store import Posterior
from triage.reports.wording.fit import assumed_words, model_name, new_jobs_words
from triage.workflows.shop.shop import Shop

Level = Literal["fine", "note", "warning"]
OLD_DAYS = 90
# Jobs closed since the fit from which on it is worth fitting again, and the share of the fit's jobs.
MANY_JOBS, MANY_SHARE = 20, 0.05


@dataclass(frozen=True)
class PosteriorStanding:
    """What a reader of the chances must know; `words` is "" where there is nothing to say."""

    words: str
    level: Level


def posterior_standing(
    posterior: Posterior,
    shop: Shop,
    ledger: Ledger | None = None,
    today: date | None = None,
    name_demo: bool = True,
) -> PosteriorStanding:
    """Say in words whether a posterior belongs to the shop's books and record, and how old it is.

    Parameters
    ----------
    ledger : the shop's record; None where it is not looked at. today : the shop's day when None.
    name_demo : say that the record behind them is the demo's; False where the reader is told so already.
    """
    manifest, today = posterior.manifest, today or shop.today
    said: list[tuple[str, Level]] = []
    believed = manifest.models and len(manifest.belief_only) == len(manifest.models)
    if believed:
        said.append(("Assumptions only: no past job counts in the chances.", "warning"))
    elif words := assumed_words(manifest):
        if "success" in manifest.belief_only:
            words = f"No past job counts in the chances. {words}"
        said.append((words, "warning" if manifest.refused else "note"))
    if shop.demo and name_demo and not believed:
        said.append(("Invented demo record: no real job counts in the chances.", "warning"))
    if (update := manifest.update) is not None:
        jobs = new_jobs_words(update.added, update.changed)
        said.append((f"A quick update of the full fit of {update.as_of}, with {jobs}.", "note"))
    if failed := manifest.failed:
        names = ", ".join(map(model_name, failed))
        said.append((f"The fit failed its checks for {names}, so no answer uses it.", "warning"))
    if older := older_forms(manifest):
        names = ", ".join(map(model_name, older))
        said.append((f"Fitted by an older version of the program ({names}). Run a new fit.", "warning"))
    elif manifest.prior_hash != shop.priors.digest:
        said.append(("Fitted from another set of assumptions than the one in use. Run a new fit.", "warning"))
    if not shop.demo:
        said += _behind(posterior, ledger, today)
    level: Level = next((at for at in ("warning", "note") if any(at == one for _, one in said)), "fine")
    return PosteriorStanding(" ".join(words for words, _ in said), level)


def _behind(posterior: Posterior, ledger: Ledger | None, today: date) -> list[tuple[str, Level]]:
    """What the record holds that the fit does not know, and its age."""
    manifest = posterior.manifest
    said: list[tuple[str, Level]] = []
    known_to = date.fromisoformat(manifest.as_of) if manifest.as_of else None
    if ledger is not None:
        with ledger.reading() as reading:
            new = closed_since(reading, known_to or date.min)
        if new:
            many = new >= max(MANY_JOBS, MANY_SHARE * manifest.jobs)
            jobs = "1 job was" if new == 1 else f"{new:,} jobs were"
            since = f" since {known_to}" if known_to else ""
            said.append((f"{jobs} closed{since} and not yet in the fit.", "warning" if many else "note"))
    if known_to and (days := (today - known_to).days) > OLD_DAYS:
        said.append((f"The record of the fit ended {days:,} days ago, on {known_to}.", "warning"))
    return said
