"""Long work: sets of assumptions back-tested on the same later jobs."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from triage.domain.catalogue import load_catalogue
from triage.domain.shop.settings import load_settings
from triage.priors.prior_set import load_priors
from triage.reports.json_output.comparison import comparison_object
from triage.reports.wording.calibration import used_words
from triage.shipped import shipped
from triage.workflows.background.fit import sampling
from triage.workflows.fitting.record_of_fit import read_past_jobs
from triage.workflows.fitting.tuning import compare_sets
from triage.workflows.shop.shop import DEMO_SETTINGS

Tell = Callable[[dict[str, Any]], None]


def run(arguments: dict[str, Any], tell: Tell) -> dict[str, Any]:
    """Compare sets and return the object of `reports.comparison_json`.

    Parameters
    ----------
    arguments : `record` (`{"ledger": URL}` or `{"history": PATH}`), `sets` (folder by name, None
        for the defaults of every file; the others are compared with the first), and optionally
        `catalogue`, `settings`, `blocks`, `seed`.
    """
    from triage.workflows.looking_back.backtest import BacktestOptions

    catalogue = load_catalogue(_path(arguments.get("catalogue")))
    settings = load_settings(_path(arguments.get("settings")) or shipped(DEMO_SETTINGS))
    sets = {name: load_priors(_path(folder), catalogue) for name, folder in arguments["sets"].items()}
    history = read_past_jobs(arguments["record"], catalogue)
    options = BacktestOptions(blocks=arguments.get("blocks", 4), seed=arguments.get("seed", 1))
    return comparison_object(
        compare_sets(sets, history, catalogue, settings, options, _in_words(tell, options.blocks))
    )


def _path(given: str | None) -> Path | None:
    return Path(given) if given else None


def _in_words(tell: Tell, blocks: int) -> Tell:
    """Turn what a comparison tells into words, and fits that are done into a count."""
    where: dict[str, Any] = {"words": "reading the past jobs", "done": 0}

    def said(event: dict[str, Any]) -> None:
        if event["event"] == "block":
            set_, block = f"set {event['set_place'] + 1} of {event['sets']}", event["place"] + 1
            where["words"] = f"{set_} ({event['set']}), block {block} of {event['of']}"
            where["done"] = event["set_place"] * blocks + event["place"]
            where["total"] = event["sets"] * blocks
            tell({**where, "words": f"{where['words']}: preparing the model"})
        elif event["event"] == "sampling":
            tell({**where, "words": sampling(where["words"], event)["words"]})
        elif event["event"] == "retry":
            tell({**where, "words": f"{where['words']}: second try with stricter settings"})
        elif event["event"] == "failed":
            tell(
                {
                    **where,
                    "words": f"{where['words']}: its fit failed, {used_words(event['used'])} used instead",
                }
            )

    return said
