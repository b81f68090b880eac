"""Brute force: the value of a plan problem by listing every policy there is.

Written from the words of the rules, on plain Python states, sharing nothing
with `triage.policy` but the problem's dataclasses. A policy is represented by
the vector of its expected money in each scenario; the best policy is found by
listing all vectors and only then weighing them by the scenarios. There is no
maximisation inside the recursion, so it cannot share a mistake with backward
induction.
"""

from __future__ import annotations

from itertools import product

import numpy as np

MOST_POLICIES = 60_000


class TooManyPolicies(Exception):
    pass


class EveryPolicy:
    """All policies of a problem under terms with `finish(grade)` and `stop(share, extra)`."""

    def __init__(self, problem, terms):
        self.problem, self.terms = problem, terms
        self.count = len(problem.weights)

    def best(self) -> float:
        problem = self.problem
        unknown, read = (None,) * len(problem.latent_faults), tuple(c.result for c in problem.checks)
        vectors = self.vectors(0, unknown, read, (None,) * len(problem.options))
        weights = problem.weights * self.likelihood(unknown, read)
        return float(max(weights @ vector for vector in vectors) / weights.sum())

    def likelihood(self, found, read):
        """Chance, in each scenario, of what was found and read: summed over every truth."""
        problem, total = self.problem, np.zeros(self.count)
        for truth in product(*(range(m.chance.shape[0]) for m in problem.latent_faults)):
            if any(f is not None and f != t for f, t in zip(found, truth, strict=True)):
                continue
            chance = np.ones(self.count)
            for latent_fault, branch in zip(problem.latent_faults, truth, strict=True):
                chance = chance * latent_fault.chance[branch]
            for check, result in zip(problem.checks, read, strict=True):
                if result is not None:
                    there = any(truth[m] == b for m, b in check.reveals)
                    positive = check.sensitivity if there else 1 - check.specificity
                    chance = chance * (positive if result else 1 - positive)
            total = total + chance
        return total

    # A try is None (untried) or (worked, rival that failed before or None).
    def vectors(self, access, found, read, tries):
        if forced := self.look(access, found, read, tries):
            return forced
        out = [self.stop(access, tries)]
        if self.ready(found, tries) and None not in found:
            out.append(self.finish(access, found, tries))
        for branches in self.acts(access, found, read, tries):
            out += self.combine(branches)
        if len(out) > MOST_POLICIES:
            raise TooManyPolicies
        return out

    def combine(self, branches):
        """Every way to go on in each outcome of an act."""
        chances, costs, children = zip(*branches, strict=True)
        sets = [self.vectors(*child) for child in children]
        if np.prod([len(s) for s in sets]) > MOST_POLICIES:
            raise TooManyPolicies
        return [
            sum(p * (v - c) for p, c, v in zip(chances, costs, chosen, strict=True))
            for chosen in product(*sets)
        ]

    # -- what is there ------------------------------------------------------
    def present(self, i, found):
        item = self.problem.items[i]
        return item.latent_fault < 0 or found[item.latent_fault] == item.branch

    def closed(self, i, tries):
        return any(t and t[0] and i in o.closes for o, t in zip(self.problem.options, tries, strict=True))

    def is_open(self, i, found, tries):
        return self.present(i, found) and not self.closed(i, tries)

    def spent(self, i, found, tries):
        closing = [t for o, t in zip(self.problem.options, tries, strict=True) if i in o.closes]
        failures = sum(1 for t in closing if t and not t[0])
        return self.is_open(i, found, tries) and (failures >= 2 or failures == len(closing))

    def dead(self, found, tries):
        return any(it.required and self.spent(i, found, tries) for i, it in enumerate(self.problem.items))

    def ready(self, found, tries):
        return not any(
            it.required and self.is_open(i, found, tries) for i, it in enumerate(self.problem.items)
        )

    def hazard(self, found, tries):
        return [i for i, it in enumerate(self.problem.items) if it.hazard and self.is_open(i, found, tries)]

    # -- acts ---------------------------------------------------------------
    def settle(self, m, access, found, read, tries, minutes=0.0):
        before = self.likelihood(found, read)
        for b in range(self.problem.latent_faults[m].chance.shape[0]):
            known = (*found[:m], b, *found[m + 1 :])
            chance = self.likelihood(known, read) / before
            yield chance, minutes * self.problem.rate, (access, known, read, tries)

    def checking(self, c, access, found, read, tries):
        check, before = self.problem.checks[c], self.likelihood(found, read)
        for result in (True, False):
            then = (*read[:c], result, *read[c + 1 :])
            cost = check.minutes * self.problem.rate + check.extra
            yield self.likelihood(found, then) / before, cost, (access, found, then, tries)

    def look(self, access, found, read, tries):
        for m, latent_fault in enumerate(self.problem.latent_faults):
            if found[m] is None and latent_fault.trace_minutes is None and access >= latent_fault.access:
                return self.combine(list(self.settle(m, access, found, read, tries)))
        return None

    def acts(self, access, found, read, tries):
        problem = self.problem
        dead, hazard = self.dead(found, tries), self.hazard(found, tries)
        unseen_cell = any(m.blocks_hot_work and found[k] is None for k, m in enumerate(problem.latent_faults))
        for c, check in enumerate(problem.checks):
            useful = any(found[m] is None for m, _ in check.reveals) and access >= check.access
            waits = check.powered and (hazard or unseen_cell)
            excluded = any(read[other] is not None for other in check.excludes)
            if read[c] is None and useful and not dead and not waits and not excluded:
                yield list(self.checking(c, access, found, read, tries))
        for m, latent_fault in enumerate(problem.latent_faults):
            if found[m] is not None:
                continue
            if latent_fault.trace_minutes is not None:
                if access >= latent_fault.access and not dead and not hazard:
                    yield list(self.settle(m, access, found, read, tries, latent_fault.trace_minutes))
            elif access < latent_fault.access and self.ready(found, tries):
                yield list(self.settle(m, access, found, read, tries))
        reach = (*problem.options, *problem.latent_faults, *problem.checks)
        top = max((entry.access for entry in reach), default=0)
        if access < top and not dead and not (hazard and access > 0):
            cost = problem.access_minutes[access] * problem.rate + problem.access_extra[access]
            yield [(np.ones(self.count), cost, (access + 1, found, read, tries))]
        for o, option in enumerate(problem.options):
            if tries[o] is None and not dead and self.may(o, access, found, tries, hazard):
                failed = [
                    r for r, t in enumerate(tries)
                    if t and not t[0] and set(problem.options[r].closes) & set(option.closes)
                ]  # fmt: skip
                before = failed[0] if failed else None
                p = option.chance if before is None else option.chance_after.get(before, option.chance)
                costs = [option.minutes[k] * problem.rate + option.parts[k] + option.extra[k] for k in (0, 1)]
                yield [
                    (p, costs[0], (access, found, read, (*tries[:o], (True, before), *tries[o + 1 :]))),
                    (1 - p, costs[1], (access, found, read, (*tries[:o], (False, before), *tries[o + 1 :]))),
                ]

    def may(self, o, access, found, tries, hazard):
        problem, option = self.problem, self.problem.options[o]
        if access < option.access:
            return False
        if not any(self.is_open(i, found, tries) and not self.spent(i, found, tries) for i in option.closes):
            return False
        if any(i not in option.closes for i in hazard):
            return False
        if option.hot and any(
            m.blocks_hot_work and found[k] is None for k, m in enumerate(problem.latent_faults)
        ):
            return False
        for earlier in option.after:
            for i in problem.options[earlier].closes:
                waits = problem.items[i].required and self.is_open(i, found, tries)
                if i not in option.closes and waits:
                    return False
        skippable = all(
            not problem.items[i].required and problem.items[i].latent_fault < 0 for i in option.closes
        )
        passed = any(o in other.after and tries[k] for k, other in enumerate(problem.options))
        return not (skippable and passed)

    # -- endings ------------------------------------------------------------
    def finish(self, access, found, tries):
        problem = self.problem
        lost = sum(
            1 for i, it in enumerate(problem.items) if not it.required and self.is_open(i, found, tries)
        )
        money = self.terms.finish(np.array([min(lost, 2)]))[0]
        money -= problem.finish_minutes[access > 0] * problem.rate
        money -= sum(o.comeback for o, t in zip(problem.options, tries, strict=True) if t and t[0])
        return np.full(self.count, money)

    def stop(self, access, tries):
        problem = self.problem
        share, extra = 1.0, 0.0
        for option, t in zip(problem.options, tries, strict=True):
            if t and not t[0]:
                share *= option.salvage
            if t and t[0]:
                extra += option.recovered
        money = self.terms.stop(np.array([share]), np.array([extra]))[0]
        return np.full(self.count, money - problem.stop_minutes[access > 0] * problem.rate)
