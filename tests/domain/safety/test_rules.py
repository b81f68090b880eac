"""The table of safety rules: what it allows in each state, and the purpose of each rule."""

from __future__ import annotations

import numpy as np
import pytest

from triage.domain.safety.facts import BATTERY, LIQUID, Facts, facts
from triage.domain.safety.rules import ACTS, load_rules

RULES = load_rules()


def broken(acts, battery="sound", liquid="none", opened="opened"):
    return {rule.slug for rule in RULES.broken(acts, facts(battery, liquid, opened))}


@pytest.mark.parametrize("act", sorted(set(ACTS) - {"hand-back", "judge-battery"}))
def test_a_reacting_battery_forbids_every_act_but_handing_back(act):
    assert "reacting-is-left-alone" in broken([act], "reacting")


def test_handing_back_is_never_forbidden():
    # An owner's device is always returned on request, unrepaired if necessary.
    every = [broken(["hand-back"], battery, liquid) for battery in BATTERY for liquid in LIQUID]
    assert every and not any(every)


@pytest.mark.parametrize(
    ("acts", "battery", "liquid", "opened", "allowed"),
    [
        # Lint out of a port, an attended charge, a test and a sale of a device with nothing to see: as it is.
        (["closed-work"], "no-sign", "none", "closed", True),
        (["charge", "power"], "no-sign", "none", "closed", True),
        (["test", "sell"], "no-sign", "none", "closed", True),
        (["closed-work"], "suspect", "none", "closed", False),
        (["open"], "suspect", "none", "closed", True),
        (["heat"], "sound", "none", "opened", False),
        (["heat"], "out-sound", "none", "opened", True),
        (["warmth"], "sound", "none", "opened", True),
        (["press", "seal"], "no-sign", "none", "closed", False),
        (["bench-supply"], "absent", "none", "opened", True),
        (["bench-supply"], "absent", "none", "closed", False),
        (["power"], "out-sound", "none", "opened", False),
        (["charge"], "worn", "none", "opened", False),
        (["test"], "sound", "cleaned", "opened", False),
        (["test"], "sound", "dried", "opened", True),
        (["dry"], "sound", "wet", "opened", False),
        (["close"], "out-safe", "none", "opened", True),
        (["ship"], "out-safe", "none", "opened", False),
    ],
)
def test_the_rules_allow_and_forbid_what_the_trade_does(acts, battery, liquid, opened, allowed):
    assert (broken(acts, battery, liquid, opened) == set()) is allowed
    assert bool(RULES.allow(frozenset(acts), facts(battery, liquid, opened))) is allowed


def test_many_states_are_checked_at_once():
    battery = np.arange(len(BATTERY))
    many = Facts(battery, np.zeros_like(battery), np.ones_like(battery))
    one_by_one = [not broken(["heat"], word) for word in BATTERY]
    assert RULES.allow(frozenset({"heat"}), many).tolist() == one_by_one


def test_every_rule_forbids_something_and_says_why():
    for rule in RULES.rule:
        named = (rule.battery, rule.liquid, rule.opened, rule.right_to_work, rule.right_to_sell)
        assert any(named) and rule.acts and rule.why.endswith("."), rule.slug
        assert len(RULES.without(rule.slug).rule) == len(RULES.rule) - 1
