"""What every state of a device is known to be, in the words of the safety rules.

Each fact is held as a place in its tuple of words, one number or an array of
them, so that a rule is asked of one state and of a hundred thousand alike.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias, get_args

import numpy as np
from numpy.typing import NDArray

# no-sign: nothing seen from outside and nothing that makes it suspect. worn: whole to look at, not to be
# charged again (deeply discharged). bad: dangerous and fitted. waiting: the bay is empty and a new cell lies
# ready, connected last. out-sound, out-safe: out of the device, sound or made safe.
Battery: TypeAlias = Literal[
    "no-sign", "suspect", "sound", "worn", "bad", "reacting", "absent", "replaced", "waiting",
    "out-sound", "out-safe",
]  # fmt: skip
Liquid: TypeAlias = Literal["none", "may-be-wet", "wet", "cleaned", "dried"]
Opened: TypeAlias = Literal["closed", "opened", "board-out", "shields-off"]
Right: TypeAlias = Literal["settled", "open", "refused"]
Places: TypeAlias = NDArray[np.intp]

BATTERY: tuple[Battery, ...] = get_args(Battery)
LIQUID: tuple[Liquid, ...] = get_args(Liquid)
OPENED: tuple[Opened, ...] = get_args(Opened)
RIGHT: tuple[Right, ...] = get_args(Right)

# Causes that deform a cell as well as a case.
DEFORMING = frozenset({"bent", "crushed"})
# The look at the cell itself; other checks that show a bad cell only make it suspect.
BATTERY_LOOK = "cell-look"


@dataclass(frozen=True)
class Facts:
    """Facts of one state or of many: places in the tuples above, all of shape (state,) or ()."""

    battery: Places
    liquid: Places
    opened: Places


def facts(battery: Battery = "no-sign", liquid: Liquid = "none", opened: Opened = "closed") -> Facts:
    """Facts of one state, from their words."""
    return Facts(
        np.asarray(BATTERY.index(battery)), np.asarray(LIQUID.index(liquid)), np.asarray(OPENED.index(opened))
    )
