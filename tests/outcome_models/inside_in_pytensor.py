"""The logit in a job from that of a fresh one, as plain PyTensor: slow, and without the compiled form."""

from __future__ import annotations

from typing import Any

from triage.priors.fresh_job import trapezium

STEPS = 8


def inside(fresh: Any, sd: Any, widest: float = 4.0) -> Any:
    """`m(eta, sd)` of a vector, by so many Newton steps written out, with PyTensor's own gradient."""
    import pytensor.tensor as pt

    z, weight = trapezium(widest)
    logits = fresh * pt.sqrt(1 + 0.346 * sd**2)
    for _ in range(STEPS):
        chance = pt.sigmoid(logits[:, None] + sd * z)
        mean, slope = pt.dot(chance, weight), pt.dot(chance * (1 - chance), weight)
        logits = logits - (pt.log(mean / (1 - mean)) - fresh) * mean * (1 - mean) / slope
    return logits
