"""A row of the trade table, and terms that many rows share."""

from typing import NamedTuple


class Row(NamedTuple):
    """What a technician expects for one kind; slugs are separated by spaces.

    usual, parts, checks : exactly these.
    after, cautions, verify : at least these; cautions of the kind or its usual repair.
    """

    usual: str
    parts: str = ""
    after: str = ""
    cautions: str = ""
    checks: str = ""
    verify: str = ""


CLEANING = "open-dry-and-look clean-board-after-liquid clean-under-shields"
BOARD_AFTER = CLEANING + " clear-main-rail-short"
HOT = "data-before-heat hot-air-and-iron flux-fume cell-away-from-heat"
BAD_CELL = "damaged-cell cell-fire cell-fume cell-tools cell-storage cell-transport"
BENCH = "bench-supply-boot-current"
FRAME = "straighten-frame swap-housing"
FIT_AFTER = FRAME + " reseat-connector change-board-connector rejoin-board-layers"
LIQUID_LOOK = "short-hunt microscope-look"
CHARGING = "first-charge-attended charging-current"
