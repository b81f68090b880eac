"""The past jobs that stored draws were fitted to, read again: from a file or from the shop's record."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path

from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.errors import Fault, HistoryError, StalePosteriorError
from triage.ledger.history.history_csv import read_history
from triage.outcome_models.registry import older_forms
from triage.posterior.manifest import Manifest
from triage.posterior.store import Posterior
from triage.priors.prior_set import PriorSet
from triage.reports.wording.fit import model_name
from triage.workflows.fitting.fit import counts
from triage.workflows.shop.record_files import history_of_record


def read_past_jobs(where: Mapping[str, str], catalogue: Catalogue, as_of: date | None = None) -> History:
    """Read past jobs up to a day; `where` is `{"ledger": URL}` or `{"history": PATH}`."""
    if "ledger" in where:
        return history_of_record(where["ledger"], catalogue, as_of)
    return read_history(Path(where["history"]), catalogue, as_of)


def jobs_after_tuning(history: History, first: date) -> History:
    """Jobs taken in from a day on, which assumptions tuned on those before it may learn from.

    Raises
    ------
    HistoryError : there are none yet.
    """
    later = history.since(first)
    if later.rows.empty:
        wrong = f"no job was taken in from {first} on, and the assumptions were tuned on earlier jobs"
        raise HistoryError(
            [Fault("history", None, "date", wrong, "a record with later jobs, or another set of assumptions")]
        )
    return later


def record_behind(posterior: Posterior, path: Path, catalogue: Catalogue) -> History:
    """Read the file that draws were fitted to; as `record_of_fit`."""
    return record_of_fit(posterior, {"history": str(path)}, catalogue)


def record_of_fit(
    posterior: Posterior, where: Mapping[str, str], catalogue: Catalogue, at_hand: History | None = None
) -> History:
    """Read the past jobs that draws were fitted to, up to the same day.

    Parameters
    ----------
    where : as for `read_past_jobs`.
    at_hand : what was read there already: nothing is read again if it is them.

    Raises
    ------
    StalePosteriorError : the draws were fitted to no record.
    HistoryError : it cannot be read, or is another record, or one that was changed since.
    """
    manifest = posterior.manifest
    if not manifest.as_of:
        raise StalePosteriorError("the fit uses no record")
    if at_hand is not None and at_hand.digest == manifest.data_hash:
        return at_hand
    history = read_past_jobs(where, catalogue, date.fromisoformat(manifest.as_of))
    if manifest.first:
        history = history.since(date.fromisoformat(manifest.first))
    if history.digest != manifest.data_hash and not _as_counted(history, manifest, catalogue):
        wrong = f"is not the record of {manifest.jobs} jobs up to {manifest.as_of} that was fitted"
        # The address of a record may hold a password: it is not said.
        name = where.get("history", "the shop's record")
        raise HistoryError([Fault(name, None, "jobs", wrong, "that record, or a fit to this one")])
    return history


def _as_counted(history: History, manifest: Manifest, catalogue: Catalogue) -> bool:
    """Whether a record written otherwise has the same jobs, rows and outcomes."""
    same = len(history.jobs) == manifest.jobs and len(history.rows) == manifest.rows
    return same and counts(history, catalogue) == manifest.attempts


def check_forms(manifest: Manifest) -> None:
    """Refuse draws that were fitted by an older form of a model."""
    if older := older_forms(manifest):
        names = ", ".join(map(model_name, older))
        raise StalePosteriorError(f"the fit is from an older version of the program ({names}); run a new fit")


def check_beliefs(manifest: Manifest, priors: PriorSet) -> None:
    """Refuse draws that were fitted from another set of assumptions."""
    if manifest.prior_hash != priors.digest:
        raise StalePosteriorError(
            f"the fit used another set of assumptions ({manifest.prior_hash}) than this one "
            f"({priors.digest}); give the set of the fit with --priors, or run a new fit"
        )
