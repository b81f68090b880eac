"""Long work: the back-test of a shop's past jobs."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from triage.domain.catalogue import load_catalogue
from triage.domain.shop.settings import load_settings
from triage.priors.prior_set import load_priors
from triage.reports.json_output.backtest import told_backtest
from triage.reports.wording.calibration import used_words
from triage.shipped import shipped
from triage.workflows.background.fit import sampling
from triage.workflows.fitting.record_of_fit import jobs_after_tuning, read_past_jobs
from triage.workflows.shop.shop import DEMO_SETTINGS, beliefs_folder

Tell = Callable[[dict[str, Any]], None]
_MODELS = {"success": "chances", "bench_minutes": "minutes", "parts_cost": "parts"}


def run(arguments: dict[str, Any], tell: Tell) -> dict[str, Any]:
    """Back-test and return what `triage backtest --json` prints.

    Parameters
    ----------
    arguments : `record` (`{"ledger": URL}` or `{"history": PATH}`), and optionally `catalogue`,
        `priors`, `settings` (paths), `blocks`, `seed`.
    """
    from triage.workflows.looking_back.backtest import BacktestOptions, backtest

    catalogue = load_catalogue(_path(arguments.get("catalogue")))
    folder = beliefs_folder(_path(arguments.get("priors")), _path(arguments.get("catalogue")))
    priors = load_priors(folder, catalogue)
    settings = load_settings(_path(arguments.get("settings")) or shipped(DEMO_SETTINGS))
    tell({"words": "reading the past jobs"})
    record = history = read_past_jobs(arguments["record"], catalogue)
    if first := priors.tuned.first_free_day:
        # As in a fit: jobs that the assumptions were tuned on are learned from no second time.
        history = jobs_after_tuning(record, first)
    options = BacktestOptions(blocks=arguments.get("blocks", 4), seed=arguments.get("seed", 1))
    result = backtest(history, catalogue, priors, settings, options, _in_words(tell))
    return told_backtest(result, record, settings, invented=not arguments.get("settings"))


def _path(given: str | None) -> Path | None:
    return Path(given) if given else None


def _in_words(tell: Tell) -> Tell:
    """Turn what a back-test tells into words, with a count while draws are counted."""
    where, model = {"words": ""}, {"name": "chances"}

    def said(event: dict[str, Any]) -> None:
        now = ""
        if event["event"] == "block":
            where["words"] = f"block {event['place'] + 1} of {event['of']}"
            now = f"{event['past_jobs']:,} jobs known on {event['origin']}: preparing the model"
        elif event["event"] == "model":
            model["name"] = _MODELS.get(event["model"], event["model"])
            return
        elif event["event"] == "sampling":
            tell(sampling(f"{where['words']}: {model['name']}", event))
            return
        elif event["event"] == "retry":
            now = f"{model['name']}: second try with stricter settings"
        elif event["event"] == "failed":
            now = f"{model['name']}: this fit failed, {used_words(event['used'])} used instead"
        tell({"words": f"{where['words']}: {now}"})

    return said
