"""Every label may be reworded: verdict, prices, steps and stop point stay as they are.

All names of the catalogue and all texts from the wording functions and tables are reversed and mixed with
the separators at which code once split texts. Only text may change, and no text is cut.
"""

from __future__ import annotations

import importlib
import inspect
import pkgutil
import sys
from dataclasses import fields, is_dataclass, replace

import pytest

from tests.gold.paper import paper_forecast
from tests.gold.paper_shop import paper_shop
from triage import domain, policy
from triage.domain.catalogue_entries import Caution, VerificationLine
from triage.domain.units.unit import Finding, Ownership, Unit
from triage.policy.answer.assessment import Assessment, CheckIdea, FindingChance, Left, MoneyLine, Verdict
from triage.policy.answer.quote import BenchFigures, FittedPart, Offer, WorkLine
from triage.policy.problem.normalise import normalise
from triage.reports import wording
from triage.reports.wording import plan
from triage.workflows.answers.assess import assess
from triage.workflows.answers.quote import quote_unit

# What a text was once cut at, stripped of or known by, around and inside the words.
DRESSED = "Invented Look: {}; transfer: x: likely y. final open trace, take it"
NAMED = {"name", "plain", "title", "lines", "limit", "lost_function", "severities", "result_words"}
# Fields that hold text for people; everything else must stay as it is.
TEXT = {
    Assessment: {"sentence", "limit_words", "notes", "source", "priced_by"},
    FindingChance: {"name", "repair"},
    CheckIdea: {"name"},
    Left: {"name"},
    MoneyLine: {"label", "note"},
    Caution: {"title", "lines", "source"},
    VerificationLine: {"name", "limit", "source"},
    Offer: {"possible", "lost", "carried_over"},
    WorkLine: {"wrong", "done"},
    FittedPart: {"name"},
    BenchFigures: {"notes", "priced_by"},
}
SCREEN = {("display-panel-dead", "swap-display"): (0.95, 30, 30)}
HOPELESS = {("display-panel-dead", "swap-display"): (0.1, 90, 90)}
JOINT = SCREEN | {("joint-cracked", "reball-chip"): (0.5, 90, 90)}
MENDED = Unit("mended before", "middle", (Finding("prior-repair"), Finding("display-panel-dead")))
DEAD = {
    ("cell-deep-discharged", "replace-cell"): (1.0, 20, 20),
    ("power-key-flex-cut", "change-power-key-flex"): (0.9, 40, 40),
    ("main-rail-short", "clear-main-rail-short"): (0.5, 60, 60),
}
BENT = {
    ("frame-bent", "straighten-frame"): (0.8, 60, 60),
    ("cell-bent", "replace-cell"): (1.0, 30, 30),
}
CAUSES = {"no-power": {"cell-deep-discharged": 0.34, "power-key-flex-cut": 0.3, "main-rail-short": 0.26}}
OWNER = Ownership(lock="locked-to-owner", proof_recorded=True)
LOCKED = Ownership(lock="locked-to-another")
BOOT = ("bench-supply-boot-current",)
# Most by a kind of step at which the plan may stop: unit, work, asking price (None: an owner's), checks,
# what else is told.
CASES = {
    "repair": (Unit("a", "middle", (Finding("display-panel-dead"),)), SCREEN, 30, (), {}),
    "trace": (
        Unit("b", "middle", symptoms=("no-power",)), DEAD, 30, ("usb-draw-reading",), {"causes": CAUSES},
    ),
    "check": (MENDED, JOINT, 5, BOOT, {"hidden": {"joint-cracked": 0.35}}),
    "look": (MENDED, JOINT, 15, (), {"hidden": {"joint-cracked": 0.25}}),
    "cell-look": (
        Unit("c", "middle", (Finding("frame-bent"),), cause="bent"), BENT, 20, (),
        {"hidden": {"cell-bent": 0.2}},
    ),
    "owner": (
        Unit("d", "middle", (Finding("display-panel-dead"), Finding("account-locked")), ownership=OWNER),
        SCREEN, None, (), {},
    ),
    "refused": (replace(MENDED, ownership=LOCKED), SCREEN, 10, (), {}),
    "doubted": (replace(MENDED, ownership=Ownership(lock="cannot-tell")), SCREEN, 10, (), {}),
    "parts": (Unit("e", "middle", (Finding("display-panel-dead"),)), HOPELESS, 10, (), {}),
}  # fmt: skip


def dressed(text):
    return DRESSED.format(text[::-1]) if text else text


def all_dressed(value):
    if isinstance(value, str) and not isinstance(value, Verdict):
        return dressed(value)
    if isinstance(value, tuple | list):
        return type(value)(map(all_dressed, value))
    return value


def reworded_catalogue(value):
    """The same catalogue with every name, title and word reversed; slugs stay."""
    if isinstance(value, tuple):
        return tuple(map(reworded_catalogue, value))
    if not is_dataclass(value):
        return value
    return replace(
        value,
        **{
            item.name: (all_dressed if item.name in NAMED else reworded_catalogue)(getattr(value, item.name))
            for item in fields(value)
        },
    )


def modules_of(package):
    found = pkgutil.walk_packages(package.__path__, f"{package.__name__}.")
    return [importlib.import_module(module.name) for module in found]


def says(function):
    """Whether it is one of our functions that makes text."""
    return inspect.isfunction(function) and function.__annotations__.get("return") in (
        "str", "list[str]", "tuple[str, ...]", "tuple[str, str]",
    )  # fmt: skip


def wrapped(function):
    return lambda *given, **named: all_dressed(function(*given, **named))


@pytest.fixture
def reword(monkeypatch):
    """Alter, from now on, every text from a wording function or table."""

    def change():
        words = modules_of(wording)
        counted = [m for m in (*modules_of(domain), *modules_of(policy)) if m.__name__.endswith(
            ("money", "counts", "durations", "answer.verdict")
        )]  # fmt: skip
        spoken = {f for m in (*words, *counted) for f in vars(m).values() if says(f)}
        for module in [m for name, m in sys.modules.items() if name.startswith("triage.")]:
            for name, value in list(vars(module).items()):
                if inspect.isfunction(value) and value in spoken:
                    monkeypatch.setattr(module, name, wrapped(value))
        for module in words:
            for table in [t for t in vars(module).values() if isinstance(t, dict)]:
                for key, value in table.items():
                    if isinstance(value, str):
                        monkeypatch.setitem(table, key, dressed(value))

    return change


def answered(case, reworded=False):
    """The answer, and the catalogue it was made with."""
    unit, work, ask, checks, more = CASES[case]
    shop = paper_shop(None, checks)
    if reworded:
        shop = replace(shop, catalogue=reworded_catalogue(shop.catalogue))
    unit = normalise(unit, shop.catalogue)
    forecast = paper_forecast(unit, shop.catalogue, work, **more)
    return assess(unit, shop, ask, ask is None, forecast), shop.catalogue


def without_text(value):
    if isinstance(value, tuple | list):
        return [without_text(item) for item in value]
    if not is_dataclass(value):
        return value
    kept = [item.name for item in fields(value) if item.name not in TEXT.get(type(value), ())]
    return {name: without_text(getattr(value, name)) for name in kept}


@pytest.mark.parametrize("case", CASES)
def test_an_answer_stays_when_every_label_is_reworded(case, reword):
    before, plain = answered(case)
    said = plan.stop_words(before, plain)
    reword()
    after, catalogue = answered(case, reworded=True)
    assert without_text(after) == without_text(before)
    assert plan.stop_words(after, catalogue) != said
    assert all(now.name != was.name for now, was in zip(after.findings, before.findings, strict=True))


@pytest.mark.parametrize("case", ["repair", "trace", "check", "look", "cell-look"])
def test_the_stop_point_and_the_first_check_print_the_whole_name(case):
    told, catalogue = answered(case, reworded=True)
    stop = next(step for step in told.steps if step.kind == case and step.stop_point)
    told = replace(told, steps=(stop,), checks=(), verdict=Verdict.TAKE)
    named = {
        "repair": catalogue.repairs, "trace": catalogue.symptoms, "check": catalogue.checks,
        "look": catalogue.kinds, "cell-look": catalogue.kinds,
    }[case][stop.subject].name  # fmt: skip
    assert named in plan.stop_words(told, catalogue)
    if case != "repair":
        assert named in plan.first_check_words(told, catalogue)


@pytest.mark.parametrize(
    "kind",
    ["fixed", *(pytest.param(k, marks=pytest.mark.slow) for k in ("diagnostic-fee", "staged"))],
)
def test_a_quote_stays_when_every_label_is_reworded(kind, reword):
    shop = paper_shop()
    work = SCREEN | {("camera-dead", "change-camera"): (0.8, 15, 15)}
    unit = Unit(
        "owner's", "middle", (Finding("display-panel-dead"), Finding("camera-dead", chance=0.4)),
        ownership=OWNER, working_price=600.0,
    )  # fmt: skip

    def quoted(shop):
        known = normalise(unit, shop.catalogue)
        forecast = paper_forecast(known, shop.catalogue, work)
        told = quote_unit(known, shop, kind, number="1", forecast=forecast)
        return told.offer, told.bench

    before = quoted(shop)
    reword()
    after = quoted(replace(shop, catalogue=reworded_catalogue(shop.catalogue)))
    assert without_text(after) == without_text(before)
    assert after[0].work != before[0].work
