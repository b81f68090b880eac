"""A bench that plays a plan on drawn truths; written without `triage.policy.solver.simulate`.

Truth is drawn first, all of it: the scenario, what every latent fault hides, which
repairs would work on a first try and after which failure, and how each check
would read. Only then is the plan followed, looking up its act in each state.
"""

from __future__ import annotations

import numpy as np


def simulate(outcome, terms, times, seed):
    """Margin of each play, shape (times,), with expected money for minutes and parts.

    Money is charged as the plan expects it (means), so that the mean can be
    held against the exact one and the only luck is what works and what is there.
    """
    plan = outcome.plan
    problem, space = plan.plan_space.problem, plan.plan_space.space
    rng = np.random.default_rng(seed)
    truth = _draw_truth(problem, rng, times)
    index_of = {state.tobytes(): i for i, state in enumerate(space.states)}
    money = np.full(times, -outcome.upfront)
    column_of = {digit.name: c for c, digit in enumerate(space.digits)}
    first_option = len(space.digits) - len(problem.options)
    first_check = first_option - len(problem.checks)
    plays = {space.states[0].tobytes(): np.arange(times)}
    assert column_of["access"] == 0
    while plays:
        key, rows = plays.popitem()
        state = np.frombuffer(key, dtype=np.int8)
        choice = plan.policy.choice[index_of[key]]
        if choice >= len(space.moves):
            money[rows] += _ending(problem, terms, state, choice - len(space.moves), first_option)
            continue
        move = space.moves[choice]
        if move.digit == 0:
            ends = np.zeros(len(rows), dtype=int)
        elif move.digit < first_check:
            ends = truth["latent_faults"][move.digit - 1][rows]
        elif move.digit < first_option:
            ends = 1 - truth["checks"][move.digit - first_check][rows].astype(int)
        else:
            option = move.digit - first_option
            works = truth["works"][option][_failed_before(problem, state, option, first_option)]
            ends = 1 - works[rows].astype(int)
        for end in np.unique(ends):
            there = rows[ends == end]
            money[there] -= move.costs[end]
            child = state.copy()
            child[move.digit] = move.ends[end]
            held = plays.get(child.tobytes())
            plays[child.tobytes()] = there if held is None else np.concatenate([held, there])
    return money


def _draw_truth(problem, rng, times):
    in_hand = [(c, check) for c, check in enumerate(problem.checks) if check.result is not None]
    kept = {"scenario": [], "latent_faults": [], "checks": []}
    found = 0
    while found < times:
        # Draw until what is in hand has come out as it did.
        scenario = rng.choice(len(problem.weights), size=times, p=problem.weights / problem.weights.sum())
        latent_faults = np.array(
            [
                (rng.random(times)[:, None] > np.cumsum(m.chance[:, scenario], axis=0).T).sum(axis=1)
                for m in problem.latent_faults
            ]
        ).reshape(len(problem.latent_faults), times)
        checks = []
        for check in problem.checks:
            there = np.zeros(times, dtype=bool)
            for m, b in check.reveals:
                there |= latent_faults[m] == b
            chance = np.where(there, check.sensitivity[scenario], 1 - check.specificity[scenario])
            checks.append(rng.random(times) < chance)
        checks = np.array(checks).reshape(len(problem.checks), times)
        agrees = np.ones(times, dtype=bool)
        for c, check in in_hand:
            agrees &= checks[c] == check.result
        for name, value in (
            ("scenario", scenario[None]),
            ("latent_faults", latent_faults),
            ("checks", checks),
        ):
            kept[name].append(value[:, agrees])
        found += int(agrees.sum())
    drawn = {name: np.concatenate(parts, axis=1)[:, :times] for name, parts in kept.items()}
    scenario = drawn["scenario"][0]
    works = []
    for option in problem.options:
        luck = rng.random(times)
        fresh = {None: luck < option.chance[scenario]}
        works.append(fresh | {j: luck < chance[scenario] for j, chance in option.chance_after.items()})
        works[-1]["otherwise"] = fresh[None]
    return {"latent_faults": drawn["latent_faults"], "checks": drawn["checks"], "works": _Default.wrap(works)}


class _Default(dict):
    """Chance after a rival that nothing is said of is the fresh one."""

    def __missing__(self, key):
        return self["otherwise"]

    @classmethod
    def wrap(cls, rows):
        return [cls(row) for row in rows]


def _failed_before(problem, state, option, first_option):
    mine = set(problem.options[option].closes)
    for other, entry in enumerate(problem.options):
        local = state[first_option + other]
        if other != option and mine & set(entry.closes) and local > 0 and local % 2 == 0:
            return other
    return None


def _ending(problem, terms, state, ending, first_option):
    opened = int(state[0] > 0)
    fixed = [o for o in range(len(problem.options)) if state[first_option + o] % 2 == 1]
    failed = [o for o in range(len(problem.options)) if state[first_option + o] > 0 and o not in fixed]
    if ending == 1:
        share = float(np.prod([problem.options[o].salvage for o in failed]))
        extra = sum(problem.options[o].recovered for o in fixed)
        gained = float(terms.stop(np.array([share]), np.array([extra]))[0])
        return gained - problem.stop_minutes[opened] * problem.rate
    lost = 0
    for i, item in enumerate(problem.items):
        there = item.latent_fault < 0 or state[1 + item.latent_fault] == item.branch + 1
        done = any(i in problem.options[o].closes for o in fixed)
        lost += not item.required and there and not done
    gained = float(terms.finish(np.array([min(lost, 2)]))[0])
    waited = max([problem.options[o].wait_days for o in (*fixed, *failed)], default=0.0)
    lost_money = sum(problem.options[o].comeback for o in fixed) + problem.daily_loss * waited
    return gained - lost_money - problem.finish_minutes[opened] * problem.rate
