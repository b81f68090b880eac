"""Whether a fit that forgets would forecast better, and how fast it should forget.

A stand-in for the fit is back-tested month by month: per kind a Beta chance
that starts from the stated assumption and counts past attempts by the weight of
their job, `2 ** (-age / half-life)`. Every half-life is tried on all jobs and
on those alone that hold a kind whose drift had been seen by then; not to
forget is always among the candidates.

The score of the choice is nested: each month is forecast by what had scored
best in the months before it, so no month is both chosen by and scored.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from triage.design_matrix import attempts
from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.priors.prior_set import PriorSet
from triage.review.drift.detector import Alarm
from triage.review.forecasts.paired_bootstrap import Difference, mean_difference
from triage.review.forecasts.scores import log_penalties

HALF_LIVES = (730.0, 365.0, 180.0, 90.0)
BLOCK_DAYS = 30
FIRST_PAST = 0.5


@dataclass(frozen=True)
class Discount:
    """A way to forget: jobs weigh half when `half_life` days old.

    drifting : only jobs with a kind that drifts forget.
    """

    half_life: float
    drifting: bool


@dataclass(frozen=True)
class DiscountChoice:
    """The way to forget that the back-test chose.

    discount : None where not to forget scored best, or choosing gained nothing.
    kinds : those whose jobs forget; all jobs where it is empty.
    gain : joint log penalty without forgetting less that of the nested choice,
        a job, over the months not used for choosing; above 0 is better. 90 %
        interval, jobs drawn. None where there are too few months.
    kind_gain : the same, an attempt, over attempts of the drifting kinds alone,
        which flatters: they are looked at because they drifted.
    penalties : mean log penalty of an attempt over all months, by candidate.
    chosen : for each scored month, what had scored best before it. jobs : scored.
    """

    discount: Discount | None
    kinds: tuple[str, ...]
    gain: Difference | None
    kind_gain: Difference | None
    penalties: dict[Discount | None, float]
    chosen: tuple[Discount | None, ...]
    jobs: int

    @property
    def months(self) -> int:
        """Months scored."""
        return len(self.chosen)

    @property
    def words(self) -> str:
        """The offer, to be put behind an alarm; says so where forgetting does not help."""
        if self.discount is None or self.gain is None:
            return "a fit with forgetting does not score better on later months"
        which = "jobs with these kinds" if self.discount.drifting else "all jobs"
        interval = f"{self.gain.low:+.4f} to {self.gain.high:+.4f}"
        return (
            f"a fit that forgets {which} with a half-life of {self.discount.half_life:.0f} days "
            f"scores better on later months, by {self.gain.mean:.4f} in log loss per job "
            f"({interval}{'' if self.gain.low > 0 else ', within chance'})"
        )


def choose_half_life(
    history: History,
    catalogue: Catalogue,
    priors: PriorSet,
    alarms: Sequence[Alarm] = (),
    half_lives: Sequence[float] = HALF_LIVES,
    seed: int = 1,
) -> DiscountChoice:
    """Back-test ways to forget on the second half of a record.

    Parameters
    ----------
    alarms : of the same record; a kind counts as drifting from the day its drift was seen.
    half_lives : days, tried beside not forgetting.
    """
    candidates: list[Discount | None] = [None, *(Discount(days, False) for days in half_lives)]
    if alarms:
        candidates += [Discount(days, True) for days in half_lives]
    record = _Record.of(history, catalogue)
    origins = _origins(record.date)
    blocks = [record.block(day) for day in origins]
    found = [
        record.penalties(rows, day, candidates, _drifting(alarms, day), priors)
        for rows, day in zip(blocks, origins, strict=True)
    ]  # each (candidate, attempt)
    sums = np.array([block.sum(axis=1) for block in found]).reshape(-1, len(candidates))
    drifting = tuple(alarm.kind for alarm in alarms)
    if not any(len(block) for block in blocks[1:]):
        return DiscountChoice(None, (), None, None, {}, (), 0)
    chosen = np.cumsum(sums, axis=0)[:-1].argmin(axis=1).tolist()
    gained = np.concatenate([block[0] - block[best] for block, best in zip(found[1:], chosen, strict=True)])
    rows = np.concatenate(blocks[1:])
    by_job = np.bincount(pd.factorize(record.job[rows])[0], weights=gained)
    own = gained[np.isin(record.kind[rows], drifting)]
    gain = mean_difference(by_job, seed)
    best = candidates[int(np.argmin(sums.sum(axis=0)))] if gain.mean > 0 else None
    means = sums.sum(axis=0) / sum(len(block) for block in blocks)
    return DiscountChoice(
        discount=best,
        kinds=drifting if best is not None and best.drifting else (),
        gain=gain,
        kind_gain=mean_difference(own, seed) if len(own) else None,
        penalties=dict(zip(candidates, means.tolist(), strict=True)),
        chosen=tuple(candidates[place] for place in chosen),
        jobs=len(by_job),
    )


@dataclass(frozen=True)
class _Record:
    """Attempts as columns, each shape (attempt,); `known` is the day their job was closed."""

    job: np.ndarray
    kind: np.ndarray
    fixed: np.ndarray
    date: np.ndarray
    known: np.ndarray

    @classmethod
    def of(cls, history: History, catalogue: Catalogue) -> _Record:
        table = attempts(history, catalogue)
        rows = history.rows.reindex(table["row"])
        known = rows["date"] if "closed" not in rows else rows[["date", "closed"]].max(axis=1)
        return cls(
            table["job"].to_numpy(str),
            table["kind"].to_numpy(str),
            table["fixed"].to_numpy(bool),
            rows["date"].to_numpy().astype("datetime64[D]"),
            known.to_numpy().astype("datetime64[D]"),
        )

    def block(self, origin: np.datetime64) -> np.ndarray:
        """Attempts taken in within a month after a day."""
        return np.flatnonzero((self.date > origin) & (self.date <= origin + np.timedelta64(BLOCK_DAYS, "D")))

    def penalties(
        self,
        rows: np.ndarray,
        origin: np.datetime64,
        candidates: Sequence[Discount | None],
        drifting: Sequence[str],
        priors: PriorSet,
    ) -> np.ndarray:
        """Log penalty of each row, forecast at `origin`, shape (candidate, row)."""
        past = np.flatnonzero(self.known <= origin)
        kinds, index = np.unique(self.kind, return_inverse=True)
        beliefs = [priors.success.belief(kind) for kind in kinds]
        worth = np.array([belief.jobs for belief in beliefs])
        believed = worth * np.array([belief.chance for belief in beliefs])
        age = (origin - self.date[past]).astype(float)
        forgets = np.isin(self.job[past], self.job[past][np.isin(self.kind[past], list(drifting))])
        result = np.empty((len(candidates), len(rows)))
        for place, discount in enumerate(candidates):
            weight = np.ones(len(past))
            if discount is not None:
                faded = 0.5 ** (age / discount.half_life)
                weight = np.where(forgets, faded, 1.0) if discount.drifting else faded
            tried = np.bincount(index[past], weight, len(kinds)) + worth
            fixed = np.bincount(index[past], weight * self.fixed[past], len(kinds)) + believed
            result[place] = log_penalties((fixed / tried)[index[rows]], self.fixed[rows])
        return result


def _origins(dates: np.ndarray) -> list[np.datetime64]:
    """Days on which the months to forecast begin: the second half of the record."""
    if not len(dates):
        return []
    last = dates.max()
    first = dates.min() + ((last - dates.min()) * FIRST_PAST).astype("timedelta64[D]")
    return list(np.arange(first, last, np.timedelta64(BLOCK_DAYS, "D")))


def _drifting(alarms: Sequence[Alarm], day: np.datetime64) -> list[str]:
    return [alarm.kind for alarm in alarms if alarm.seen_on <= day.astype(date)]
