"""A bench that plays a plan on drawn truths; written without `triage.policy.solver.simulate`.

The whole truth is drawn first: the scenario, the branch of every latent fault, which
repairs would work on a first try and after which failure, and the result of each
check. Then the plan is followed, looking up its act in each state.

Acts on the battery are charged from the shop's own minutes and must fit the
truth: a look at a suspect battery tells only whether a bad cell causes the symptom;
other causes are traced afterwards.
"""

from __future__ import annotations

import numpy as np

AS_FOUND, LOOKED, OUT = 0, 1, 2


def simulate(outcome, terms, times, seed):
    """Margin of each play, shape (times,), with expected money for minutes and parts.

    Money is charged as the plan expects it (means), so that the mean can be
    compared with the exact one, and luck is only in outcomes and faults.
    """
    plan = outcome.plan
    problem, space = plan.plan_space.problem, plan.plan_space.space
    rng = np.random.default_rng(seed)
    truth = _draw_truth(problem, rng, times)
    index_of = {state.tobytes(): i for i, state in enumerate(space.states)}
    money = np.full(times, -outcome.upfront)
    first_check = 1 + len(problem.latent_faults)
    first_option = first_check + len(problem.checks)
    battery = first_option + len(problem.options)
    plays = {space.states[0].tobytes(): np.arange(times)}
    assert space.digits[0].name == "access"
    assert [digit.name for digit in space.digits[battery:]] in ([], ["battery"])
    while plays:
        key, rows = plays.popitem()
        state = np.frombuffer(key, dtype=np.int8)
        choice = plan.policy.choice[index_of[key]]
        if choice >= len(space.moves):
            _left_in_safety(problem, state, choice - len(space.moves), battery)
            money[rows] += _ending(problem, terms, state, choice - len(space.moves), first_option)
            continue
        move = space.moves[choice]
        charged = move.costs
        if move.digit == 0:
            ends = np.zeros(len(rows), dtype=int)
        elif move.digit == battery:
            ends = np.zeros(len(rows), dtype=int)
            charged = (_battery_minutes(problem, state, move, battery) * problem.rate,)
        elif move.digit < first_check:
            m = move.digit - 1
            told, minutes = _finding_out(problem, state, m, truth["latent_faults"][m][rows], battery)
            # The outcome must be one that the plan expects.
            ends = np.array([move.ends.index(end) for end in told])
            charged = (minutes * problem.rate,) * len(move.ends)
        elif move.digit < first_option:
            ends = 1 - truth["checks"][move.digit - first_check][rows].astype(int)
        else:
            option = move.digit - first_option
            works = truth["works"][option][_failed_before(problem, state, option, first_option)]
            ends = 1 - works[rows].astype(int)
        for end in np.unique(ends):
            there = rows[ends == end]
            money[there] -= charged[end]
            child = state.copy()
            child[move.digit] = move.ends[end]
            held = plays.get(child.tobytes())
            plays[child.tobytes()] = there if held is None else np.concatenate([held, there])
    return money


def _bad_branches(problem, m):
    return {it.branch for it in problem.items if it.latent_fault == m and it.hazard}


def _known_bad(problem, state):
    """Whether a bad cell was found, at intake or since, that no repair has replaced."""
    first_option = 1 + len(problem.latent_faults) + len(problem.checks)
    done = [option for o, option in enumerate(problem.options) if state[first_option + o] % 2 == 1]
    if any(option.new_battery for option in done):
        return False
    there = [
        i
        for i, item in enumerate(problem.items)
        if item.hazard and (item.latent_fault < 0 or state[1 + item.latent_fault] == item.branch + 1)
    ]
    replaced = {i for option in done for i in option.closes}
    return problem.safety.battery == "bad" or not set(there) <= replaced


def _finding_out(problem, state, m, truth, battery):
    """Knowledge about one latent fault afterwards, shape (row,), and the minutes it took.

    The knowledge is branch + 1, or one more than all branches for "not the battery".
    """
    latent_fault, bad = problem.latent_faults[m], _bad_branches(problem, m)
    not_that = len(latent_fault.chance) + 1
    in_doubt = problem.safety.battery == "suspect"
    if bad and in_doubt:
        assert state[0] > 0 and state[battery] >= LOOKED, "a suspect battery was not looked at"
    if bad and latent_fault.trace_minutes is None:
        assert state[0] > 0, "a hidden bad cell shows in an opened device only"
    if latent_fault.trace_minutes is None:
        return truth + 1, 0.0
    if bad and in_doubt and state[1 + m] == 0:  # the look at the battery, charged already
        return np.where(np.isin(truth, list(bad)), truth + 1, not_that), 0.0
    assert state[1 + m] == (not_that if bad and in_doubt else 0)
    return truth + 1, latent_fault.trace_minutes


def _battery_minutes(problem, state, move, battery):
    """Minutes of an act on the battery; an act that contradicts what is known of it fails here."""
    safety, bad = problem.safety, _known_bad(problem, state)
    assert state[0] > 0, "the battery is seen, made safe or taken out in an opened device only"
    if move.kind == "battery-look":
        assert safety.battery == "suspect" and state[battery] == AS_FOUND and move.ends == (LOOKED,)
        return safety.look
    assert state[battery] != OUT and move.ends == (OUT,)
    if move.kind == "make-safe":
        assert bad
        return 0.0 if safety.battery == "bad" else safety.make_safe  # charged on the way in
    assert move.kind == "take-out" and not bad
    assert safety.battery != "suspect" or state[battery] == LOOKED
    return safety.take_out


def _left_in_safety(problem, state, ending, battery):
    """An opened device is never left with a bad cell in it, nor one with a suspect battery unseen."""
    known = [0 < state[1 + m] <= len(fault.chance) for m, fault in enumerate(problem.latent_faults)]
    assert ending == 1 or all(known), "it is finished with something not found out"
    if state[0] > 0:
        assert not _known_bad(problem, state) or state[battery] == OUT
        assert problem.safety.battery != "suspect" or state[battery] >= LOOKED


def _draw_truth(problem, rng, times):
    in_hand = [(c, check) for c, check in enumerate(problem.checks) if check.result is not None]
    kept = {"scenario": [], "latent_faults": [], "checks": []}
    found = 0
    while found < times:
        # Draw until the known check results occur.
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
