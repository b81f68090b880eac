"""Reads what the digits of plan states mean: which items are open, closed, exhausted."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from triage.arrays import Bools, Floats, Ints, any_in_row
from triage.domain.safety.facts import BATTERY, LIQUID, Facts
from triage.policy.problem.problem import Option, PlanProblem
from triage.policy.problem.safety import bad_branches, looked_apart

UNTRIED, FIXED, FAILED = 0, 1, 2
UNMADE, POSITIVE, NEGATIVE = 0, 1, 2
ACCESS_DIGIT, FIRST_LATENT_FAULT = 0, 1
# The battery's own digit, where it is in doubt, bad or in the way: as found, looked at, out of the device.
AS_FOUND, LOOKED, OUT = 0, 1, 2


def first_check(problem: PlanProblem) -> int:
    """Column of the first check's digit; access and latent faults stand before it."""
    return FIRST_LATENT_FAULT + len(problem.latent_faults)


def first_option(problem: PlanProblem) -> int:
    """Column of the first option's digit; the checks stand before it."""
    return first_check(problem) + len(problem.checks)


def battery_column(problem: PlanProblem) -> int:
    """Column of the battery's own digit, where there is one: after all others."""
    return first_option(problem) + len(problem.options)


def rivals(options: tuple[Option, ...], index: int) -> list[int]:
    """Other options that share an item with this one: one of them may have failed first."""
    mine = set(options[index].closes)
    return [j for j, other in enumerate(options) if j != index and mine & set(other.closes)]


class StateView:
    """A block of states, as the plan reads them; every array is (state,) long.

    Quickest where the states are laid out digit by digit in memory.

    An option's digit is 0 untried, 1 fixed, 2 failed, then a further pair of
    odd (fixed) and even (failed) values for each rival that failed first.
    """

    def __init__(self, problem: PlanProblem, states: NDArray[np.int8]):
        self.problem = problem
        self.states = states
        self._options = states[:, first_option(problem) : battery_column(problem)]

    def read(self) -> None:
        """Read now whatever does not hang on chances or money."""
        for name in ("access", "fixed", "failed", "open", "ready", "settled", "grade", "facts", "may_end"):
            getattr(self, name)

    def under(self, problem: PlanProblem) -> StateView:
        """The same states of a problem of the same shape; what was read already stays read."""
        view = StateView(problem, self.states)
        numbers = ("problem", "salvage", "wait_days", "_read")
        view.__dict__.update({name: read for name, read in vars(self).items() if name not in numbers})
        return view

    @cached_property
    def access(self) -> Ints:
        """How far the unit is open, 0 to 3."""
        return self.states[:, ACCESS_DIGIT].astype(int)

    @cached_property
    def fixed(self) -> Bools:
        """Whether each option was done and worked, shape (state, option)."""
        odd: Bools = (self._options & 1) == 1
        return odd

    @cached_property
    def failed(self) -> Bools:
        """Whether each option was done and failed, shape (state, option)."""
        even: Bools = (self._options & 1) == 0
        return (self._options > 0) & even

    @cached_property
    def known(self) -> Bools:
        """Whether each latent fault is settled, shape (state, latent fault)."""
        known: Bools = self._latent_faults > 0
        for place in self._apart:  # the look at the battery has told no more than "not that"
            known[:, place] &= self._latent_faults[:, place] <= len(self.problem.latent_faults[place].chance)
        return known

    @cached_property
    def battery_known(self) -> Bools:
        """Whether each latent fault that may be a bad cell is settled as far, shape (state, such faults)."""
        bad = [bool(branches) for branches in bad_branches(self.problem)]
        settled: Bools = self._latent_faults[:, bad] > 0
        return settled

    @cached_property
    def battery_digit(self) -> Ints:
        """How far the battery was seen to, shape (state,); 0 where no digit says so."""
        column = battery_column(self.problem)
        if column == self.states.shape[1]:
            return np.zeros(len(self.states), dtype=int)
        return self.states[:, column].astype(int)

    @cached_property
    def battery_looked(self) -> Bools:
        """Whether a battery that was suspect has been looked at."""
        looked: Bools = self.battery_digit >= LOOKED
        return looked

    @cached_property
    def facts(self) -> Facts:
        """What the safety rules ask for, every array of shape (state,)."""
        return Facts(battery_of(self), liquid_of(self), self.access)

    def allow(self, acts: frozenset[str]) -> Bools:
        """Whether the safety rules allow some acts, shape (state,)."""
        return self.once(acts, lambda: self.problem.safety.rules.allow(acts, self.facts))

    def once(self, key: Hashable, read: Callable[[], Bools]) -> Bools:
        """What several acts ask of the same states, read only once."""
        if key not in self._read:
            self._read[key] = read()
        return self._read[key]

    @cached_property
    def _read(self) -> dict[Hashable, Bools]:
        return {}

    @cached_property
    def may_end(self) -> tuple[Bools, Bools]:
        """Whether the safety rules allow to finish, and to stop, shape (state,) each.

        A device that was not opened can always be left as it is: what stripping
        it then takes, careful opening included, is in the minutes of that ending.
        """
        owned, opened = self.problem.owned, self.access > 0
        done = frozenset({"test", "sell" if owned else "hand-back"})
        finish = self.allow(done) & (~opened | self.allow(frozenset({"close", "seal"})))
        stop = ~opened | self.allow(frozenset({"strip" if owned else "close"}))
        return finish, stop

    @cached_property
    def tested_when_stripped(self) -> Bools:
        """Whether its parts may be tested in the unit while it is stripped: opened, its battery out."""
        out = np.full(len(self.states), BATTERY.index("out-safe"))
        facts = Facts(out, liquid_of(self, opened=True), np.maximum(self.access, 1))
        return self.problem.safety.rules.allow(frozenset({"test"}), facts)

    @cached_property
    def made(self) -> Bools:
        """Whether each check has been made, shape (state, check)."""
        start = first_check(self.problem)
        return self.states[:, start : start + len(self.problem.checks)] > 0

    @cached_property
    def open(self) -> Bools:
        """Whether each item is known to be there and not closed, shape (state, item)."""
        open_ = np.ones((len(self.states), len(self.problem.items)), dtype=bool, order="F")
        for index, item in enumerate(self.problem.items):
            if item.latent_fault >= 0:
                open_[:, index] = self.states[:, FIRST_LATENT_FAULT + item.latent_fault] == item.branch + 1
            for option in self._closing[index]:
                open_[:, index] &= ~self.fixed[:, option]
        return open_

    @cached_property
    def exhausted(self) -> Bools:
        """Open with nothing left to try (at most two tries an item), shape (state, item)."""
        spent = np.zeros_like(self.open)
        for index, closing in enumerate(self._closing):
            tries = self.failed[:, closing].sum(axis=1)
            spent[:, index] = self.open[:, index] & (tries >= min(2, len(closing)))
        return spent

    @cached_property
    def workable(self) -> Bools:
        """Open with something left to try, shape (state, item)."""
        return self.open & ~self.exhausted

    @cached_property
    def dead(self) -> Bools:
        """A required item has failed for good."""
        return any_in_row(self.exhausted[:, self._required])

    @cached_property
    def decided(self) -> Bools:
        """A required item has failed for good, or all is found out and none is left open."""
        return self.dead | (self.settled & self.ready)

    @cached_property
    def ready(self) -> Bools:
        """Every required item known to be there is closed."""
        return ~any_in_row(self.open[:, self._required])

    @cached_property
    def settled(self) -> Bools:
        """Nothing is left to find out."""
        return ~any_in_row(~self.known)

    @cached_property
    def grade(self) -> Ints:
        """0 fully working, 1 one optional item left open, 2 more."""
        left_open: Ints = self.open[:, ~self._required].sum(axis=1)
        return np.minimum(left_open, 2)

    @cached_property
    def salvage(self) -> Floats:
        """Share of the parts value that the failures so far have left."""
        shares = [option.salvage for option in self.problem.options]
        left = np.ones(len(self.states))
        for failed, share in zip(self.failed.T, shares, strict=True):
            left *= np.where(failed, share, 1.0)
        return left

    def summed(self, amounts: list[float]) -> Floats:
        """Sum over the options that worked of an amount each."""
        total = np.zeros(len(self.states))
        for fixed, amount in zip(self.fixed.T, amounts, strict=True):
            if amount:
                total += np.where(fixed, amount, 0.0)
        return total

    @cached_property
    def wait_days(self) -> Floats:
        """Days waited for the slowest part used so far."""
        waited = np.zeros(len(self.states))
        for tried, option in zip((self._options > 0).T, self.problem.options, strict=True):
            if option.wait_days > 0:
                waited = np.maximum(waited, np.where(tried, option.wait_days, 0.0))
        return waited

    @cached_property
    def _closing(self) -> list[list[int]]:
        options = self.problem.options
        return [
            [o for o, option in enumerate(options) if index in option.closes]
            for index in range(len(self.problem.items))
        ]

    @cached_property
    def _latent_faults(self) -> NDArray[np.int8]:
        return self.states[:, FIRST_LATENT_FAULT : FIRST_LATENT_FAULT + len(self.problem.latent_faults)]

    @cached_property
    def _apart(self) -> list[int]:
        return [place for place, apart in enumerate(looked_apart(self.problem)) if apart]

    @cached_property
    def _required(self) -> Bools:
        return np.array([item.required for item in self.problem.items], dtype=bool)


def battery_of(view: StateView) -> Ints:
    """The battery in each state, a place in `BATTERY`, shape (state,)."""
    problem, count = view.problem, len(view.states)
    start = problem.safety.battery
    looked, out = view.battery_digit >= LOOKED, view.battery_digit == OUT
    new = any_in_row(view.fixed[:, [option.new_battery for option in problem.options]])
    bad = any_in_row(view.open[:, [item.hazard for item in problem.items]]) | (start == "bad")
    spent = any_in_row(view.open[:, [item.spent for item in problem.items]])
    doubted = any_in_row(~view.battery_known) & (start in ("suspect", "no-sign"))
    suspect = doubted | ~looked if start == "suspect" else doubted
    always = np.ones(count, dtype=bool)
    cases: list[tuple[Bools, str]] = [
        (always & (start == "reacting"), "reacting"),
        (new & out, "waiting"),
        (new, "replaced"),
        (~bad & (start == "absent"), "absent"),  # a bad cell found after all counts, whatever was said
        (out & bad, "out-safe"),
        (out, "out-sound"),
        (bad, "bad"),
        (suspect, "suspect"),
        (spent, "worn"),
        ((view.access == 0) & (start == "no-sign"), "no-sign"),
    ]
    words = [np.full(count, BATTERY.index(word)) for _, word in cases]
    return np.select([mask for mask, _ in cases], words, BATTERY.index("sound")).astype(np.intp)


def liquid_of(view: StateView, opened: bool = False) -> Ints:
    """Liquid in each state, a place in `LIQUID`, shape (state,): what is known to be there is wet.

    opened : as it would be once the device was opened.
    """
    problem = view.problem
    liquid = [item.liquid for item in problem.items]
    wet = any_in_row(view.open[:, liquid])
    unsettled = any_in_row(~view.known[:, [m.liquid for m in problem.latent_faults]])
    # A mark, or having been wet, is cleared by opening the device and finding no residue.
    damp = unsettled | ((view.access == 0) & (problem.safety.liquid != "none") & (not opened))
    cleaning = [any(liquid[item] for item in option.closes) for option in problem.options]
    dried = any_in_row(view.fixed[:, cleaning])
    words = [np.full(len(wet), LIQUID.index(word)) for word in ("wet", "may-be-wet", "dried")]
    return np.select([wet, damp, dried], words, LIQUID.index("none")).astype(np.intp)
