"""A scored lot as a JSON object and back, for work that is done in another process."""

from __future__ import annotations

import base64
import zlib
from dataclasses import asdict, replace
from typing import Any

import numpy as np

from triage.domain.units.lot import BadRow
from triage.errors import Fault
from triage.lot_selection.scored_lot import ScoredLot
from triage.policy.answer.assessment import Verdict

# Numbers of `margin_draws` that are kept: a larger lot keeps fewer of its draws, evenly spaced.
MOST_NUMBERS = 2_000_000
_ARRAYS = (
    "prices", "margins", "minutes", "highest_bids", "loss_chances", "margin_draws", "luck_variances",
    "parts_margins",
)  # fmt: skip
# Columns that older answers lack.
_MAYBE = ("priced_by", "limited_by")


def packed(lot: ScoredLot) -> dict[str, Any]:
    """Write a lot as an object; draws in single precision."""
    units, draws = lot.margin_draws.shape
    kept = max(1, min(draws, MOST_NUMBERS // max(units, 1)))
    if kept < draws:
        by_draw = lot.margin_draws[:, np.linspace(0, draws - 1, kept).round().astype(int)]
        # What is not known is thinned; what is expected stays.
        lot = replace(
            lot, margin_draws=by_draw + (lot.margins - by_draw.mean(axis=1))[:, None]
        )  # fmt: skip
    told: dict[str, Any] = {name: _written(getattr(lot, name)) for name in _ARRAYS}
    told |= {name: list(getattr(lot, name)) for name in ("labels", "tiers", "verdicts", *_MAYBE)}
    return {**told, "bad_rows": [asdict(row) for row in lot.bad_rows], "currency": lot.currency}


def unpacked(told: dict[str, Any]) -> ScoredLot:
    """Read what `packed` wrote."""
    columns: dict[str, Any] = {name: _read(told[name]) for name in _ARRAYS}
    columns |= {name: tuple(told[name]) for name in ("labels", "tiers")}
    columns |= {name: tuple(told.get(name, ())) for name in _MAYBE}
    columns["verdicts"] = tuple(map(Verdict, told["verdicts"]))
    return ScoredLot(
        **columns,
        bad_rows=tuple(
            BadRow(**{**row, "faults": tuple(Fault(**fault) for fault in row["faults"])})
            for row in told["bad_rows"]
        ),
        currency=told["currency"],
    )


def _written(array: np.ndarray) -> dict[str, Any]:
    kind = "<f4" if array.ndim > 1 else "<f8"
    data = zlib.compress(np.ascontiguousarray(array, dtype=kind).tobytes(), 1)
    return {"shape": list(array.shape), "kind": kind, "data": base64.b64encode(data).decode("ascii")}


def _read(told: dict[str, Any]) -> np.ndarray:
    data = zlib.decompress(base64.b64decode(told["data"]))
    return np.frombuffer(data, dtype=told["kind"]).reshape(told["shape"]).astype(float)
