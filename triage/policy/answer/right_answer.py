"""What the answer says of an open right to sell: the questions, and what settling them first is worth."""

from __future__ import annotations

from dataclasses import dataclass

from triage.policy.pricing.right_to_sell import SettlingFirst
from triage.policy.problem.open_right import OpenRight, Settled, Topic, Way


@dataclass(frozen=True)
class RightQuestion:
    """One open question about the right to sell a device.

    clear : chance that it comes out clear.
    settled, way : how early it can be settled, and how. minutes, fee : what that takes.
    worth : expected money that settling it before paying adds, cost included; None where it cannot be.
    """

    topic: Topic
    clear: float
    settled: Settled
    way: Way
    minutes: float
    fee: float
    worth: float | None


@dataclass(frozen=True)
class RightAnswer:
    """What is open of the right to sell a device.

    clear : chance that all of it comes out clear.
    first : question to settle before paying; None where none is worth it, or none can be.
    gain : expected money that the best order of settling adds to deciding at once.
    price_back : share of the price that the supplier pays back when the right is refused.
    bars_stripping : whether it may not be stripped unless it works.
    """

    clear: float
    questions: tuple[RightQuestion, ...]
    first: Topic | None
    gain: float
    price_back: float
    bars_stripping: bool

    @property
    def before_paying(self) -> bool:
        """Whether anything that is open can be settled before paying."""
        return any(one.settled == "before-paying" for one in self.questions)


def right_answer(right: OpenRight, first: SettlingFirst) -> RightAnswer:
    """Put the open questions side by side."""
    rows = tuple(
        RightQuestion(
            one.topic, one.clear, one.settled, one.way, one.minutes, one.fee, first.worth.get(one.topic)
        )
        for one in right.questions
    )
    return RightAnswer(right.clear, rows, first.first, first.gain, right.price_back, right.bars_stripping)
