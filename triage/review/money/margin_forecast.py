"""Margins of past jobs as they would have been forecast at intake, with their spread.

Each job is played many times. Its needed repairs are tried in the order of the
record until one fails; their outcomes share a job effect of one posterior
draw, their minutes and parts come from the same models' draws. What a job
brings (sale less fees, tax and comebacks, over its working price) is that of a
past job of its route and tier that ended alike. What no description tells is
taken from the shop's past: how often a job ends with nothing tried, how often
work goes on after a failure, how often a repair that a sale does not need is
made, and what comes after the first tries (damage met later, second tries): its
cost, and whether the job is finished.

This is not the plan of an assessment, which chooses its acts: it asks whether
the models' draws, put together, say what jobs make.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import pandas as pd
import xarray as xr
from scipy.special import expit

from triage.design_matrix import FACTORS
from triage.domain.catalogue import Catalogue
from triage.domain.history import History
from triage.domain.shop.settings import Settings
from triage.policy.answer.promise import LEVELS
from triage.prediction.bench_minutes import AttemptMinutes, attempt_minutes
from triage.prediction.parts_cost import sample_parts_ratio
from triage.prediction.success import success_logits
from triage.priors.fresh_job import inside_logit
from triage.priors.prior_set import PriorSet
from triage.review.forecasts.decision_value import FEWEST
from triage.review.money.realised_margin import parts_used, realised_margins

PATHS = 400
BASIS = (
    "Each job simulated from its intake: repairs until one fails, with the models' draws of outcomes, "
    "minutes and parts. Its sale is drawn from past jobs of its route and price class that ended the same "
    "way."
)


@dataclass(frozen=True)
class MarginDraws:
    """Draws of the success, bench-minutes and parts-cost models; the last two may be of assumptions alone."""

    success: xr.Dataset
    minutes: xr.Dataset
    parts: xr.Dataset


def margin_forecasts(
    past: History,
    new: History,
    draws: MarginDraws,
    catalogue: Catalogue,
    priors: PriorSet,
    settings: Settings,
    seed: int,
) -> pd.DataFrame | None:
    """Forecast the margin of every new job that is told in full; None where the past or the new has none.

    Returns
    -------
    DataFrame : index job; columns `mean`, one a level of `policy.promise.LEVELS`, and `margin`, what it made.
    """
    before = realised_margins(past, catalogue, settings).money
    asked = realised_margins(new, catalogue, settings).money
    if before.empty or asked.empty:
        return None
    rng = np.random.default_rng(seed)
    priced = past.has("working_price") and new.has("working_price")
    habits = _Habits.of(past, before, catalogue, priced, settings.bench_rate / 60)
    rows = _repairs(new, catalogue)
    rows = rows[rows["job"].isin(asked.index)].reset_index(drop=True)
    spent, works = _work(rows, draws, past, catalogue, priors, settings, rng)  # (path, row) each
    tier, price = _column(new, "tier", "").reindex(asked.index), _price(new, priced).reindex(asked.index)
    places, needs = rows.groupby("job", sort=False).indices, rows["needed"].to_numpy()
    brings = cache(habits.brings)
    found = np.empty((len(asked), 1 + len(LEVELS)))
    for number, (job, walk_in, paid) in enumerate(
        zip(asked.index, asked["walk_in"], asked["paid"], strict=True)
    ):
        going = rng.random(PATHS) >= habits.nothing_tried
        cost, finished = np.zeros(PATHS), going.copy()
        mine = places.get(job, ())
        needed = [row for row in mine if needs[row]]
        for row in needed:
            on = finished | (going & (rng.random(PATHS) < habits.goes_on))
            cost += np.where(on, spent[:, row], 0.0)
            finished &= works[:, row]
        for row in set(mine) - set(needed):
            cost += np.where(finished & (rng.random(PATHS) < habits.extra_made), spent[:, row], 0.0)
        more, finished = habits.afterwards(finished, rng.random(PATHS))
        cost += np.where(going, more, 0.0)
        finished &= going
        luck = rng.random(PATHS)
        alike = (brings(bool(walk_in), tier.iat[number], state) for state in (False, True))
        sale = [known[(luck * len(known)).astype(int)] for known in alike]
        margin = np.where(finished, sale[1], sale[0]) * price.iat[number] - cost - paid
        found[number] = [margin.mean(), *np.quantile(margin, LEVELS)]
    table = pd.DataFrame(found, asked.index, ["mean", *map(str, LEVELS)])
    return table.assign(margin=asked["margin"])


@dataclass(frozen=True)
class _Habits:
    """What the shop's past jobs did: shares, and what they brought over their working price."""

    nothing_tried: float
    goes_on: float
    extra_made: float
    after: dict[bool, pd.DataFrame]
    money: pd.DataFrame

    def afterwards(self, well: np.ndarray, luck: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Further cost and whether the job is finished, as in a past job whose first tries went alike."""
        cost, finished = np.zeros(len(well)), well.copy()
        for state, known in self.after.items():
            on = well == state
            if len(known):
                row = (luck[on] * len(known)).astype(int)
                cost[on], finished[on] = known["more"].to_numpy()[row], known["finished"].to_numpy()[row]
        return cost, finished

    @classmethod
    def of(
        cls, past: History, money: pd.DataFrame, catalogue: Catalogue, priced: bool, rate: float
    ) -> _Habits:
        rows = past.rows[past.rows["job"].isin(money.index)]
        tried = (rows["outcome"] != "not-attempted").groupby(rows["job"]).any().reindex(money.index)
        done = money.index[money["finished"]]
        extra = rows[rows["job"].isin(done) & ~rows["finding"].map(lambda slug: catalogue.kinds[slug].needed)]
        made = (extra["outcome"] != "not-attempted").mean() if len(extra) else 1.0
        brought = money["sold"] + money["kept"] - money[["fees", "tax", "comeback"]].sum(axis=1)
        table = money[["walk_in", "finished"]].assign(
            tier=_column(past, "tier", "").reindex(money.index),
            brought=brought / _price(past, priced).reindex(money.index),
        )
        first = _repairs(past, catalogue)
        spent = (first["minutes"].fillna(0) * rate + first["parts"].fillna(0)).groupby(first["job"]).sum()
        needed = first[first["needed"]]
        well = needed["fixed"].groupby(needed["job"]).all().reindex(money.index, fill_value=True)
        more = money["parts"] + money["labour"] - spent.reindex(money.index, fill_value=0.0)
        later = pd.DataFrame({"more": more.clip(lower=0), "finished": money["finished"]})[tried]
        after = {state: later[well[tried] == state] for state in (True, False)}
        return cls(float(1 - tried.mean()), _goes_on(needed), float(made), after, table.dropna())

    def brings(self, walk_in: bool, tier: str, finished: bool) -> np.ndarray:
        """What past jobs like this brought over their working price, at least one."""
        alike = self.money[(self.money["walk_in"] == walk_in) & (self.money["finished"] == finished)]
        same = alike[alike["tier"] == tier]
        for group in (same if len(same) >= FEWEST else alike, self.money):
            if len(group):
                return group["brought"].to_numpy()
        return np.zeros(1)


def _goes_on(needed: pd.DataFrame) -> float:
    """Of the needed repairs left when one before them had failed, the share tried all the same."""
    failed = (needed["tried"] & ~needed["fixed"]).astype(int)
    behind = failed.groupby(needed["job"]).cumsum() - failed > 0
    return float(needed.loc[behind, "tried"].mean()) if behind.any() else 0.0


def _repairs(history: History, catalogue: Catalogue) -> pd.DataFrame:
    """Repairs of what was known at intake, one a damage or one for all that its usual method closes."""
    rows = history.rows
    kinds = [catalogue.kinds[slug] for slug in rows["finding"]]
    kept = np.array([kind.role == "repair" for kind in kinds], dtype=bool)
    if "known_at" in rows:
        kept &= rows["known_at"].isin(("", "intake")).to_numpy()
    table = pd.DataFrame({"job": rows["job"], "kind": rows["finding"], "method": ""})
    blanks: dict[str, int | str] = {"severity": 2, **dict.fromkeys(FACTORS, "")}
    for name, blank in blanks.items():
        table[name] = rows[name] if name in rows else blank
    table["book"] = rows["book_cost"] if "book_cost" in rows else np.nan
    # Work done again by the same method is one try: its minutes and parts added up, its last outcome.
    where = [rows[name] for name in ("job", "finding", "zone", "method") if name in rows]
    work = pd.DataFrame({"minutes": rows["minutes"], "parts": parts_used(rows)})
    table[["minutes", "parts"]] = work.groupby(where, dropna=False, sort=False).transform("sum")
    table["tried"] = rows["outcome"] != "not-attempted"
    table["fixed"] = (rows["outcome"] == "fixed").groupby(where, dropna=False, sort=False).transform("last")
    table["needed"] = [kind.needed for kind in kinds]
    table["usual"] = [catalogue.usual_method(slug) or slug for slug in rows["finding"]]
    return table[kept].drop_duplicates(["job", "usual"]).reset_index(drop=True)


def _work(
    rows: pd.DataFrame,
    draws: MarginDraws,
    past: History,
    catalogue: Catalogue,
    priors: PriorSet,
    settings: Settings,
    rng: np.random.Generator,
) -> tuple[np.ndarray, np.ndarray]:
    """Money spent on each repair's try and whether it works, shape (path, row) each."""
    few = draws.success.isel(draw=_spread(draws.success))
    labels = (rows[name].tolist() for name in ("kind", "severity", *FACTORS, "method"))
    logits = success_logits(few, catalogue, *labels)  # (path, row)
    place = pd.factorize(rows["job"])[0]
    effect = few["job_sd"].to_numpy()[:, None] * rng.standard_normal((PATHS, place.max(initial=0) + 1))
    inside = inside_logit(logits, few["job_sd"].to_numpy()[:, None])
    works = rng.random(logits.shape) < expit(inside + effect[:, place])
    timed, parted = _spread(draws.minutes), _spread(draws.parts)
    spent = np.empty(logits.shape)

    @cache
    def minutes_of(kind: str, severity: int, fixed: bool) -> AttemptMinutes:
        return attempt_minutes(draws.minutes, kind, severity, fixed, catalogue, priors.bench_minutes)

    for row, (kind, severity, book) in enumerate(
        zip(rows["kind"], rows["severity"], rows["book"], strict=True)
    ):
        stuck, within, luck = rng.permuted(np.tile((np.arange(PATHS) + 0.5) / PATHS, (3, 1)), axis=1)
        took = [
            minutes_of(kind, int(severity), fixed).sample(timed, stuck, within) for fixed in (True, False)
        ]
        minutes = np.where(works[:, row], *took)
        if np.isnan(book):
            known = _paid(past, kind)
            parts = known[(luck * len(known)).astype(int)]
        else:
            family = catalogue.kinds[kind].family
            parts = book * sample_parts_ratio(draws.parts, family, parted, luck)
        spent[:, row] = minutes * settings.bench_rate / 60 + parts
    return spent, works


def _paid(past: History, kind: str) -> np.ndarray:
    """Parts costs of past tries at a kind, or at any where there is none; at least one."""
    tried = past.rows[past.rows["parts_cost"].notna()]
    own = tried.loc[tried["finding"] == kind, "parts_cost"].to_numpy(float)
    return own if len(own) else np.append(tried["parts_cost"].to_numpy(float), 0.0)


def _spread(draws: xr.Dataset) -> np.ndarray:
    """A draw for each path, evenly spaced."""
    return np.linspace(0, draws.sizes["draw"] - 1, PATHS).round().astype(int)


def _price(history: History, priced: bool) -> pd.Series:
    """Working price of each job; 1 where the record has none, so that money itself is drawn."""
    if not priced:
        return pd.Series(1.0, index=history.jobs.index)
    price = history.jobs["working_price"]
    return price.where(price > 0)


def _column(history: History, name: str, blank: str) -> pd.Series:
    return history.jobs[name] if name in history.jobs else pd.Series(blank, index=history.jobs.index)
