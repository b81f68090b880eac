"""The checker itself, on plans written by hand: each rule with one that breaks it and one that keeps it."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from tests.policy.safety.checker import SafetyCheck, battery_of
from tests.policy.safety.units import CATALOGUE
from triage.domain.safety.rules import ACTS, load_rules
from triage.domain.units.unit import CheckResult, Finding, Unit

RULES = load_rules()
MINUTES = SimpleNamespace(careful_look=8.0, battery_out=10.0, make_safe=12.0, strip=25.0)
OPEN, BOARD, LOOK, SAFE, OUT = "open 0", "open 1", "battery-look 0", "make-safe 0", "take-out 0"


def done(slug):
    """A repair that works."""
    return f"repair {slug}"


def check_of(slug):
    return f"check {slug}"


def hand_made(unit, trail, owned=True, spent=33.0, entry=0.0, hidden=()):
    """The check of a plan that makes some acts in turn, each with its first end, and then ends."""
    *acts, ending = trail
    repairs = [CATALOGUE.repairs[a.split()[1]] for a in acts if a.startswith("repair")]
    checks = [a.split()[1] for a in acts if a.startswith("check")]
    minutes = {"battery-look": 8.0, "make-safe": 12.0, "take-out": 10.0}
    moves = []
    for act in acts:
        kind, what = act.split()
        subject = {
            "repair": lambda w: [r.slug for r in repairs].index(w),
            "check": checks.index,
            "look": lambda w: list(hidden).index(w.removesuffix("?")),
            "final-test": lambda w: list(hidden).index(w.removesuffix("?")),
        }.get(kind, int)(what)
        ends = (2,) if what.endswith("?") else (1,)  # "?" is a look that finds nothing
        moves.append(
            SimpleNamespace(kind=kind, subject=subject, ends=ends, minutes=(minutes.get(kind, 0.0),))
        )
    problem = SimpleNamespace(
        items=[SimpleNamespace(key=k, latent_fault=i, branch=0) for i, k in enumerate(hidden)],
        latent_faults=[SimpleNamespace(key=k, chance=np.ones((2, 1))) for k in hidden],
        checks=[SimpleNamespace(key=slug) for slug in checks],
        options=[SimpleNamespace(key=r.slug) for r in repairs],
        stop_minutes=(spent, 25.0),
        parts=(),
    )
    plan = SimpleNamespace(
        act=lambda state: moves[state] if state < len(moves) else ending,
        policy=SimpleNamespace(next_state=np.arange(1, len(moves) + 2)[:, None]),
        plan_space=SimpleNamespace(space=SimpleNamespace(weight=np.ones(len(moves) + 2))),
    )
    inputs = SimpleNamespace(problem=problem, repairs=repairs, entry_minutes=entry)
    settings = SimpleNamespace(minutes=MINUTES)
    return SafetyCheck(unit, CATALOGUE, inputs, plan, settings, RULES, owned)


def unit(*kinds, battery="not-seen", **more):
    return Unit("u", "middle", tuple(Finding(k) for k in kinds), battery=battery, **more)


PLAIN, DOUBTED = unit(), unit(battery="suspect")
BAD, WET = unit("cell-swollen"), unit("liquid-on-board")
REBALL, FRAME, LINT = done("reball-chip"), done("straighten-frame"), done("clean-port")
CASES = [
    # rule, unit, a plan that breaks it, a plan that keeps it
    ("suspect-is-looked-at-first", DOUBTED, [LINT, "stop"], [OPEN, LOOK, LINT, "stop"]),
    ("bad-is-made-safe-first", BAD, [OPEN, BOARD, "stop"], [OPEN, SAFE, BOARD, "stop"]),
    ("pry-needs-no-suspicion", DOUBTED, [OPEN, done("change-main-flex"), "stop"],
     [OPEN, LOOK, done("change-main-flex"), "stop"]),
    ("warmth-needs-no-suspicion", DOUBTED, [OPEN, done("mend-own-glue-loose"), "stop"],
     [OPEN, LOOK, done("mend-own-glue-loose"), "stop"]),
    ("rework-heat-needs-the-battery-out", PLAIN, [OPEN, REBALL, "stop"], [OPEN, OUT, REBALL, "stop"]),
    ("press-needs-a-sound-battery", DOUBTED, [OPEN, FRAME, "stop"], [OPEN, LOOK, FRAME, "stop"]),
    ("closing-needs-a-sound-battery", DOUBTED, [OPEN, "finish"], [OPEN, LOOK, "finish"]),
    ("charge-needs-a-sound-battery", DOUBTED, [check_of("charge-profile"), "stop"],
     [OPEN, LOOK, check_of("charge-profile"), "stop"]),
    ("power-needs-a-sound-battery", PLAIN, [OPEN, OUT, check_of("known-good-display"), "stop"],
     [OPEN, check_of("known-good-display"), "stop"]),
    ("bench-supply-needs-the-battery-apart", PLAIN, [check_of("bench-supply-boot-current"), "stop"],
     [OPEN, check_of("bench-supply-boot-current"), "stop"]),
    ("test-needs-a-safe-battery", DOUBTED, ["finish"], [OPEN, LOOK, "finish"]),
    ("battery-is-judged-opened", PLAIN, ["final-test cell-bent?", "stop"], [OPEN, "look cell-bent?", "stop"]),
    ("take-out-after-the-look", DOUBTED, [OPEN, OUT, "stop"], [OPEN, LOOK, OUT, "stop"]),
    ("charge-needs-dry", WET, [check_of("usb-draw-reading"), "stop"],
     [OPEN, done("clean-board-after-liquid"), check_of("usb-draw-reading"), "stop"]),
    ("power-needs-dry", WET, [OPEN, check_of("known-good-display"), "stop"],
     [OPEN, done("clean-board-after-liquid"), check_of("known-good-display"), "stop"]),
    ("bench-supply-needs-dry", WET, [OPEN, check_of("short-hunt"), "stop"],
     [OPEN, done("clean-board-after-liquid"), check_of("short-hunt"), "stop"]),
    ("test-needs-dry", unit(cause="wet"), ["finish"], [OPEN, "finish"]),
    ("sale-needs-a-safe-battery", DOUBTED, ["finish"], [OPEN, LOOK, "finish"]),
    ("sale-needs-dry", unit("liquid-mark-dry"), ["finish"], [OPEN, "finish"]),
    ("strip-takes-the-battery-out-first", DOUBTED, [OPEN, "stop"], [OPEN, LOOK, "stop"]),
]  # fmt: skip


@pytest.mark.parametrize(("rule", "device", "breaks", "keeps"), CASES, ids=[case[0] for case in CASES])
def test_only_a_broken_rule_is_named(rule, device, breaks, keeps):
    hidden = ("cell-bent",) if "cell-bent" in str(breaks) else ()
    assert rule in {b.rule for b in hand_made(device, breaks, hidden=hidden).breaches()}
    assert rule not in {b.rule for b in hand_made(device, keeps, hidden=hidden).breaches()}


@pytest.mark.parametrize(
    ("device", "trail", "more", "rule"),
    [
        # A suspect device stripped as it lies must be charged the look, a bad one the making safe.
        (DOUBTED, ["stop"], {"spent": 25.0}, "strip-takes-the-battery-out-first"),
        (BAD, ["stop"], {"entry": 0.0}, "bad-is-made-safe-first"),
        # An owner's device is not put together around a bad cell, but handed back closed as it came.
        (BAD, [OPEN, "stop"], {"owned": False}, "closing-needs-a-sound-battery"),
        (DOUBTED, ["stop"], {"owned": False, "spent": 0.0}, None),
        (BAD, [OPEN, SAFE, "stop"], {"owned": False}, None),
        (BAD, ["stop"], {"entry": 12.0}, None),
    ],
)
def test_endings(device, trail, more, rule):
    found = {b.rule for b in hand_made(device, trail, **more).breaches()}
    assert found == ({rule} if rule else set())


def test_a_bad_cell_found_by_the_look_is_made_safe_before_more_work():
    straight = unit("frame-bent")
    trail = [OPEN, LOOK, "look cell-bent", BOARD, "stop"]
    assert "bad-is-made-safe-first" in {
        b.rule for b in hand_made(straight, trail, hidden=["cell-bent"]).breaches()
    }
    trail.insert(3, SAFE)
    assert not list(hand_made(straight, trail, hidden=["cell-bent"]).breaches())
    trail = [OPEN, LOOK, "look cell-bent?", BOARD, "stop"]
    assert not list(hand_made(straight, trail, hidden=["cell-bent"]).breaches())


@pytest.mark.parametrize(
    ("device", "battery"),
    [
        (unit(), "no-sign"),
        (unit(battery="sound"), "sound"),
        (unit("frame-bent"), "suspect"),
        (unit("frame-bent", battery="sound"), "sound"),
        (unit("cell-swollen", battery="sound"), "bad"),
        (Unit("u", "middle", (Finding("cell-swollen", chance=0.5),), battery="sound"), "suspect"),
        (unit(cause="crushed"), "suspect"),
        (unit(symptoms=("hot-when-idle",)), "suspect"),
        (unit(symptoms=("no-power",)), "no-sign"),
        (unit(readings=(CheckResult("cell-look", True),)), "bad"),
        (unit("frame-bent", readings=(CheckResult("cell-look", False),)), "sound"),
        (unit(readings=(CheckResult("straightness-on-flat", True),)), "suspect"),
        (unit("cell-deep-discharged", battery="sound"), "suspect"),
    ],
)
def test_the_assumed_state_of_the_battery(device, battery):
    from triage.domain.units.suspicion import battery_at_intake

    assert battery_of(device, CATALOGUE) == battery
    assert battery_at_intake(device, CATALOGUE) == battery


def test_every_rule_of_a_planned_act_has_a_case():
    unplanned = {
        "reacting-is-left-alone", "cleaned-before-dried", "sale-needs-the-right-to-sell",
        "work-needs-the-right-to-work", "no-damaged-battery-by-post",
    }  # fmt: skip
    assert {rule.slug for rule in RULES.rule} - {case[0] for case in CASES} == unplanned
    assert {act for rule in RULES.rule for act in rule.acts} == set(ACTS) - {"hand-back"}
