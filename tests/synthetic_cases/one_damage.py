"""A shop simple enough to check by hand: average effects, only the named damage."""

from dataclasses import replace

from synthetic_cases.truth import Bundle, Truth

EVEN = (1 / 3, 1 / 3, 1 / 3)


def plain_shop(truth: Truth, bundles: list[tuple[str, ...]]) -> Truth:
    """Keep only the kinds' chances and the job effect of the truth.

    Every job has one of the bundles (a lead, then findings that are always
    there too), each as often as the others, at severities 1 to 3 alike.
    """
    bench = replace(
        truth.bench,
        walk_in=0.0,
        no_part=0.0,
        too_dear=0.0,
        other_method=0.0,
        other_method_shared=0.0,
        second_try=0.0,
        hopeless=-50.0,
        hopeless_job_effect=0.0,
        hopeless_severe=0.0,
        opening_breaks=0.0,
        repair_breaks=0.0,
        test_finds=0.0,
    )
    even = dict(tiers=(1.0,) * 4, severity=EVEN, stray=0.0)
    return replace(
        truth,
        bench=bench,
        exclusive=(),
        technicians={slug: replace(t, effect=0.0) for slug, t in truth.technicians.items()},
        tiers={slug: replace(t, effect=0.0) for slug, t in truth.tiers.items()},
        causes={slug: replace(c, effect=0.0) for slug, c in truth.causes.items()},
        kinds={slug: replace(kind, **even) for slug, kind in truth.kinds.items()},
        risks={slug: replace(risk, stray=0.0) for slug, risk in truth.risks.items()},
        hidden={slug: replace(h, base=1e-12, raised_by={}) for slug, h in truth.hidden.items()},
        bundles=tuple(
            Bundle(cause, 1.0, lead, dict.fromkeys(others, 1.0))
            for cause in truth.causes
            for lead, *others in bundles
        ),
    )
