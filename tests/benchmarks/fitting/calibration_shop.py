"""A small invented shop for calibration: drawn from the models' own priors, simulated job by job.

Written from the description of the models, with none of their code. It shares only the
catalogue, the prior file's constants and the columns of the record. One simulation gives
all six models their record. It contains the features of a real record that a likelihood
could get wrong: work stops after a required failure, a second method is tried, one repair
closes two findings, jobs are never opened or never sold, comebacks are cut off by the
warranty, by the as-of date and by new damage, work that did not succeed is stopped at the
give-up time, and a look goes less deep than a fault lies, misses it, or is made on suspicion.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from scipy.special import log_ndtr, ndtri_exp

from triage.domain.catalogue import Catalogue
from triage.domain.catalogue_entries import DamageKind, Family, Repair
from triage.domain.history import History
from triage.domain.periods import period_ends, period_of
from triage.priors.fresh_job import inside_logit
from triage.priors.hidden_fault import HiddenFaultPriors
from triage.priors.prior_set import PriorSet

FAMILIES = ("board", "screen", "shell", "lens", "sound")
HIDDEN = ("crack-inside", "damp-inside")
RAISES = {"board-0": HIDDEN, "shell-0": HIDDEN[:1]}
SEEN_AT = {"damp-inside": "shields-off"}
SUSPECTED = "suspected"
# What a shop believes: the defaults, but a look that shows four faults in five.
PRIORS = PriorSet(hidden_fault=HiddenFaultPriors(look=0.8))
TIERS, CAUSES = ("low", "middle", "high"), ("dropped", "wet")
BENCHES = tuple(f"bench-{n}" for n in range(5))
AS_OF = pd.Timestamp("2025-10-01")
JOBS = 60

Truth = dict[str, dict[str, Any]]  # by model and variable: a number, or by label


def catalogue() -> Catalogue:
    """Five families of two kinds, the second of each optional; two hidden faults; two other methods."""
    kinds = [
        DamageKind(f"{f}-{i}", f"{f} {i}", f, needed=i == 0, raises=RAISES.get(f"{f}-{i}", ()))
        for f in FAMILIES
        for i in range(2)
    ]
    kinds += [
        DamageKind(slug, slug, "board", hidden=True, seen_at=SEEN_AT.get(slug, "opened")) for slug in HIDDEN
    ]
    repairs = [Repair(f"fix-{kind.slug}", f"fix {kind.name}", (kind.slug,)) for kind in kinds]
    repairs.append(Repair("other-way", "other way", ("board-0",)))
    repairs.append(Repair("other-lens-way", "other lens way", ("lens-1",)))
    repairs.append(Repair("whole-shell", "whole shell", ("shell-0", "shell-1")))
    families = tuple(Family(slug, slug) for slug in FAMILIES)
    return Catalogue(family=families, kind=tuple(kinds), repair=tuple(repairs))


TOTALS = ("minutes", "parts_cost", "book_cost")
OTHER = {"board-0": "other-way", "lens-1": "other-lens-way"}
FAMILY = {kind.slug: kind.family for kind in catalogue().kind}
NEEDED = {kind.slug: kind.needed for kind in catalogue().kind}


def played(truth: Truth, priors: PriorSet, seed: int) -> History:
    """Simulate `JOBS` jobs of a shop with a known truth."""
    rng = np.random.default_rng(seed)
    rows = [row for number in range(JOBS) for row in _Job(number, truth, priors, rng).rows()]
    return History(pd.DataFrame(rows), AS_OF.date())


def taken_in(number: int) -> pd.Timestamp:
    """Day on which a job is taken in."""
    return pd.Timestamp("2024-01-01") + pd.Timedelta(days=10 * number)


# Stretches of time, the same in every record.
PERIODS = period_ends([taken_in(0), taken_in(JOBS - 1)])


class _Job:
    def __init__(self, number: int, truth: Truth, priors: PriorSet, rng: np.random.Generator):
        self.truth, self.priors, self.rng = truth, priors, rng
        self.start = taken_in(number)
        self.job = {
            "job": f"job-{number}", "date": self.start,
            "route": "walk-in" if number % 10 in (3, 7) else "bought",
            # Every label has its jobs, so that every record has the same effects.
            "tier": TIERS[number % 3], "technician": BENCHES[number % 5], "cause": CAUSES[number // 2 % 2],
        }  # fmt: skip
        self.effect = rng.normal(0, truth["success"]["job_sd"])

    def rows(self) -> list[dict]:
        """All rows of the job."""
        rng = self.rng
        visible = [slug for slug in FAMILY if slug not in HIDDEN]
        found = {
            str(k): int(rng.integers(1, 4)) for k in rng.choice(visible, rng.integers(1, 4), replace=False)
        }
        opened = rng.random() < 0.6 + 0.3 * ("board-0" in found)
        inside = self._found_inside(found)
        self.job["hidden_faults"] = (";".join(inside) or "none") if opened else ""
        work = [(kind, grade, "intake") for kind, grade in found.items()]
        work += [(kind, int(rng.integers(1, 4)), "opening") for kind in inside if opened]
        done: list[dict] = []
        stopped = False
        together = {"shell-0", "shell-1"} <= set(found) and rng.random() < 0.5
        for kind, grade, known in work:
            if kind in {row["finding"] for row in done}:
                continue  # closed together with the other of its shell
            rows = [_left(kind, "job-stopped")] if stopped else self._worked_on(kind, grade, found, together)
            done += [{"severity": found.get(row["finding"], grade), "known_at": known, **row} for row in rows]
            stopped |= any(NEEDED[r["finding"]] for r in rows if r["outcome"] == "not-fixed" and r["final"])
        final = [row for row in done if row["final"]]
        per_job = {**self.job, **self._sale(final), **self._after(final)}
        return [{**per_job, **{k: v for k, v in row.items() if k != "final"}} for row in done]

    def _found_inside(self, found: dict[str, int]) -> list[str]:
        """Hidden faults that a look shows, how deep it goes and its reason being told beforehand."""
        rng, shows = self.rng, self.priors.hidden_fault.look
        self.job["look_depth"] = str(rng.choice(["opened", "shields-off"]))
        self.job["look_reason"] = SUSPECTED if rng.random() < 0.3 else "routine"
        seen = [slug for slug in HIDDEN if SEEN_AT.get(slug, "opened") in ("opened", self.job["look_depth"])]
        return [slug for slug in seen if rng.random() < shows * self._hidden_chance(slug, found)]

    def _hidden_chance(self, slug: str, found: dict[str, int]) -> float:
        true = self.truth["hidden_fault"]
        log_odds = true["base"][slug]
        if self.job["look_reason"] == SUSPECTED:
            log_odds += true["suspected"][SUSPECTED]
        for kind, grade in found.items():
            if slug in RAISES.get(kind, ()):
                factor = self.priors.hidden_fault.severity_factor[grade - 1]
                log_odds += factor * true["weight"][f"{kind} raises {slug}"]
        return _chance(log_odds)

    def _worked_on(self, kind: str, grade: int, found: dict[str, int], together: bool) -> list[dict]:
        rng = self.rng
        if rng.random() < 0.05:
            return [_left(kind, "no-part")]
        if together and kind.startswith("shell"):
            lead = self._attempt("shell-0", found["shell-0"], "whole-shell")
            return [lead, {**lead, "finding": "shell-1", **dict.fromkeys(TOTALS, np.nan)}]
        methods = [f"fix-{kind}", OTHER.get(kind, "")]
        if methods[1] and rng.random() < 0.3:
            methods.reverse()
        tries = [self._attempt(kind, grade, methods[0])]
        if methods[1] and tries[0]["outcome"] == "not-fixed" and rng.random() < 0.7:
            tries = [{**tries[0], "final": False}, self._attempt(kind, grade, methods[1], again=True)]
        return tries

    def _attempt(self, kind: str, grade: int, method: str, again: bool = False) -> dict:
        rng, true = self.rng, self.truth["success"]
        logit = true["kind_logit"][kind] + true["severity_effect"][kind, str(grade)]
        logit += true["period_effect"][PERIODS[period_of([self.start], PERIODS)[0]]]
        for name in ("tier", "technician", "cause"):
            logit += true[f"{name}_effect"][self.job[name]]
        logit += true["method_effect"].get(method, 0.0)
        logit -= again * true["after_failure"]
        inside = float(inside_logit(logit, true["job_sd"]))
        fixed = bool(rng.random() < _chance(inside + self.effect))
        book = float(rng.uniform(10, 80)) if rng.random() < 0.6 else np.nan
        parts = self.truth["parts_cost"]
        ratio = parts["log_ratio"][FAMILY[kind]] + parts["spread"][FAMILY[kind]] * rng.normal()
        times = 2 if rng.random() < parts["bought_again"] else 1
        return {
            "finding": kind, "method": method, "outcome": "fixed" if fixed else "not-fixed", "why_not": "",
            "minutes": self._minutes(kind, grade, method, fixed) if rng.random() < 0.9 else np.nan,
            "book_cost": book, "parts_cost": times * book * np.exp(ratio), "final": True,
        }  # fmt: skip

    def _minutes(self, kind: str, grade: int, method: str, fixed: bool) -> float:
        true, rng = self.truth["bench_minutes"], self.rng
        usual = true["log_minutes"][kind] + true["method_effect"].get(method, 0.0)
        usual += {1: -true["severity_step"]["1 to 2"], 2: 0.0, 3: true["severity_step"]["2 to 3"]}[grade]
        usual += 0.0 if fixed else true["failed_effect"][FAMILY[kind]]
        # Ordinary or stuck, a fixed one given that it ended before the give-up time; then how long.
        give_up = self.priors.bench_minutes.give_up_minutes
        middles = usual + np.array([0.0, true["tail_shift"]])
        sds = np.array([true["spread"], true["tail_spread"]])
        log_below = log_ndtr((np.log(give_up) - middles) / sds) if fixed else np.zeros(2)
        log_weight = np.log([1 - true["tail_share"], true["tail_share"]]) + log_below
        stuck = int(np.log(rng.random()) < log_weight[1] - np.logaddexp(*log_weight))
        log_minutes = middles[stuck] + sds[stuck] * ndtri_exp(log_below[stuck] + np.log(rng.random()))
        return float(min(np.round(np.exp(log_minutes), 2), give_up))

    def _sale(self, final: list[dict]) -> dict:
        """Price and day of sale; blank for a unit that is not sold yet."""
        rng, true = self.rng, self.truth["sale_price"]
        left = self.start + pd.Timedelta(days=int(rng.integers(10, 60)))
        owned, tier = self.job["route"] == "bought", self.job["tier"]
        gone = left <= AS_OF and not (owned and rng.random() < 0.08)
        open_still = [row["finding"] for row in final if row["outcome"] != "fixed"]
        grade = min(2, len(open_still))
        drop = true["first_drop"] * (grade >= 1) + true["second_drop"] * (grade >= 2)
        log_ratio = true["level"] + true["tier_effect"][tier] - drop * np.exp(true["tier_drop"][tier])
        price = 200 * np.exp(log_ratio + true["spread"] * rng.normal())
        broken = any(NEEDED[kind] for kind in open_still)
        self.left = left if gone else None
        return {
            "closed": left if left <= AS_OF else pd.NaT,
            "sold_date": left if gone and owned else pd.NaT,
            "sold": (40.0 if broken else price) if gone and owned else np.nan,
            "working_price": 200.0,
        }

    def _after(self, final: list[dict]) -> dict:
        """The first comeback that the shop knows of, if any."""
        rng, true = self.rng, self.truth["comeback"]
        stated = float(rng.choice([60, 90, 180, np.nan]))
        nothing = {"warranty_days": stated, "comeback_date": pd.NaT, "comeback_kind": ""}
        fixed = [row["finding"] for row in final if row["outcome"] == "fixed"]
        if self.left is None:
            return nothing
        rate = sum(np.exp(true["log_rate"][FAMILY[kind]]) for kind in fixed) / 30  # a day
        ours = _first_time(rng.exponential(), rate, true["later"])
        theirs = rng.exponential() / (0.02 / 30)
        # Whole days between two dates; both hours of the day are unknown.
        day = np.floor(min(ours, theirs) + rng.random())
        if not day <= (AS_OF - self.left).days:
            return nothing
        kind = str(rng.choice(["same-fault", "dead-part"])) if ours < theirs else "new-damage"
        return {
            "warranty_days": stated,
            "comeback_date": self.left + pd.Timedelta(days=int(day)),
            "comeback_kind": kind,
        }


def _left(kind: str, why: str) -> dict:
    return {
        "finding": kind, "method": "", "outcome": "not-attempted", "why_not": why, "final": True,
        **dict.fromkeys(TOTALS, np.nan),
    }  # fmt: skip


def _first_time(risk: float, rate: float, later: dict[str, float]) -> float:
    """Day on which the hazard summed since day 0 reaches `risk`."""
    day = 0.0
    if not rate:
        return np.inf
    for length, factor in ((30.0, 1.0), (60.0, np.exp(later["31 to 90"])), (np.inf, np.exp(later["91 on"]))):
        hazard = rate * factor
        if hazard * length >= risk:
            return day + risk / hazard
        risk, day = risk - hazard * length, day + length
    return np.inf


def _chance(log_odds: float) -> float:
    return 1 / (1 + np.exp(-log_odds))
