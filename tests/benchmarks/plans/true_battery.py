"""The battery in one play: what is known about it, and the bench minutes for its safety.

Minutes come from the shop's settings and the acts that are really done, never from the
moves of the plan. An act that contradicts what is known of the battery fails here. Only
bought units are played.
"""

from __future__ import annotations

from dataclasses import dataclass

from triage.domain.shop.settings import Settings
from triage.policy.solver.state_space import MoveKind


@dataclass
class TrueBattery:
    """One battery, at intake and now.

    start : the battery at intake, in the terms of the safety facts.
    looked : a suspect one was looked at. out : it is out of the device, bad or good.
    """

    settings: Settings
    start: str
    looked: bool = False
    out: bool = False

    def act(self, kind: MoveKind, opened: bool, known_bad: bool) -> float:
        """Do an act of the plan on the battery; returns its bench minutes.

        Parameters
        ----------
        known_bad : whether a bad cell was found in it, at intake or since, and not replaced.
        """
        assert opened, "a battery is seen, made safe or taken out in an opened device only"
        if kind is MoveKind.BATTERY_LOOK:
            assert self.start == "suspect" and not self.looked and not known_bad
            self.looked = True
            return self.settings.minutes.careful_look
        if kind is MoveKind.MAKE_SAFE:
            assert known_bad, "a battery is made safe that nobody found to be bad"
            return self.make_safe()
        assert kind is MoveKind.TAKE_OUT and not known_bad
        assert self.seen, "a suspect battery is taken out before anybody looked at it"
        minutes = 0.0 if self.out else self.settings.minutes.battery_out
        self.out = True
        return minutes

    @property
    def seen(self) -> bool:
        """Whether the battery can be judged, once the device is open."""
        return self.looked or self.start != "suspect"

    def make_safe(self) -> float:
        """Minutes to take it out, insulate and box it; a battery bad at intake is charged there."""
        minutes = 0.0 if self.out or self.start == "bad" else self.settings.minutes.make_safe
        self.out = True
        return minutes

    def before_strip(self, truly_bad: bool) -> float:
        """Minutes until the device can be stripped: a suspect battery is seen first, a bad one made safe.

        Parameters
        ----------
        truly_bad : whether there is a bad cell in it, known or not.
        """
        minutes = 0.0 if self.seen else self.settings.minutes.careful_look
        self.looked = True
        return minutes + (self.make_safe() if truly_bad else 0.0)
