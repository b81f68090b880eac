"""The shipped catalogue compared with the trade table, one row per damage kind."""

import pytest

from tests.domain.trade_inside import INSIDE
from tests.domain.trade_outside import OUTSIDE
from triage.domain.catalogue import load_catalogue

TABLE = INSIDE | OUTSIDE

SECOND_METHODS = {
    "port-pins-damaged": ["resolder-port", "swap-charge-board"],
    "frame-bent": ["straighten-frame", "swap-housing"],
    "paired-part-message": ["transfer-paired-chip", "authorise-paired-part"],
    "display-glass-cracked": ["swap-display", "change-display-glass"],
    "antenna-flex-torn": ["change-antenna-flex", "resolder-antenna-tab"],
    "proximity-sensor-lost": ["transfer-sensor-flex", "change-sensor-flex"],
}

# Without these a unit still works and is sold at a lower grade.
OPTIONAL = set(
    "coil-torn camera-lens-cracked camera-dead depth-sensor-fault torch-dead vibration-motor-dead "
    "sensor-flex-cut proximity-sensor-lost fingerprint-sensor-dead motion-sensor-fault side-key-dead "
    "housing-scuffed back-glass-cracked shields-missing liquid-mark-dry paired-part-message "
    "biometrics-lost".split()
)
HIDDEN = set(
    "joint-cracked board-layers-split via-broken radio-chip-fault cell-bent liquid-under-shield".split()
)
HAZARD = set("cell-swollen cell-bent cell-punctured cell-leaking".split())
SUSPECT = set("board-bent frame-bent frame-side-broken cell-deep-discharged liquid-salt-or-sugar".split())
LIQUID = set("liquid-mark-dry liquid-on-board liquid-salt-or-sugar liquid-under-shield".split())
# Board flexing is what breaks chip joints in a drop: JESD22-B111A, "excessive flexure" (read).
RAISES = {
    "board-bent": "joint-cracked board-layers-split via-broken radio-chip-fault cell-bent",
    "frame-bent": "cell-bent joint-cracked",
    "frame-side-broken": "cell-bent joint-cracked",
    "prior-repair": "joint-cracked via-broken radio-chip-fault",
    "screws-missing": "via-broken",
    "liquid-mark-dry": "liquid-under-shield",
    "liquid-on-board": "liquid-under-shield radio-chip-fault",
    "liquid-salt-or-sugar": "liquid-under-shield radio-chip-fault",
}

CATALOGUE = load_catalogue()


@pytest.mark.parametrize("slug", TABLE)
def test_a_kind_has_the_repair_parts_and_checks_of_the_trade_table(slug):
    row, kind = TABLE[slug], CATALOGUE.kinds[slug]
    assert CATALOGUE.usual_method(slug) == row.usual
    assert {check.slug for check in CATALOGUE.checks_for(slug)} == set(row.checks.split())
    repair = CATALOGUE.repairs.get(row.usual)
    shown = set(kind.cautions) | set(repair.cautions if repair else ())
    assert set(row.cautions.split()) <= shown
    if repair:
        assert set(repair.parts) == set(row.parts.split())
        assert set(row.after.split()) <= set(repair.after)
        assert set(row.verify.split()) <= set(repair.verify)


def test_the_table_holds_every_kind():
    assert set(TABLE) == set(CATALOGUE.kinds)


@pytest.mark.parametrize("slug", SECOND_METHODS)
def test_a_second_method_comes_after_the_usual_one(slug):
    assert [repair.slug for repair in CATALOGUE.repairs_for(slug)] == SECOND_METHODS[slug]


def test_a_new_housing_closes_all_damage_of_the_old_one():
    assert set(CATALOGUE.repairs["swap-housing"].closes) == set(
        "frame-bent frame-side-broken screw-boss-stripped back-glass-cracked housing-scuffed "
        "frame-antenna-line-broken".split()
    )


def test_one_new_battery_closes_every_battery_kind():
    cells = {kind.slug for kind in CATALOGUE.kind if kind.slug.startswith("cell-")}
    assert set(CATALOGUE.repairs["replace-cell"].closes) == cells


@pytest.mark.parametrize(
    ("expected", "holds"),
    [
        (OPTIONAL, lambda kind: not kind.needed),
        (HIDDEN, lambda kind: kind.hidden),
        (HAZARD, lambda kind: kind.battery == "hazard"),
        (SUSPECT, lambda kind: kind.battery == "suspect"),
        (LIQUID, lambda kind: kind.liquid),
        ({"account-locked", "identity-mismatch"}, lambda kind: kind.role == "stop"),
        ({"board-bent", "prior-repair"}, lambda kind: kind.role == "risk"),
    ],
    ids=["optional", "hidden", "hazard", "suspect", "liquid", "stop", "risk"],
)
def test_kinds_are_classed_as_the_trade_classes_them(expected, holds):
    assert {kind.slug for kind in CATALOGUE.kind if holds(kind)} == expected


def test_hidden_faults_are_raised_by_what_bends_wets_or_heats():
    assert {k.slug: set(k.raises) for k in CATALOGUE.kind if k.raises} == {
        slug: set(raised.split()) for slug, raised in RAISES.items()
    }


# Damage of one part that needs no counting beside a worse one (common practice, no source): the screen's
# glass and touch beside a dead panel, the sensors beside their cut cable, the keys beside theirs.
def test_a_worse_damage_of_the_same_part_stands_for_the_lesser():
    assert {kind.slug: set(kind.covers) for kind in CATALOGUE.kind if kind.covers} == {
        "display-panel-dead": {"display-glass-cracked", "touch-fault"},
        "touch-fault": {"display-glass-cracked"},
        "sensor-flex-cut": {"proximity-sensor-lost"},
        "side-flex-torn": {"side-key-dead"},
    }
    for kind in CATALOGUE.kind:
        for lesser in kind.covers:
            # One repair of the worse closes the lesser as well.
            assert {r.slug for r in CATALOGUE.repairs_for(kind.slug)} <= {
                r.slug for r in CATALOGUE.repairs_for(lesser)
            }


def test_what_is_cut_or_dead_is_not_transferred():
    assert {repair.slug: set(repair.spoilt_by) for repair in CATALOGUE.repair if repair.spoilt_by} == {
        "transfer-sensor-flex": {"sensor-flex-cut"},
        "transfer-paired-chip": {"display-panel-dead", "display-flex-cut"},
    }
