"""The truth of stripping: the fields of `truth.toml` on parts, on what ruins them, and on selling them."""

from __future__ import annotations

from dataclasses import dataclass

# The one entry of a kind's ruins that is no part: whether the device starts, so that its parts can be tested.
TESTING = "testing"


@dataclass(frozen=True)
class Part:
    """One part of a stripped unit.

    price : what it fetches good and tested, median, over the working price. spread : log sd.
    minutes, test_minutes : to take it out and list it; to test it as well.
    behind_board : the board has to come out first.
    """

    price: float
    spread: float
    minutes: float
    test_minutes: float
    behind_board: bool = False


@dataclass(frozen=True)
class Ruin:
    """What one kind does to one part, at severity 1, 2, 3.

    chance : that the part is ruined. left : share of its price that it fetches otherwise.
    stays : whether a repair of the damage leaves the part as it is.
    Damage of one family ruins a part by the largest of its chances; families are independent.
    """

    chance: tuple[float, float, float] = (0.0, 0.0, 0.0)
    left: tuple[float, float, float] = (1.0, 1.0, 1.0)
    stays: bool = False


@dataclass(frozen=True)
class Stripping:
    """How stopped units are stripped, and what is sold as it lies.

    start, open, board_out : bench minutes once; where it was closed; where a part is behind the board.
    minutes_sd : of all these and the parts' own, on the log scale.
    minute : what the bench wants for a minute, money, when it chooses.
    untested : share of its price that a good part fetches untested; a bad one is taken back.
    fee_share, post : of the price of each part, and money for each part sold.
    as_it_lies : what the unit as it lies fetches, over the expected worth of all its parts: from, to.
    whole_minutes, whole_post : minutes and money to sell it as it lies.
    """

    start: float
    open: float
    board_out: float
    minutes_sd: float
    minute: float
    untested: float
    fee_share: float
    post: float
    as_it_lies: tuple[float, float]
    whole_minutes: float
    whole_post: float
