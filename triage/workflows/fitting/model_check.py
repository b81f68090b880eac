"""Can a fit be trusted? Its diagnostics and posterior predictive checks, in plain words first."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Literal

from triage.errors import PosteriorError
from triage.inference.diagnostics import ADVICE
from triage.ledger.record import Ledger
from triage.posterior.manifest import Manifest, ModelRecord, PredictiveCheck
from triage.posterior.store import load_manifest
from triage.reports.wording.fit import AT_STAKE, check_words, listed, model_name
from triage.workflows.fitting.calibration import Calibration, calibrations
from triage.workflows.fitting.figures import Figure, figures
from triage.workflows.fitting.standing import PosteriorStanding, posterior_standing
from triage.workflows.shop.shop import Shop

Trust = Literal["yes", "with care", "no"]
# A kind whose chance moves by more when "looked hopeless" counts as failed; our own limit.
MOST_GAP = 0.1
NO_CHECKS = "it has no posterior predictive check; run a new fit to get one"


@dataclass(frozen=True)
class CheckedModel:
    """One model of a fit.

    refused : whether it uses assumptions because its fit failed; `figures` are then of that fit.
    words : whether it can be trusted and why, in one sentence.
    checks : posterior predictive checks, failing ones first; None where there are none.
    """

    model: str
    name: str
    trust: Trust
    belief_only: bool
    refused: bool
    words: str
    figures: tuple[Figure, ...]
    checks: tuple[PredictiveCheck, ...] | None
    calibration: Calibration


@dataclass(frozen=True)
class RejectedFit:
    """A fit, or the models of one, that was kept aside and never used.

    whole : whether nothing of it was used. stored_at : when it was made.
    failures : what failed, by model. advice : what to do.
    """

    folder: str
    whole: bool
    stored_at: str
    jobs: int
    failures: tuple[tuple[str, str], ...]
    advice: str


@dataclass(frozen=True)
class ModelCheck:
    """Whether the fit in use can be trusted, and all that this rests on.

    verdict : one sentence, "This fit can be trusted: ...".
    gaps : by kind, how much its chance falls when "looked hopeless" counts as failed, where that
        is more than `MOST_GAP`.
    """

    trust: Trust
    verdict: str
    source: str
    manifest: Manifest
    standing: PosteriorStanding
    models: tuple[CheckedModel, ...]
    gaps: tuple[tuple[str, float], ...]
    rejected: tuple[RejectedFit, ...]


def model_check(
    shop: Shop,
    ledger: Ledger | None = None,
    folder: Path | None = None,
    today: date | None = None,
    calibration: Path | None = None,
) -> ModelCheck:
    """Judge the fit that a shop uses.

    Parameters
    ----------
    ledger : the shop's record, for what came since; None where it is not looked at.
    folder : where fits are put, for those that were rejected; None looks for none.
    calibration : result file; the shipped one when None.
    """
    manifest = shop.posterior.manifest
    calibrated = calibrations(tuple(manifest.models), calibration)
    models = tuple(_checked_model(name, record, calibrated[name]) for name, record in manifest.models.items())
    gaps = [(kind, gap) for kind, gap in manifest.hopeless_gap.items() if abs(gap) > MOST_GAP]
    trust, verdict = _verdict(models)
    return ModelCheck(
        trust,
        verdict,
        shop.posterior.source,
        manifest,
        posterior_standing(shop.posterior, shop, ledger, today),
        models,
        tuple(sorted(gaps, key=lambda pair: -abs(pair[1]))),
        rejected_fits(folder) if folder else (),
    )


def rejected_fits(folder: Path) -> tuple[RejectedFit, ...]:
    """Fits that failed the gate and were kept aside, the newest first."""
    found = []
    for path in Path(folder).glob("rejected-*"):
        try:
            manifest = load_manifest(path)
        except PosteriorError:
            continue  # being written at this moment, or no fit at all
        models = manifest.models
        failed = tuple((model_name(name), models[name].why) for name in manifest.failed)
        whole = not any(one.passed and not one.belief_only for one in models.values())
        until = "the earlier fit stays" if whole else f"assumptions for {listed([n for n, _ in failed])} are"
        advice = f"{ADVICE[0].upper()}{ADVICE[1:]}. Until then, {until} in use."
        found.append(RejectedFit(path.name, whole, manifest.stored_at, manifest.jobs, failed, advice))
    return tuple(sorted(found, key=lambda fit: fit.stored_at, reverse=True))


def _checked_model(model: str, record: ModelRecord, calibration: Calibration) -> CheckedModel:
    name, made = model_name(model), figures(record)
    checks = None
    if record.predictive is not None:
        checks = tuple(sorted(record.predictive, key=lambda check: (not check.fails, check.inside)))
    checked = CheckedModel(
        model, name, "yes", record.belief_only, record.refused, "", made, checks, calibration
    )
    if record.refused:
        why = " and ".join(figure.trouble for figure in made if figure.gate and not figure.good)
        said = f"uses assumptions only, as its fit failed: {why or record.why}; no past job counts in it"
        return replace(checked, trust="with care", words=said)
    if record.belief_only:
        said = f"uses assumptions only: {record.why}, so no past job counts in it"
        return replace(checked, trust="with care", words=said)
    broken = [figure.trouble for figure in made if figure.gate and not figure.good]
    if broken or not record.passed:
        why = " and ".join(broken) or record.why
        return replace(checked, trust="no", words=f"cannot be trusted: {why}")
    doubts = [figure.trouble for figure in made if not figure.good]
    failing = [check for check in checks or () if check.fails]
    doubts += [f"{check.quantity}: {check_words(check)}" for check in failing[:2]]
    if len(failing) > 2:
        doubts.append(f"{len(failing) - 2} more figures of the record are far outside it")
    if calibration.good is False:
        doubts.append("it failed its simulation-based calibration")
    if doubts:
        stake = f". {AT_STAKE[model]}" if failing and model in AT_STAKE else ""
        said = f"can be trusted with care: its chains agree, but {'; '.join(doubts)}{stake}"
        return replace(checked, trust="with care", words=said)
    return replace(checked, words=f"can be trusted: {_grounds(record, checks)}")


def _grounds(record: ModelRecord, checks: tuple[PredictiveCheck, ...] | None) -> str:
    """Why a model without a fault can be trusted."""
    found = record.diagnostics
    mixed = "its chains agree"
    if found is not None:
        draws = min(found.ess_bulk, found.ess_tail)
        mixed = (
            f"its chains agree (largest R-hat {found.rhat:.3f}; smallest effective sample size {draws:,.0f})"
        )
    if checks is None:
        return f"{mixed}; {NO_CHECKS}"
    if not checks:
        return mixed
    inside = sum(check.inside for check in checks)
    return f"{mixed}, and {inside} of {len(checks)} figures of the record are inside its 90 % ranges"


def _verdict(models: tuple[CheckedModel, ...]) -> tuple[Trust, str]:
    """Judge all models together, in one sentence."""
    yes, no = "This fit can be trusted", "This fit cannot be trusted"
    if not models:
        return "no", f"{no}: it names no models."
    failed = [one.name for one in models if one.trust == "no"]
    if failed:
        return "no", f"{no}: it failed for {listed(failed)}. Run a new fit before you use it."
    believed = [one.name for one in models if one.belief_only]
    if len(believed) == len(models):
        return "no", f"{no} as a fit to your record: it uses assumptions only and no job."
    refused = [one.name for one in models if one.refused]
    if any(one.model == "success" and one.refused for one in models):
        instead = "All chances are assumptions until you run a new fit or use an earlier one."
        return "no", f"{no} for your chances: it failed for {listed(refused)}. {instead}"
    doubtful = [one.name for one in models if one.trust == "with care" and not one.belief_only]
    missing = [one.name for one in models if one.belief_only and not one.refused]
    doubts = [f"it failed for {listed(refused)}, so assumptions are used there"] if refused else []
    doubts += [f"{listed(missing)} {_use(missing)} assumptions only"] if missing else []
    doubts += [f"there are doubts about {listed(doubtful)}"] if doubtful else []
    if doubts:
        chains = "the chains of its other models agree" if refused else "its chains agree"
        return "with care", f"{yes} with care: {chains}, but {', and '.join(doubts)}."
    mixed = f"{yes}: the chains of all {len(models)} models agree"
    if any(one.checks is None for one in models):
        return "yes", f"{mixed}; {NO_CHECKS}."
    return "yes", f"{mixed} and no figure of the record is far outside its range."


def _use(names: list[str]) -> str:
    return "uses" if len(names) == 1 and not names[0].endswith("s") else "use"
