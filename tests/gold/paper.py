"""A forecast that can be worked by hand: fixed minutes, fixed prices, one scenario.

Only the success of a repair varies, so every figure of the answer can be
reached by hand.
"""

from __future__ import annotations

import numpy as np

from triage.policy.problem.forecast import RepairForecast, UnitForecast

PATHS = 20_000


def paper_forecast(unit, catalogue, work, hidden=None, causes=None, after=None, sale=(1.0, 0.85, 0.7)):
    """Build a forecast from plain numbers.

    work : by (kind, repair): (chance, minutes when fixed, minutes when failed).
    hidden : by hidden kind: chance that it is there.
    causes : by symptom: chance of each kind.
    after : by (kind, repair): {repair that failed first: chance then}.
    """
    repairs = {}
    for (kind, repair), (chance, minutes_fixed, minutes_failed) in work.items():
        assert repair in catalogue.repairs and kind in catalogue.kinds, (kind, repair)
        severity = next((f.severity for f in unit.findings if f.kind == kind), 2)
        repairs[kind, repair] = RepairForecast(
            repair=repair,
            lead=kind,
            severity=severity,
            chance=np.array([chance]),
            minutes_fixed=np.full(PATHS, float(minutes_fixed)),
            minutes_failed=np.full(PATHS, float(minutes_failed)),
            parts_ratio=np.ones(PATHS),
            comebacks=np.zeros(PATHS),
            chance_after={k: np.array([v]) for k, v in (after or {}).get((kind, repair), {}).items()},
        )
    return UnitForecast(
        weights=np.ones(1),
        draw=np.zeros(1, dtype=int),
        path_scenario=np.zeros(PATHS, dtype=int),
        repairs=repairs,
        hidden={kind: np.array([chance]) for kind, chance in (hidden or {}).items()},
        causes=causes or {},
        sale_ratio=tuple(np.full(PATHS, share) for share in sale),
        source="paper",
    )
