"""Drift alarm: which kind's chances no longer hold, and since when.

Per kind, the outcomes are bet against the forecasts. The null is the mixture
of the forecast's own draws, so that a chance the shop is unsure of raises no
alarm by itself. A bet is a draw whose logit moves by one of six sizes, up or
down, from some day on; its ratio is the chance the bet gave to what happened
over the chance the draw gave. The evidence is a Shiryaev-Roberts sum over the
day the drift began, one unit staked a year:

    evidence = E[ sum over beginnings of (years since the attempt before) x (product of ratios since) ]

the expectation over sizes, and over draws as weighted by the outcomes so far.
Less the years watched it is a martingale of mean 0 under the null mixture, so
by Doob's inequality it reaches c / share within T years with chance at most
T x share / c, however often one looks. The shares of the kinds sum to 1
(Bonferroni): all kinds together raise a false alarm at a rate of at most 1 / c
a year. A watch that begins later has less evidence at every look, so a window
that moves with the calendar is covered by the same bound. Exact for one kind;
that outcomes of other kinds say something about a kind's chance is left out.

`PROVED_AT` is that c: 20, for 5 % a year whatever the shop. The bound is far from
reached, and waiting for it costs months, so alarms are raised from `ALARM_AT` on:
`python -m tests.benchmarks.program.drift_alarm` found it on 400 histories of the invented
shop (the least threshold with at most two thirds of 5 % a year) and counted the
false alarms on 400 others. An alarm says whether it is proved. Few kinds divide the
rate among few, and are alarmed more often than that: `FALSE_ALARMS` has what was
measured on steady shops by the number of kinds, and `false_alarms_a_year` says it.

Sources, all from memory: Ville 1939 and Doob 1953 (the inequality); Page 1954
(cumulative sums); Shiryaev 1963 and Roberts 1966 (the sum over beginnings);
Shin, Ramdas and Rinaldo 2023, E-detectors (the sum for composite nulls).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import islice
from typing import Literal

import numpy as np

from triage.domain.counts import in_twenty

ALARM_AT = 3.0
PROVED_AT = 20.0
# Steady shops with a false alarm, of 100 a year, by kinds watched, at `ALARM_AT`
# (`tests.benchmarks.program.drift_alarm`, "steady shops"; invented, 150 shops of two years each).
FALSE_ALARMS = {1: 17, 5: 16, 20: 6, 60: 4}
SIZES = np.array([-2.0, -1.0, -0.5, 0.5, 1.0, 2.0])  # on the logit
# Three bets in four are on a fall, which loses money; the sum is 1.
PORTIONS = np.array([3.0, 3.0, 3.0, 1.0, 1.0, 1.0]) / 12
# Evidence beyond this says no more; without a limit a long drift would overflow.
_MOST = 1e200
_MOST_DRAWS = 400
_MOST_BEGINNINGS = 400
_YEAR = np.timedelta64(365, "D") + np.timedelta64(6, "h")


@dataclass(frozen=True)
class Stretch:
    """Attempts in order of time that one forecaster forecast, and how they went.

    date : ndarray of datetime64, shape (attempt,).
    kind : ndarray of str, shape (attempt,).
    fixed : ndarray of bool, shape (attempt,).
    chance : ndarray, shape (draw, attempt), each draw's chance given the
        earlier outcomes of the attempt's job.
    weight : ndarray, shape (draw,), of the draws; None where all are alike.
    """

    date: np.ndarray
    kind: np.ndarray
    fixed: np.ndarray
    chance: np.ndarray
    weight: np.ndarray | None = None


@dataclass(frozen=True)
class Alarm:
    """A kind whose outcomes no longer match its forecasts.

    since : when the drift began, at the likeliest half of its beginnings.
    seen_on : the day the evidence was enough.
    expected_in_20, recent_in_20 : forecast before the drift, and outcomes since, of 20.
    attempts : since then.
    evidence : the largest so far, times the kind's share; an alarm from `ALARM_AT` on.
    """

    kind: str
    name: str
    direction: Literal["down", "up"]
    since: date
    seen_on: date
    expected_in_20: float
    recent_in_20: float
    attempts: int
    evidence: float

    @property
    def words(self) -> str:
        """One sentence for a screen, without the kind's name."""
        expected, recent = in_twenty(self.expected_in_20 / 20), in_twenty(self.recent_in_20 / 20)
        return (
            f"since about {self.since:%B %Y}: expected {expected}, actual {recent} "
            f"over {self.attempts} attempts" + ("" if self.proved else "; likely, not proven")
        )

    @property
    def proved(self) -> bool:
        """Whether, in a shop that does not change, as much is seen once in 20 years at most."""
        return self.evidence >= PROVED_AT


def shares(attempts: Mapping[str, int]) -> dict[str, float]:
    """Each kind's share of the false alarms, by its attempts before the watch; they sum to 1.

    A kind seen often can be caught soon; one never seen keeps a little.
    """
    total = sum(attempts.values()) + len(attempts)
    return {kind: (count + 1) / total for kind, count in attempts.items()}


def false_alarms_a_year(kinds: int) -> int:
    """Of 100 shops in which nothing changes, how many are alarmed in a year; measured, for at least one kind.

    Between two measured numbers of kinds, the higher rate is returned.
    """
    return FALSE_ALARMS[max(number for number in FALSE_ALARMS if number <= max(kinds, 1))]


def drift_alarms(
    stretches: Sequence[Stretch],
    share: Mapping[str, float],
    names: Mapping[str, str],
    watch_from: date,
    at: float = ALARM_AT,
) -> tuple[Alarm, ...]:
    """Watch every kind; the alarms, in the order in which they were seen.

    Parameters
    ----------
    stretches : one after the other in time, each with its own forecaster.
    share : by kind, as made by `shares`, from what was known at `watch_from`.
    names : by kind, what to call it.
    watch_from : no drift is assumed to begin, and no alarm is raised, before
        it; earlier attempts only weight the draws.
    at : evidence, times the kind's share, that raises an alarm.

    Raises
    ------
    ValueError : the shares sum to more than 1.
    """
    if sum(share.values()) > 1 + 1e-9:
        raise ValueError("the shares of the kinds sum to more than 1")
    start = np.datetime64(watch_from, "D")
    found = []
    for kind, part in share.items():
        held = [_of(stretch, kind) for stretch in stretches]
        total = evidence(held, start)
        over = np.flatnonzero(total * part >= at)
        if over.size:
            found.append(_alarm(held, start, int(over[0]), total * part, kind, names.get(kind, kind)))
    return tuple(sorted(found, key=lambda alarm: (alarm.seen_on, alarm.kind)))


def _of(stretch: Stretch, kind: str) -> Stretch:
    """A kind's own attempts, with no more draws than tell its chance."""
    held, draws = stretch.kind == kind, len(stretch.chance)
    few = np.linspace(0, draws - 1, min(draws, _MOST_DRAWS)).round().astype(int)
    weight = None if stretch.weight is None else stretch.weight[few]
    chance = stretch.chance[np.ix_(few, held)]
    return Stretch(
        stretch.date[held].astype("datetime64[D]"), stretch.kind[held], stretch.fixed[held], chance, weight
    )


def evidence(stretches: Sequence[Stretch], start: np.datetime64) -> np.ndarray:
    """Evidence of drift of one kind after the day of each attempt, shape (attempt,); 0 before `start`.

    Under the null its expectation is the years watched.
    """
    return np.array([bets.sum() for bets, _ in _bets(stretches, start)], dtype=float)


def _bets(
    stretches: Sequence[Stretch], start: np.datetime64, begins: np.ndarray | None = None
) -> Iterator[tuple[np.ndarray, np.ndarray]]:
    """Play the bets day by day: all outcomes of a day settle one bet, so their order says nothing.

    Parameters
    ----------
    begins : ndarray of int, shape (attempt,), which beginning a bet laid at
        each attempt counts to; one for all when None.

    Yields
    ------
    bets : ndarray, shape (size, begin), what they are worth at the end of the
        attempt's day, averaged over the draws.
    weight : ndarray, shape (draw,), of the draws before that day.
    """
    if begins is None:
        begins = np.zeros(sum(len(stretch.fixed) for stretch in stretches), dtype=int)
    carried = np.zeros((SIZES.size, int(begins.max(initial=0)) + 1))
    place, last = 0, start
    for stretch in stretches:
        draws = len(stretch.chance)
        weight = np.ones(draws) if stretch.weight is None else np.asarray(stretch.weight, float)
        weight = weight / weight.sum()
        bets = np.repeat(carried[None], draws, axis=0)  # (draw, size, begin)
        chance = np.clip(stretch.chance, 1e-9, 1 - 1e-9)
        odds = chance / (1 - chance)
        for first, end in _days(stretch.date):
            day = stretch.date[first]
            if day >= start:
                bets[:, :, begins[place]] += (day - last) / _YEAR * PORTIONS
                last = day
            before = weight
            for column in range(first, end):
                p, fixed = chance[:, column], stretch.fixed[column]
                failing = 1 / (1 + odds[:, column, None] * np.exp(SIZES))  # (draw, size)
                ratio = (1 - failing) / p[:, None] if fixed else failing / (1 - p[:, None])
                bets = np.minimum(bets * ratio[:, :, None], _MOST)
                weight = weight * (p if fixed else 1 - p)
                weight = weight / weight.sum()
            carried = np.einsum("d,dsb->sb", weight, bets)
            for _ in range(first, end):
                place += 1
                yield carried, before


def _days(dates: np.ndarray) -> Iterator[tuple[int, int]]:
    """Where the attempts of each day begin and end."""
    cuts = [0, *(np.flatnonzero(np.diff(dates).astype(int)) + 1).tolist(), len(dates)]
    yield from ((first, end) for first, end in zip(cuts[:-1], cuts[1:], strict=True) if end > first)


def _alarm(
    stretches: Sequence[Stretch], start: np.datetime64, seen: int, scaled: np.ndarray, kind: str, name: str
) -> Alarm:
    days = np.concatenate([stretch.date for stretch in stretches])
    fixed = np.concatenate([stretch.fixed for stretch in stretches])
    peak = seen + int(np.argmax(scaled[seen:]))
    # Beginnings a few attempts apart where there are very many.
    apart = -(-len(days) // _MOST_BEGINNINGS)
    begins = np.arange(len(days)) // apart
    played = list(islice(_bets(stretches, start, begins), peak + 1))
    bets = played[peak][0]  # (size, begin)
    likely = np.cumsum(bets.sum(axis=0))
    begin = int(np.searchsorted(likely, likely[-1] / 2)) * apart
    return Alarm(
        kind=kind,
        name=name,
        direction="down" if bets[SIZES < 0].sum() > bets[SIZES > 0].sum() else "up",
        since=days[begin].astype(date),
        seen_on=days[seen].astype(date),
        expected_in_20=20 * _expected(stretches, begin, played[begin][1]),
        recent_in_20=20 * float(fixed[begin:].mean()),
        attempts=len(fixed) - begin,
        evidence=float(scaled[peak]),
    )


def _expected(stretches: Sequence[Stretch], begin: int, weight: np.ndarray) -> float:
    """Mean chance of the attempts since `begin`, by the draws as weighted just before it.

    Attempts of a later forecaster, which may have learned the drift, are left out.
    """
    ends = np.cumsum([len(stretch.fixed) for stretch in stretches])
    held = int(np.searchsorted(ends, begin, side="right"))
    column = begin - (ends[held] - len(stretches[held].fixed))
    return float(weight @ stretches[held].chance[:, column:].mean(axis=1))
