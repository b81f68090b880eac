"""A hand-made answer for one device of the invented bench at Saltmarsh Lane, Ostrel."""

from __future__ import annotations

from triage.domain.catalogue import load_catalogue
from triage.domain.units.unit import Finding, Unit
from triage.policy.answer.assessment import (
    Assessment,
    CheckIdea,
    FindingChance,
    MoneyLine,
    Otherwise,
    PartFlip,
    PlanStep,
    Then,
    Verdict,
)
from triage.policy.problem.options import PartLine

# Four of twenty below zero; the sums of the lines is the margin.
DOTS = (-88.0, -61.0, -40.0, -3.0, *(6.0 + 9.0 * k for k in range(16)))
LINES = (
    MoneyLine("sale", 250.0, "16 in 20 end up working"),
    MoneyLine("purchase price", -60.0),
    MoneyLine("parts", -81.5),
    MoneyLine("bench time", -60.25, "95 min"),
)


def one_answer(**changes) -> Assessment:
    """A dropped handset worth taking; `changes` replace fields."""
    catalogue = load_catalogue()
    careful = tuple(catalogue.cautions[slug] for slug in ("damaged-cell", "ownership-first"))
    display = PartLine("display", 74.0, False, False, (1.0, 2.0, 3.0), 0.035, "refurbished panel")
    steps = (
        PlanStep("ownership", cautions=careful[1:]),
        PlanStep("open", minutes=12.0, cautions=careful[:1]),
        PlanStep(
            "repair", "change-antenna-flex", 25.0, 0.85, Otherwise(Then.STOP), True, (), (),
            (catalogue.verification[0],),
        ),
        PlanStep(
            "repair", "swap-display", 18.0, 0.97, Otherwise(Then.REPAIR, "swap-housing"), False, (display,)
        ),
        PlanStep("verify", minutes=20.0),
    )  # fmt: skip
    values = {
        "unit": Unit("Dropped handset", "upper", (Finding("display-glass-cracked", 3),)),
        "route": "buy",
        "currency": "EUR",
        "price": 60.0,
        "verdict": Verdict.TAKE,
        "sentence": "At €60.00 it meets your rule.",
        "limit": 71.25,
        "limit_words": "highest price that meets your rule",
        "expected_margin": 48.25,
        "losses_in_20": 4,
        "dots": DOTS,
        "fine_dots": DOTS,
        "minutes": 95.0,
        "margin_per_hour": 30.5,
        "chance_finished": 0.8,
        "stops_at_once": False,
        "steps": steps,
        "findings": (
            FindingChance("display-glass-cracked", "display glass cracked", 3, 1.0, "Replace the display",
                          0.97, 0.93, 0.99, 46, 44, False, "seen"),
            FindingChance("board-bent", "board bent", 2, 0.3, "", 0.0, 0.0, 0.0, 0, 0, True, "hidden"),
        ),
        "lines": LINES,
        "checks": (CheckIdea("look", "Look along the frame", 3.0, 14.0, ("frame-bent",)),),
        "flips": (PartFlip("display", 74.0, 112.5, False), PartFlip("battery", 9.0, None, True)),
        "first_cautions": careful,
        "notes": ("The chances hold for devices like those this shop has taken on.",),
        "ready_days": (2.0, 3.0),
        "source": "an invented record",
    }  # fmt: skip
    return Assessment(**{**values, **changes})
