"""An independent check of a solved plan: which safety rules it breaks, and where.

Shares only the table of rules with the planner. It derives suspicion and wetness
from the unit file, with slugs written out by hand. Then it follows the plan from
its start through every state that it can reach, and tracks the knowledge about
battery and liquid from the acts alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from triage.domain.safety.facts import OPENED, facts

BAD = {"cell-swollen", "cell-bent", "cell-punctured", "cell-leaking"}
DISCHARGED = {"cell-deep-discharged"}
DOUBTFUL = {"frame-bent", "frame-side-broken", "board-bent", "liquid-salt-or-sugar"}
DOUBTFUL_SYMPTOMS = {"hot-when-idle", "display-lifting"}
DOUBTFUL_CHECKS = {"six-face-look", "straightness-on-flat", "board-straightness-on-flat"}
LIQUID_MARK = {"liquid-mark-dry"}
LIQUID = {"liquid-on-board", "liquid-salt-or-sugar", "liquid-under-shield"}
# The shop's settings tell whether it charged less than the careful look takes.
_NO_MINUTES = 0.0


@dataclass(frozen=True)
class Breach:
    """A broken rule: which one, by which act, after which acts."""

    rule: str
    act: str
    path: tuple[str, ...]

    def __str__(self) -> str:
        return f"{self.rule}: {self.act} after {' > '.join(self.path) or 'nothing'}"


@dataclass(frozen=True)
class Known:
    """What is known at one point of a plan.

    doubts : latent faults, by index, that may yet turn out to be a bad cell.
    wet : liquid damage that is there and not cleaned, by kind.
    damp : it may be wet, and nobody has looked inside.
    """

    battery: str
    doubts: frozenset[int] = frozenset()
    looked: bool = False
    out: bool = False
    new: bool = False
    discharged: bool = False
    wet: frozenset[str] = frozenset()
    damp: bool = False
    cleaned: frozenset[str] = frozenset()
    opened: int = 0

    @property
    def battery_word(self) -> str:
        if self.battery == "reacting":
            return "reacting"
        if self.new:
            return "waiting" if self.out else "replaced"
        if self.battery == "absent":
            return "absent"
        if self.out:
            return "out-safe" if self.battery == "bad" else "out-sound"
        if self.battery == "bad":
            return "bad"
        if self.battery == "suspect" and (not self.looked or self.doubts):
            return "suspect"
        if self.discharged:
            return "worn"
        return "no-sign" if self.battery == "no-sign" and not self.opened else "sound"

    @property
    def liquid_word(self) -> str:
        if self.wet:
            return "wet"
        return "may-be-wet" if self.damp else "dried" if self.cleaned else "none"

    @property
    def facts(self):
        return facts(self.battery_word, self.liquid_word, OPENED[self.opened])


def bad_kinds(catalogue) -> set[str]:
    """Kinds that are a bad cell: the shop's own as declared, the shipped ones always."""
    return BAD | {kind.slug for kind in catalogue.kind if kind.battery == "hazard"}


def battery_of(unit, catalogue) -> str:
    """The battery according to the unit file."""
    if unit.battery in ("reacting", "absent"):
        return unit.battery
    bad, results = bad_kinds(catalogue), {r.check: r.found for r in unit.readings}
    doubtful = DOUBTFUL | {kind.slug for kind in catalogue.kind if kind.battery == "suspect"}
    there = [f for f in unit.findings if f.chance > 0]
    if unit.battery == "hazard" or results.get("cell-look") or any(f.seen and f.kind in bad for f in there):
        return "bad"
    if any(f.kind in bad or f.kind in DISCHARGED for f in there):
        return "suspect"
    if unit.battery == "sound" or results.get("cell-look") is False:
        return "sound"
    signs = (
        unit.battery == "suspect"
        or unit.cause in ("bent", "crushed")
        or any(f.kind in doubtful for f in there)
        or any(symptom in DOUBTFUL_SYMPTOMS for symptom in unit.symptoms)
        or any(results.get(check) for check in DOUBTFUL_CHECKS)
    )
    return "suspect" if signs else "no-sign"


class SafetyCheck:
    """Follows one solved plan of one unit."""

    def __init__(self, unit, catalogue, inputs, plan, settings, rules, owned):
        self.unit, self.catalogue, self.inputs, self.plan = unit, catalogue, inputs, plan
        self.settings, self.rules, self.owned = settings, rules, owned
        self.bad = bad_kinds(catalogue)
        self.states = 0
        problem = inputs.problem
        self.branch = {
            (item.latent_fault, item.branch): item.key for item in problem.items if item.latent_fault >= 0
        }

    def start(self) -> Known:
        there = [f for f in self.unit.findings if f.chance > 0]
        marks = {f.kind for f in there if f.kind in LIQUID_MARK | LIQUID}
        battery = battery_of(self.unit, self.catalogue)
        doubts = {m for (m, _), key in self.branch.items() if key in self.bad}
        return Known(
            battery,
            frozenset(doubts if battery in ("suspect", "no-sign") else ()),
            discharged=any(f.kind in DISCHARGED and f.seen for f in there),
            wet=frozenset(f.kind for f in there if f.kind in LIQUID and f.seen),
            damp=bool(marks) or self.unit.cause == "wet",
        )

    def breaches(self) -> Iterator[Breach]:
        """Every breach of a rule in any state that the plan can reach."""
        stack = [(0, self.start(), ())]
        while stack:
            state, known, path = stack.pop()
            self.states += 1
            act = self.plan.act(state)
            if not hasattr(act, "ends"):
                yield from self.ending(str(act), known, path)
                if str(act) != "finish" and self.owned:
                    yield from self.tested_wet(state, known, path)
                continue
            yield from self.act(act, known, path)
            children = self.plan.policy.next_state[state, : len(act.ends)]
            for end, child in enumerate(children):
                if child >= 0 and self.plan.plan_space.space.weight[child] > 0:
                    stack.append((int(child), self.after(act, end, known), (*path, self.name(act))))

    # -- acts ---------------------------------------------------------------
    def broken(self, acts, known, name, path):
        for rule in self.rules.broken(acts, known.facts):
            yield Breach(rule.slug, name, path)

    def name(self, move) -> str:
        problem = self.inputs.problem
        named = {"check": problem.checks, "repair": problem.options}.get(move.kind)
        if named is None and move.kind in ("look", "trace", "final-test"):
            named = problem.latent_faults
        return f"{move.kind} {named[move.subject].key}" if named else f"{move.kind} {move.subject}"

    def hands(self, move, known) -> set[str]:
        """The acts of a move, in the terms of the table."""
        kind = move.kind
        if kind == "open":
            return {"work"} if move.subject else {"open"}
        if kind == "check":
            check = self.catalogue.checks[self.inputs.problem.checks[move.subject].key]
            return set(check.acts) | ({"work"} if check.access != "closed" else set())
        if kind == "repair":
            repair = self.inputs.repairs[move.subject]
            return set(repair.acts) | {"closed-work" if repair.access == "closed" else "work"}
        if kind == "trace":
            return {"test"}
        about = {key for (m, _), key in self.branch.items() if m == move.subject}
        if kind == "look":
            return set() if about & self.bad else {"work"}
        if kind == "final-test":
            return {"test", "judge-battery"} if about & self.bad else {"test"}
        return {"take-out"} if kind == "take-out" else set()

    def act(self, move, known, path):
        name, minutes = self.name(move), self.settings.minutes
        yield from self.broken(self.hands(move, known), known, name, path)
        if move.kind == "battery-look" and not known.opened:
            yield Breach("battery-is-judged-opened", name, path)
        if move.kind == "battery-look" and min(move.minutes) < minutes.careful_look:
            yield Breach("careful look not charged", name, path)
        if move.kind == "make-safe":
            paid = move.minutes[0] + self.inputs.entry_minutes
            if not known.opened or paid < minutes.make_safe:
                yield Breach("make-safe not charged, or closed", name, path)
        if move.kind == "take-out" and min(move.minutes) < minutes.battery_out:
            yield Breach("taking out not charged", name, path)

    def ending(self, kind, known, path):
        if kind == "finish":
            acts = {"test", "sell" if self.owned else "hand-back"} | ({"close"} if known.opened else set())
            yield from self.broken(acts, known, kind, path)
        elif known.opened:
            yield from self.broken({"strip"} if self.owned else {"close"}, known, kind, path)
        elif self.owned:
            # Stripped as it lies: opening, look and taking out are the strip's own first steps, and charged.
            minutes, spent = self.settings.minutes, self.inputs.problem.stop_minutes[0]
            look = getattr(minutes, "careful_look", 1.0)
            # Parts that are valued one by one have minutes of their own, beside the look.
            strip = 0.0 if self.inputs.problem.parts else minutes.strip
            if known.battery_word == "suspect" and spent < strip + look:
                yield Breach("strip-takes-the-battery-out-first", kind, path)
            if known.battery_word == "bad" and self.inputs.entry_minutes < minutes.make_safe:
                yield Breach("bad-is-made-safe-first", kind, path)
            if known.battery_word == "reacting" and path:
                yield Breach("reacting-is-left-alone", kind, path)

    def tested_wet(self, state, known, path):
        """A part is tested in the device, unless a donor tests it: not while that is or may be wet."""
        parts = self.inputs.problem.parts
        taken = self.plan.stopping.taken[:, state, 0] if parts else ()
        tested = [part.key for part, how in zip(parts, taken, strict=True) if how == 2 and not part.donor]
        if tested and self.opened_up(known).liquid_word not in ("none", "dried"):
            yield Breach("test-needs-dry", f"strip and test {', '.join(tested)}", path)

    # -- what is known afterwards --------------------------------------------
    def after(self, move, end, known) -> Known:
        kind = move.kind
        if kind == "open":
            return self.opened_up(known)
        if kind in ("look", "trace", "final-test"):
            return self.found(move, end, known)
        if kind == "battery-look":
            return replace(known, looked=True)
        if kind in ("make-safe", "take-out"):
            return replace(known, out=True)
        if kind == "repair" and end == 0:
            return self.repaired(self.inputs.repairs[move.subject], known)
        return known

    def opened_up(self, known):
        inside = {f.kind for f in self.unit.findings if 0 < f.chance < 1 and f.kind in LIQUID}
        damp = known.damp and bool(inside & self.hidden(known))
        return replace(known, opened=known.opened + 1, damp=damp)

    def hidden(self, known):
        return {key for key in self.branch.values() if key in LIQUID}

    def found(self, move, end, known):
        value, latent_fault = move.ends[end], self.inputs.problem.latent_faults[move.subject]
        key = self.branch.get((move.subject, value - 1)) if value <= len(latent_fault.chance) else None
        known = replace(known, doubts=known.doubts - {move.subject})
        if key in self.bad:
            return replace(known, battery="bad", doubts=frozenset())
        if key in DISCHARGED:
            return replace(known, discharged=True)
        if key in LIQUID - known.cleaned:  # what was cleaned off before its symptom was traced is gone
            return replace(known, wet=known.wet | {key}, damp=False)
        suspected = {f.kind for f in self.unit.findings if 0 < f.chance < 1}
        about = {k for (m, _), k in self.branch.items() if m == move.subject}
        return replace(known, damp=False) if about & LIQUID & suspected else known

    def repaired(self, repair, known):
        closed = set(repair.closes)
        if "battery" in repair.parts:
            known = replace(known, new=True, discharged=False)
        if closed & (LIQUID | LIQUID_MARK):
            known = replace(known, wet=known.wet - closed, damp=False, cleaned=known.cleaned | closed)
        return known


def first_breach(check: SafetyCheck) -> Breach | None:
    return next(check.breaches(), None)


def reachable(check: SafetyCheck) -> int:
    """How many states the plan passes through."""
    return int(np.count_nonzero(check.plan.reach > 0))
