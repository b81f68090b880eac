"""Brute force: what stripping is worth, by every truth, every outcome of every part and every set of parts.

Written from the words of the rules, on plain Python numbers; it shares nothing with `triage.policy` but
the problem's dataclasses. A set of parts is an assignment (left in, untested, tested) with a depth to
open to; all of them are listed.
"""

from __future__ import annotations

from itertools import product

import numpy as np
from scipy import integrate

from tests.policy.every_policy import NOT_THAT, EveryPolicy


class EveryPart(EveryPolicy):
    """All policies of a problem with parts, under terms with `paid`, `fees` and `tax`."""

    # -- one part, good and sold ------------------------------------------------
    def kept(self, price, share):
        """What is kept of one sale at a price: fees and tax off, by the words of the margin scheme."""
        terms = self.terms
        rate = terms.tax.rate / (1 + terms.tax.rate)
        over = {"none": 0.0, "standard": price, "second-hand-margin": max(0.0, price - share * terms.paid)}
        return (
            price * (1 - terms.fees.selling_share - terms.fees.payment_share) - rate * over[terms.tax.scheme]
        )

    def expected(self, mean, part):
        if part.spread == 0 or mean == 0:
            return self.kept(mean, part.share)
        s = np.sqrt(np.log(1 + part.spread**2))

        def density(z):
            price = mean * np.exp(s * z - s * s / 2)
            return self.kept(price, part.share) * np.exp(-z * z / 2) / np.sqrt(2 * np.pi)

        kink = (np.log(max(part.share * self.terms.paid, 1e-12) / mean) + s * s / 2) / s
        middle = float(np.clip(kink, -8, 8))
        return sum(integrate.quad(density, *ends, epsabs=1e-11)[0] for ends in ((-9, middle), (middle, 9)))

    # -- what damage has done ----------------------------------------------------
    def lifted(self, i, harm, tries):
        """Whether a repair that worked has brought the part back."""
        return not harm.stays and any(
            t and t[0] and i in o.closes and harm.part not in o.replaces
            for o, t in zip(self.problem.options, tries, strict=True)
        )

    def suffered(self, part, truth, tries):
        """Harms that a part suffers if the truth is so."""
        problem = self.problem
        found = [harm for harm in problem.harms if harm.part == part]
        for i, item in enumerate(problem.items):
            if item.latent_fault < 0 or truth[item.latent_fault] == item.branch:
                found += [h for h in item.harms if h.part == part and not self.lifted(i, h, tries)]
        return found

    def survival(self, part, truth, tries):
        """Chance that a part is good, or that the unit can be tested, given the truth."""
        worst = {}
        for harm in self.suffered(part, truth, tries):
            worst[harm.mechanism] = max(worst.get(harm.mechanism, 0.0), harm.chance)
        chance = float(np.prod([1 - ruin for ruin in worst.values()]))
        if part != "testing":
            for option, t in zip(self.problem.options, tries, strict=True):
                chance *= option.salvage if t and not t[0] else 1.0
        return chance

    def level(self, part, tries):
        """Share of its price that a good part fetches, by what was seen at intake."""
        least = {}
        for harm in self.suffered(part, (None,) * len(self.problem.latent_faults), tries):
            least[harm.mechanism] = min(least.get(harm.mechanism, 1.0), harm.left)
        return float(np.prod(list(least.values())))

    def truths(self, found, read):
        """Every truth that agrees, with its likelihood in each scenario."""
        problem = self.problem
        for truth in product(*(range(m.chance.shape[0]) for m in problem.latent_faults)):
            agree = [self.agrees(m, f, t) for m, (f, t) in enumerate(zip(found, truth, strict=True))]
            if all(agree):
                yield truth, self.likelihood(truth, read)

    def outcomes(self, found, read, tries):
        """Every (testable, good parts) with its chance in each scenario, given what is known."""
        keys = [part.key for part in self.problem.parts]
        known = self.likelihood(found, read)
        # Opened to be stripped, what is or may be wet is never powered to test a part.
        dry = self.liquid((1, 0), found, tries) in ("none", "dried")
        for truth, likely in self.truths(found, read):
            chance = np.divide(likely, known, out=np.zeros_like(known), where=known > 0)
            survive = [self.survival(key, truth, tries) for key in ("testing", *keys)]
            for testable, *good in product((True, False), repeat=len(survive)):
                odds = [p if lives else 1 - p for p, lives in zip(survive, (testable, *good), strict=True)]
                yield testable and dry, good, chance * np.prod(odds)

    # -- every set ---------------------------------------------------------------
    def stops(self, place, found, read, tries):
        problem, access = self.problem, place[0]
        fixed = sum(
            self.kept_new(o.recovered) for o, t in zip(problem.options, tries, strict=True) if t and t[0]
        )
        fixed -= self.terms.fees.disposal
        money = []
        for part in problem.parts:
            price = part.price * self.level(part.key, tries)
            money.append((self.expected(price, part), self.expected(part.untested * price, part)))
        outcomes = list(self.outcomes(found, read, tries))
        for depth in range(access, len(problem.access_minutes) + 1):
            opening = sum(problem.access_minutes[access:depth])
            if access == 0 and depth:
                opening += problem.stop_minutes[0] - problem.stop_minutes[1]
            reach = [(0, 1, 2) if part.access <= depth else (0,) for part in problem.parts]
            for chosen in product(*reach):
                vector = np.full(self.count, fixed - (opening + problem.stop_minutes[1]) * problem.rate)
                for way, part in zip(chosen, problem.parts, strict=True):
                    vector -= problem.rate * ((way > 0) * part.minutes + (way == 2) * part.test_minutes)
                for testable, good, chance in outcomes:
                    for way, lives, part, (whole, untested) in zip(
                        chosen, good, problem.parts, money, strict=True
                    ):
                        if way and lives:
                            proven = way == 2 and (testable or part.donor)
                            vector = vector + chance * (whole if proven else untested)
                yield vector

    def kept_new(self, price):
        """What is kept of a part bought new: nothing was paid for it with the unit."""
        return self.kept(price, 0.0)


def knowledge(problem, state):
    """What a state of the plan says, in the words of `EveryPolicy`: place, found, read, tries."""
    faults, checks, options = len(problem.latent_faults), len(problem.checks), len(problem.options)
    digits = [int(value) for value in state]
    found = []
    for m, digit in enumerate(digits[1 : 1 + faults]):
        branches = problem.latent_faults[m].chance.shape[0]
        found.append(None if digit == 0 else NOT_THAT if digit > branches else digit - 1)
    read = [{0: None, 1: True, 2: False}[d] for d in digits[1 + faults : 1 + faults + checks]]
    tries = []
    for digit in digits[1 + faults + checks : 1 + faults + checks + options]:
        tries.append(None if digit == 0 else (digit % 2 == 1, None))
    return (digits[0], 0), tuple(found), tuple(read), tuple(tries)
