"""What a record says more than it said when draws were fitted to it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from triage.domain.history import History
from triage.domain.job.digests import job_digests
from triage.errors import Fault, HistoryError, StalePosteriorError
from triage.ledger.history.history_csv import known_at
from triage.posterior.manifest import Manifest


@dataclass(frozen=True)
class JobsSince:
    """A record beside what of it a fit has learned from.

    before : the record of the fit. now : the record as it is.
    old, new : of both, the jobs of which other things are told now than then.
    added, changed : jobs that are in `new` alone, and in both.
    """

    before: History
    now: History
    old: History
    new: History
    added: int
    changed: int

    @property
    def nothing(self) -> bool:
        """Whether the fit knows all that the record holds."""
        return not (self.added or self.changed) and self.now.as_of == self.before.as_of


def jobs_since(fitted: Manifest, record: History) -> JobsSince:
    """Compare a record with that of a fit, job by job.

    A job closed on the fit's last day but recorded after the fit is new.

    Parameters
    ----------
    fitted : manifest of a full fit.
    record : all past jobs, those of the fit among them.

    Raises
    ------
    StalePosteriorError : the draws were fitted to no record, or the record was
        corrected: what the fit learned can no longer be told from it.
    HistoryError : the record ends before that of the fit.
    """
    if not fitted.as_of:
        raise StalePosteriorError("the fit uses no record; run a full fit first")
    end = date.fromisoformat(fitted.as_of)
    if record.as_of < end:
        wrong = f"ends on {record.as_of}, before the record of the full fit ({end})"
        raise HistoryError([Fault("the past jobs", None, "as of", wrong, f"{end} or a later day")])
    if fitted.first:
        record = record.since(date.fromisoformat(fitted.first))
    now = job_digests(record)
    before = _as_learned(fitted, known_at(record, end))
    then = job_digests(before)
    told_again = {job for job, digest in now.items() if then.get(job) != digest}
    changed = len(told_again & set(then))
    return JobsSince(
        before,
        record,
        _only(before, told_again),
        _only(record, told_again),
        len(told_again) - changed,
        changed,
    )


def _as_learned(fitted: Manifest, cut: History) -> History:
    """Of a record cut at the last day of a fit, the jobs that the fit knew."""
    if fitted.job_digests:
        known = set(fitted.job_digests)
        cut = _only(cut, {job for job, digest in job_digests(cut).items() if digest in known})
        gone = fitted.jobs - len(cut.jobs)
    else:  # an older program fitted
        gone = 0 if cut.digest == fitted.data_hash else fitted.jobs
    if gone:
        jobs = "1 job" if gone == 1 else f"{gone:,} jobs"
        which = f"{jobs} among {fitted.jobs:,}" if gone < fitted.jobs else f"all {fitted.jobs:,} jobs"
        raise StalePosteriorError(
            f"{which} of the full fit cannot be found unchanged in the record; run a full fit"
        )
    return cut


def _only(history: History, jobs: set[str]) -> History:
    """The rows of some jobs."""
    rows = history.rows
    kept = rows[rows["job"].astype(str).isin(jobs)].reset_index(drop=True)
    return replace(history, rows=kept)
