"""Long work: fit the models to a shop's past jobs, and save the fit where the pages find it."""

from __future__ import annotations

import os
import shutil
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from triage.domain.catalogue import load_catalogue
from triage.priors.prior_set import load_priors
from triage.reports.wording.fit import model_name
from triage.workflows.fitting.fit import fit_history, store_fit
from triage.workflows.fitting.record_of_fit import jobs_after_tuning, read_past_jobs
from triage.workflows.shop.shop import beliefs_folder

Tell = Callable[[dict[str, Any]], None]
# What is half-written and so old was left by a process that is no more.
ABANDONED_SECONDS = 3600


def run(arguments: dict[str, Any], tell: Tell) -> dict[str, Any]:
    """Fit, store, and return where the draws went and whether they may be used.

    Parameters
    ----------
    arguments : `record` (`{"ledger": URL}` or `{"history": PATH}`), `out` (folder of draws), and
        optionally `catalogue`, `priors` (paths), `half_life` (days), `half_life_kinds` (only jobs
        with these forget; all where it is absent), `seed`, `label`.

    Returns
    -------
    dict : `current`, `folder`, `jobs`, `as_of`, `failures` (by model, why; in a current fit, assumptions
        replace these models).
    """
    from triage.inference.sampling import SamplerSettings

    tell({"words": "reading the past jobs"})
    catalogue = load_catalogue(_path(arguments.get("catalogue")))
    folder = beliefs_folder(_path(arguments.get("priors")), _path(arguments.get("catalogue")))
    priors = load_priors(folder, catalogue)
    history = read_past_jobs(arguments["record"], catalogue)
    if first := priors.tuned.first_free_day:
        # Jobs that the assumptions were tuned on are refused: what may be learned begins after them.
        history = jobs_after_tuning(history, first)
    out = Path(arguments["out"])
    _clear_abandoned(out)
    # One core stays free for the pages.
    settings = SamplerSettings(cores=max((os.cpu_count() or 2) - 1, 1))
    result = fit_history(
        history,
        catalogue,
        priors,
        arguments.get("seed", 1),
        in_words(tell),
        settings=settings,
        label=arguments.get("label", ""),
        half_life=arguments.get("half_life"),
        half_life_kinds=arguments.get("half_life_kinds"),
    )
    tell({"words": "saving the fit"})
    stored = store_fit(result, out)
    return {
        "current": stored.current,
        "folder": str(stored.folder),
        "jobs": stored.manifest.jobs,
        "as_of": stored.manifest.as_of,
        "failures": {name: list(why) for name, why in result.failures.items()},
    }


def in_words(tell: Tell) -> Tell:
    """Turn what a fit tells into words, with a count while draws are counted."""
    where = {"words": ""}

    def said(event: dict[str, Any]) -> None:
        kind = event["event"]
        if kind == "model":
            what = model_name(event["model"])
            # The second fit of success has no place of its own.
            place = f"{event['place'] + 1} of {event['of']}, " if "place" in event else ""
            where["words"] = f"{place}{what}"
            again = "" if "place" in event else f" ({event['purpose']})"
            tell({"words": f"{where['words']}{again}: preparing the model"})
        elif kind == "sampling":
            tell(sampling(where["words"], event))
        elif kind == "retry":
            tell({"words": f"{where['words']}: second try with stricter settings"})
        elif kind == "checking":
            tell({"words": f"{where['words']}: posterior predictive check"})

    return said


def sampling(where: str, event: dict[str, Any]) -> dict[str, Any]:
    """How far the sampler is, in words, with a count while draws are counted."""
    drawn, of, seconds = event["drawn"], event["of"], event["seconds"]
    if drawn is None:
        return {"words": f"{where}: sampling for {seconds} s"}
    words = f"{where}: sampling {drawn:,} of {of:,}"
    if drawn >= of / 5 and seconds >= 5:
        left = seconds * (of - drawn) / drawn
        words += f", about {max(round(left, -1), 10):.0f} s left"
    return {"words": words, "done": drawn, "total": of}


def _clear_abandoned(out: Path) -> None:
    """Remove what a stopped fit left half-written; only one fit at a time writes here."""
    for path in out.glob("writing-*.tmp"):
        if time.time() - path.stat().st_mtime > ABANDONED_SECONDS:
            shutil.rmtree(path, ignore_errors=True)


def _path(given: str | None) -> Path | None:
    return Path(given) if given else None
