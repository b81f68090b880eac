"""Realised margin of each closed job: sale less all costs, at the shop's own settings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from triage.domain.catalogue import Catalogue
from triage.domain.history import COMEBACK_COUNTS, WRITTEN_OFF, History
from triage.domain.shop.settings import Settings
from triage.domain.tries import fixed_in_the_end
from triage.policy.problem.payoffs import PurchaseTerms, WalkInTerms, comeback_cost, tax_on

# Without one of these there is no margin of a job; `paid` only where it was bought.
MONEY_COLUMNS = ("route", "paid", "sold", "minutes", "parts_cost")


@dataclass(frozen=True)
class RealisedMargins:
    """Margins of the jobs whose costs are complete.

    money : DataFrame, one row a job (index `job`), money as float, major units:
        `sold`, `kept` (worth of parts put on the shelf), `paid`, `parts`,
        `labour`, `fees`, `tax`, `comeback`, `margin` (sold and kept less all the
        others), with `minutes`, `strip_minutes` (of these), `walk_in`, `finished` (every
        finding that a sale needs was fixed, and the unit was neither stripped nor
        disposed of), `selling_fees` and `parts_margin` as the record tells them.
    left_out : (why, number of jobs) of the jobs that have no margin.
    lacks : columns of the format that the record does not have.
    """

    money: pd.DataFrame
    left_out: tuple[tuple[str, int], ...]
    lacks: tuple[str, ...]


def realised_margins(history: History, catalogue: Catalogue, settings: Settings) -> RealisedMargins:
    """Compute the margin of every job with complete costs; nothing is guessed.

    The costs are complete when the job is closed, sold (an owner's device:
    returned), of known route, with a purchase price if it was bought, and when each
    attempt has its minutes and its parts cost, of parts bought or of the own
    shelf. A job with a price paid and no route was bought. A stripped unit
    brings what its parts sold for or are worth, one disposed of nothing; both
    are charged for disposal. Parts sold one by one are taxed one by one, each on
    what it brought over its share of the price paid, and pay the fees in the record.
    Minutes are those in the record: what is not in them, such as opening and the final
    test, is not charged. A data job is charged the minutes of saving them too. A comeback
    that is the shop's doing costs what the settings say one costs, with a repair of that
    job done again at what an attempt on it cost.
    """
    rows, jobs = history.rows, history.jobs
    route = _column(jobs, "route", "")
    paid, sold = _column(jobs, "paid", np.nan), _column(jobs, "sold", np.nan)
    walk_in = route == "walk-in"
    bought = (route == "bought") | ((route == "") & (paid > 0))
    ending, kept = _column(jobs, "ending", ""), _column(jobs, "parts_value", np.nan)
    # Blank is unknown, but for what the ending tells.
    nothing_sold = (ending == "disposed") | ((ending == "stripped") & kept.notna())
    sold = sold.where(sold.notna() | ~nothing_sold, 0.0)
    rows = rows.assign(parts_used=parts_used(rows))
    work = pd.DataFrame({name: _work(rows, name).reindex(jobs.index) for name in ("minutes", "parts_used")})
    saving = _column(jobs, "data_minutes", np.nan)
    reasons = {
        "not closed yet": jobs["closed"].isna() if history.has("closed") else False,
        "stripped, and no value of its parts": sold.isna() & (ending == "stripped"),
        "sold or returned, and no price": sold.isna() & (ending != ""),
        "not sold yet" if history.has("sold") else "no sale price": sold.isna(),
        "neither bought nor a walk-in": ~(bought | walk_in),
        "bought, and no price paid": bought & paid.isna(),
        "an attempt without minutes": work["minutes"].isna(),
        "an attempt without parts cost": work["parts_used"].isna(),
        "data job without minutes": (_column(jobs, "data_outcome", "") != "") & saving.isna(),
    }
    whole, left_out = pd.Series(True, index=jobs.index), []
    for why, hit in reasons.items():
        if count := int((whole & hit).sum()):
            left_out.append((why, count))
        whole &= ~pd.Series(hit, index=jobs.index)

    finished = _finished(rows, catalogue).reindex(jobs.index, fill_value=True) & ~ending.isin(WRITTEN_OFF)
    strip = _column(jobs, "strip_minutes", np.nan).fillna(0.0)
    minutes = work["minutes"] + strip + saving.fillna(0.0)
    money = pd.DataFrame({
        "sold": sold, "kept": kept.fillna(0.0), "paid": paid.where(bought, 0.0), "parts": work["parts_used"],
        "labour": minutes * settings.bench_rate / 60.0, "minutes": minutes, "strip_minutes": strip,
        "walk_in": walk_in, "finished": finished,
        "selling_fees": _column(jobs, "selling_fees", np.nan),
        "parts_margin": _column(jobs, "parts_margin", np.nan),
    })[whole]  # fmt: skip
    money["fees"], money["tax"] = fees_and_tax(money, settings)
    money["comeback"] = _comebacks(money, history, settings)
    costs = money[["paid", "parts", "labour", "fees", "tax", "comeback"]].sum(axis=1)
    money["margin"] = money["sold"] + money["kept"] - costs
    lacks = tuple(name for name in MONEY_COLUMNS if not history.has(name))
    if "paid" in lacks and not bought.any():
        lacks = tuple(name for name in lacks if name != "paid")
    return RealisedMargins(money, tuple(left_out), lacks)


def fees_and_tax(money: pd.DataFrame, settings: Settings) -> tuple[np.ndarray, np.ndarray]:
    """Fees and tax of each job by the same terms as the plan's, shape (job,).

    money : with `sold`, `paid`, `walk_in`, `finished`, `selling_fees`, `parts_margin`.
    """
    sold, paid = money["sold"].to_numpy(float), money["paid"].to_numpy(float)
    every, whole = np.arange(len(sold)), np.zeros(len(sold), dtype=int)
    # One path a job: the terms work element by element, also on an array of prices paid.
    terms = PurchaseTerms(np.tile(sold, (3, 1)), 0.0, paid, settings.fees, settings.tax)
    done, stripped = terms.finish_purse(whole, every), terms.stop_purse(np.ones(len(sold)), sold)
    owner = WalkInTerms(sold, np.ones(3), settings.fees, settings.tax)
    handed = owner.finish_purse(whole, every)
    selling = np.where(money["finished"], done.fees, stripped.fees)
    told, apart = money["selling_fees"].to_numpy(float), money["parts_margin"].to_numpy(float)
    selling = np.where(np.isnan(told), selling, told + settings.fees.disposal)
    above_share = apart if settings.tax.scheme == "second-hand-margin" else sold
    tax = np.where(np.isnan(apart), done.tax, tax_on(settings.tax, above_share, 0.0))
    fees = np.where(money["walk_in"], handed.fees + owner.upfront, selling + terms.upfront - paid)
    return fees, np.where(money["walk_in"], handed.tax, tax)


def _comebacks(money: pd.DataFrame, history: History, settings: Settings) -> np.ndarray:
    """Cost of the first comeback that is the shop's doing, shape (job,)."""
    jobs = history.jobs.loc[money.index]
    if "comeback_date" not in jobs:
        return np.zeros(len(money))
    back = jobs["comeback_date"].notna()
    if history.has("comeback_kind"):
        back &= jobs["comeback_kind"].isin(COMEBACK_COUNTS)
    attempts = _attempts(history.rows).groupby("job")["attempt"].nunique().reindex(money.index, fill_value=0)
    again = ((money["parts"] + money["labour"]) / attempts.clip(lower=1)).to_numpy(float)
    sold = money["sold"].to_numpy(float)
    ours, owners = (comeback_cost(settings, sold, again, owned) for owned in (True, False))
    return np.where(back, np.where(money["walk_in"], owners, ours), 0.0)


def _attempts(rows: pd.DataFrame) -> pd.DataFrame:
    """Rows worked on, with `attempt`: rows of one job with one method are one attempt.

    again : how often the finding was worked on by that method before.
    """
    tried = rows[rows["outcome"] != "not-attempted"]
    named = tried["finding"] + (":" + tried["zone"].fillna("") if "zone" in tried else "")
    attempt = tried["method"].where(tried["method"] != "", named) if "method" in tried else named
    again = tried.groupby([tried["job"], named, attempt], sort=False).cumcount()
    return tried.assign(attempt=attempt, again=again)


def parts_used(rows: pd.DataFrame) -> pd.Series:
    """Cost of parts bought and worth of parts of the own shelf, by row; missing where neither is told."""
    blank = pd.Series(np.nan, index=rows.index)
    bought, shelf = rows.get("parts_cost", blank), rows.get("shelf_cost", blank)
    return bought.add(shelf, fill_value=0.0)


def _work(rows: pd.DataFrame, name: str) -> pd.Series:
    """Sum of a column over each job's rows; missing where one of its attempts has none."""
    if name not in rows:
        rows = rows.assign(**{name: np.nan})
    told = _attempts(rows).groupby(["job", "attempt", "again"])[name].count().groupby("job").min() > 0
    total = rows.groupby("job", sort=False)[name].sum()
    return total.where(told.reindex(total.index, fill_value=True))


def _finished(rows: pd.DataFrame, catalogue: Catalogue) -> pd.Series:
    """Whether every finding that a sale as working needs was fixed by its last try, by job."""
    needed = {slug for slug, kind in catalogue.kinds.items() if kind.role == "repair" and kind.needed}
    ours = rows["finding"].isin(needed)
    return fixed_in_the_end(rows)[ours].groupby(rows.loc[ours, "job"]).all()


def _column(jobs: pd.DataFrame, name: str, blank: float | str) -> pd.Series:
    return jobs[name] if name in jobs else pd.Series(blank, index=jobs.index)
