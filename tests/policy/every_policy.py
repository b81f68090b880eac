"""Brute force: the value of a plan problem by listing every policy.

Written from the words of the rules, on plain Python states, sharing nothing
with `triage.policy` but the problem's dataclasses and the table of safety rules. A policy is represented by
the vector of its expected money in each scenario; the best policy is found by
listing all vectors and only then weighing them by the scenarios. There is no
maximisation inside the recursion, so it cannot share a mistake with backward
induction.
"""

from __future__ import annotations

from itertools import product

import numpy as np

from triage.domain.safety.facts import OPENED, facts

MOST_POLICIES = 60_000


NOT_THAT = "another cause"  # a suspect battery was looked at: it is not what the symptom comes from
FITTED, LOOKED, OUT = range(3)


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
        vectors = self.vectors((0, FITTED), unknown, read, (None,) * len(problem.options))
        weights = problem.weights * self.likelihood(unknown, read)
        return float(max(weights @ vector for vector in vectors) / weights.sum())

    def likelihood(self, found, read):
        """Chance, in each scenario, of what was found and read: summed over every truth."""
        problem, total = self.problem, np.zeros(self.count)
        for truth in product(*(range(m.chance.shape[0]) for m in problem.latent_faults)):
            if not all(self.agrees(m, f, t) for m, (f, t) in enumerate(zip(found, truth, strict=True))):
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

    def agrees(self, m, found, truth):
        return found is None or found == truth or (found == NOT_THAT and truth not in self.bad(m))

    def bad(self, m):
        return [it.branch for it in self.problem.items if it.latent_fault == m and it.hazard]

    # A place is how far the unit is open, and what was done about its battery.
    # A try is None (untried) or (worked, rival that failed before or None).
    def vectors(self, place, found, read, tries):
        if forced := self.look(place, found, read, tries):
            return forced
        access, allowed, owned = place[0], self.allowed(place, found, tries), self.problem.owned
        out = []
        if not access or allowed("strip" if owned else "close"):
            out += self.stops(place, found, read, tries)
        last = ["test", "sell" if owned else "hand-back", *(["close", "seal"] if access else [])]
        known = None not in found and NOT_THAT not in found
        if self.ready(found, tries) and known and allowed(*last):
            out.append(self.finish(access, found, tries))
        for branches in self.acts(place, found, read, tries):
            out += self.combine(branches)
        if len(out) > MOST_POLICIES:
            raise TooManyPolicies
        return out

    def combine(self, branches):
        """Every combination of policies after the outcomes of an act."""
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

    # -- battery and liquid ---------------------------------------------------
    def battery(self, place, found, tries):
        (access, cell), problem, start = place, self.problem, self.problem.safety.battery
        if start == "reacting":
            return "reacting"
        if any(t and t[0] and o.new_battery for o, t in zip(problem.options, tries, strict=True)):
            return "waiting" if cell == OUT else "replaced"
        bad = start == "bad" or bool(self.hazard(found, tries))
        if start == "absent" and not bad:
            return "absent"
        if cell == OUT:
            return "out-safe" if bad else "out-sound"
        if bad:
            return "bad"
        doubted = any(found[m] is None and self.bad(m) for m in range(len(found)))
        if (start == "suspect" and (doubted or cell == FITTED)) or (start == "no-sign" and doubted):
            return "suspect"
        if any(it.spent and self.is_open(i, found, tries) for i, it in enumerate(problem.items)):
            return "worn"
        return "no-sign" if start == "no-sign" and not access else "sound"

    def liquid(self, place, found, tries):
        problem = self.problem
        if any(it.liquid and self.is_open(i, found, tries) for i, it in enumerate(problem.items)):
            return "wet"
        open_ = (None, NOT_THAT)
        unknown = any(m.liquid and found[k] in open_ for k, m in enumerate(problem.latent_faults))
        if unknown or (problem.safety.liquid != "none" and not place[0]):
            return "may-be-wet"
        wet = {i for i, it in enumerate(problem.items) if it.liquid}
        cleaned = any(t and t[0] and wet & set(o.closes) for o, t in zip(problem.options, tries, strict=True))
        return "dried" if cleaned else "none"

    def allowed(self, place, found, tries):
        known = facts(self.battery(place, found, tries), self.liquid(place, found, tries), OPENED[place[0]])
        return lambda *acts: not self.problem.safety.rules.broken(acts, known)

    # -- acts ---------------------------------------------------------------
    def settle(self, m, place, found, read, tries, minutes=0.0, apart=False):
        before = self.likelihood(found, read)
        every = range(self.problem.latent_faults[m].chance.shape[0])
        ends = [*self.bad(m), NOT_THAT] if apart else every
        if found[m] == NOT_THAT:
            ends = [b for b in every if b not in self.bad(m)]
        for b in ends:
            known = (*found[:m], b, *found[m + 1 :])
            there = self.likelihood(known, read)
            # What cannot be in a scenario is worth nothing there.
            chance = np.divide(there, before, out=np.zeros_like(there), where=before > 0)
            yield chance, minutes * self.problem.rate, (place, known, read, tries)

    def checking(self, c, place, found, read, tries):
        check, before = self.problem.checks[c], self.likelihood(found, read)
        for result in (True, False):
            then = (*read[:c], result, *read[c + 1 :])
            cost = check.minutes * self.problem.rate + check.extra
            yield self.likelihood(found, then) / before, cost, (place, found, then, tries)

    def look(self, place, found, read, tries):
        (access, cell), allowed = place, self.allowed(place, found, tries)
        in_doubt = self.problem.safety.battery == "suspect"
        for m, latent_fault in enumerate(self.problem.latent_faults):
            if found[m] is not None:
                continue
            traced, bad = latent_fault.trace_minutes is not None, self.bad(m)
            # To look at anything else is work inside: a suspect battery is looked at first.
            judged = bad and allowed("judge-battery") and (cell >= LOOKED or not in_doubt)
            seen = judged or (not bad and allowed("work"))
            if traced and bad and in_doubt and seen and cell >= LOOKED:
                return self.combine(list(self.settle(m, place, found, read, tries, apart=True)))
            if not traced and access >= latent_fault.access and seen:
                return self.combine(list(self.settle(m, place, found, read, tries)))
        return None

    def acts(self, place, found, read, tries):
        problem, (access, cell) = self.problem, place
        dead, hazard = self.dead(found, tries), self.hazard(found, tries)
        allowed, battery = self.allowed(place, found, tries), self.battery(place, found, tries)
        yield from self.about_the_battery(place, found, read, tries, battery)
        for c, check in enumerate(problem.checks):
            if self.may_check(c, access, found, read, tries) and allowed(
                *(check.acts or (["work"] if check.access else []))
            ):
                yield list(self.checking(c, place, found, read, tries))
        for m, latent_fault in enumerate(problem.latent_faults):
            if found[m] not in (None, NOT_THAT):
                continue
            if latent_fault.trace_minutes is not None:
                apart = self.bad(m) and problem.safety.battery == "suspect" and found[m] is None
                if access >= latent_fault.access and not dead and not apart and allowed("test"):
                    yield list(self.settle(m, place, found, read, tries, latent_fault.trace_minutes))
            elif access < latent_fault.access and self.ready(found, tries):
                if allowed("test", *(["judge-battery"] if self.bad(m) else [])):
                    yield list(self.settle(m, place, found, read, tries))
        reach = (*problem.options, *problem.latent_faults, *problem.checks)
        top = max((entry.access for entry in reach), default=0)
        if problem.safety.battery in ("suspect", "bad") or problem.safety.liquid != "none":
            top = max(top, 1)
        if access < top and not dead and allowed("work" if access else "open"):
            cost = problem.access_minutes[access] * problem.rate + problem.access_extra[access]
            yield [(np.ones(self.count), cost, ((access + 1, cell), found, read, tries))]
        for o, option in enumerate(problem.options):
            hands = option.acts or ["work" if option.access else "closed-work"]
            if (
                tries[o] is None
                and not dead
                and self.may(o, access, found, tries, hazard)
                and allowed(*hands)
            ):
                failed = [
                    r for r, t in enumerate(tries)
                    if t and not t[0] and set(problem.options[r].closes) & set(option.closes)
                ]  # fmt: skip
                before = failed[0] if failed else None
                p = option.chance if before is None else option.chance_after.get(before, option.chance)
                costs = [option.minutes[k] * problem.rate + option.parts[k] + option.extra[k] for k in (0, 1)]
                yield [
                    (p, costs[0], (place, found, read, (*tries[:o], (True, before), *tries[o + 1 :]))),
                    (1 - p, costs[1], (place, found, read, (*tries[:o], (False, before), *tries[o + 1 :]))),
                ]

    def may_check(self, c, access, found, read, tries):
        check = self.problem.checks[c]
        useful = any(found[m] in (None, NOT_THAT) for m, _ in check.reveals) and access >= check.access
        excluded = any(read[other] is not None for other in check.excludes)
        return read[c] is None and useful and not excluded and not self.dead(found, tries)

    def about_the_battery(self, place, found, read, tries, battery):
        """Look at a suspect battery, make a bad one safe, take a good one out for what needs it out."""
        (access, cell), safety, rate = place, self.problem.safety, self.problem.rate
        if not access or cell == OUT:
            return

        def then(done, minutes):
            return [(np.ones(self.count), minutes * rate, ((access, done), found, read, tries))]

        if battery == "suspect" and cell == FITTED:
            yield then(LOOKED, safety.look)
        if battery == "bad":
            yield then(OUT, 0.0 if safety.battery == "bad" else safety.make_safe)
        if battery in ("sound", "worn", "replaced"):
            hazard, problem = self.hazard(found, tries), self.problem
            ready = not self.dead(found, tries)
            waits = any(
                "heat" in o.acts and tries[k] is None and ready and self.may(k, access, found, tries, hazard)
                for k, o in enumerate(problem.options)
            )
            if waits or any(
                "heat" in c.acts and self.may_check(k, access, found, read, tries)
                for k, c in enumerate(problem.checks)
            ):
                yield then(OUT, safety.take_out)

    def may(self, o, access, found, tries, hazard):
        problem, option = self.problem, self.problem.options[o]
        if access < option.access:
            return False
        if not any(self.is_open(i, found, tries) and not self.spent(i, found, tries) for i in option.closes):
            return False
        if any(i not in option.closes for i in hazard):
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

    def stops(self, place, found, read, tries):
        """Every way to stop: one, where parts are valued together."""
        yield self.stop(place[0], tries)

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
