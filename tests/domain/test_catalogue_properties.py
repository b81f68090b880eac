"""Properties of every entry of the shipped catalogue."""

import re
from graphlib import TopologicalSorter

import pytest

from triage.domain.catalogue import load_catalogue

CATALOGUE = load_catalogue()
REPAIRS, CHECKS, KINDS = CATALOGUE.repair, CATALOGUE.check, CATALOGUE.kind
LIQUID_WORK = {r.slug for r in REPAIRS if any(CATALOGUE.kinds[k].liquid for k in r.closes)}


def slugs(entries):
    return [entry.slug for entry in entries]


@pytest.mark.parametrize("kind", KINDS, ids=slugs(KINDS))
def test_a_kind_has_work_only_where_its_role_says_so(kind):
    assert bool(CATALOGUE.repairs_for(kind.slug)) == (kind.role == "repair")


@pytest.mark.parametrize("kind", KINDS, ids=slugs(KINDS))
def test_a_kind_can_be_found_by_eye_or_by_a_check(kind):
    assert kind.seen_at in ("closed", "opened") or CATALOGUE.checks_for(kind.slug)


@pytest.mark.parametrize("kind", KINDS, ids=slugs(KINDS))
def test_a_kind_has_a_name_in_words(kind):
    assert re.fullmatch(r"[A-Z].{10,140}\.", kind.plain)
    assert len(set(kind.severities)) == 3
    assert kind.needed == (not kind.lost_function)


def test_slugs_are_plain_words():
    tables = (KINDS, REPAIRS, CHECKS, CATALOGUE.caution, CATALOGUE.verification, CATALOGUE.part)
    entries = [entry for table in (*tables, CATALOGUE.symptom, CATALOGUE.bundle) for entry in table]
    assert [e.slug for e in entries if not re.fullmatch(r"[a-z]+(-[a-z]+)*", e.slug)] == []


def test_every_check_reveals_something():
    assert [check.slug for check in CHECKS if not check.reveals] == []


def test_sharing_errors_between_checks_is_mutual():
    pairs = {(check.slug, other) for check in CHECKS for other in check.shares_error_with}
    assert pairs == {(other, check) for check, other in pairs}


def test_the_order_of_work_ends():
    order = list(TopologicalSorter({r.slug: r.after for r in REPAIRS}).static_order())
    assert len(order) == len(REPAIRS)


def test_no_unit_deadlocks_its_order_of_work():
    # With everything broken at once, each usual repair waits for the needed
    # damage that its predecessors close; a cycle there could never be worked.
    waits = {}
    for kind in KINDS:
        for repair in CATALOGUE.repairs_for(kind.slug)[:1]:
            earlier = {k for slug in repair.after for k in CATALOGUE.repairs[slug].closes}
            waits[kind.slug] = {k for k in earlier - set(repair.closes) if CATALOGUE.kinds[k].needed}
    order = list(TopologicalSorter(waits).static_order())
    assert set(order) == set(waits)


def test_no_repair_waits_for_another_method_for_the_same_damage():
    assert [
        (repair.slug, earlier)
        for repair in REPAIRS
        for earlier in repair.after
        if set(repair.closes) & set(CATALOGUE.repairs[earlier].closes)
    ] == []


def test_taking_out_a_dangerous_battery_waits_for_nothing():
    assert CATALOGUE.repairs["replace-cell"].after == ()
    assert CATALOGUE.repairs["replace-cell"].access == "opened"


@pytest.mark.parametrize("kind", [k for k in KINDS if k.battery == "hazard"], ids=lambda kind: kind.slug)
def test_a_dangerous_battery_brings_the_cell_cautions(kind):
    assert {"damaged-cell", "cell-fire", "cell-fume", "cell-tools", "cell-storage", "cell-transport"} <= set(
        kind.cautions
    )


@pytest.mark.parametrize("kind", [k for k in KINDS if k.battery == "suspect"], ids=lambda kind: kind.slug)
def test_a_suspect_battery_is_named_where_it_is_suspected(kind):
    assert "damaged-cell" in kind.cautions


@pytest.mark.parametrize(
    ("act", "cautions"),
    [
        ("heat", {"flux-fume", "cell-away-from-heat"}),
        ("warmth", {"cell-away-from-heat"}),
        ("solvent", {"alcohol"}),
        ("charge", {"charging-current", "damaged-cell", "liquid-no-power"}),
    ],
)
def test_a_hazardous_act_carries_its_caution(act, cautions):
    lacking = [(e.slug, cautions - set(e.cautions)) for e in (*REPAIRS, *CHECKS) if act in e.acts]
    assert lacking
    assert [entry for entry in lacking if entry[1]] == []


def test_heat_on_the_board_is_heat_and_warns_of_the_data():
    hot = [repair for repair in REPAIRS if repair.board_heat]
    assert hot
    assert [r.slug for r in hot if "heat" not in r.acts or "data-before-heat" not in r.cautions] == []


def test_power_comes_only_after_liquid_has_been_cleaned():
    # Deposits under a shield short the board as soon as it is powered: common practice, no source.
    powered = [r for r in REPAIRS if {"power", "charge", "bench-supply"} & set(r.acts)]
    assert powered
    assert [(r.slug, LIQUID_WORK - set(r.after)) for r in powered if not LIQUID_WORK <= set(r.after)] == []


def test_a_reading_at_the_port_is_closed_and_the_bench_supply_wants_the_battery_out():
    port, bench = CATALOGUE.checks["usb-draw-reading"], CATALOGUE.checks["bench-supply-boot-current"]
    assert port.access == "closed" and {"power", "charge"} <= set(port.acts)
    assert bench.access == "opened" and "charge" not in bench.acts
    assert "battery out" in bench.name and "bench-supply" in bench.cautions


def test_a_paired_display_part_moves_with_its_unit():
    assert {"sensor-flex", "earpiece", "front-camera"} <= set(CATALOGUE.repairs["swap-display"].moves)
    paired = {part.slug for part in CATALOGUE.part if part.paired}
    assert {"fingerprint-sensor", "depth-sensor", "battery", "rear-camera", "front-camera"} <= (
        paired & set(CATALOGUE.repairs["swap-housing"].moves)
    )


def test_what_cannot_be_undone_is_marked():
    marked = {repair.slug for repair in REPAIRS if repair.irreversible}
    assert {"rejoin-board-layers", "reball-chip", "change-back-glass", "wipe-with-proof"} <= marked
    assert "clean-board-after-liquid" not in marked  # stopping liquid damage never waits for parts


def test_a_symptom_spreads_over_damage_that_work_can_close():
    causes = {cause for symptom in CATALOGUE.symptom for cause in symptom.causes}
    assert [cause for cause in sorted(causes) if CATALOGUE.kinds[cause].role != "repair"] == []


def test_a_lifted_display_and_a_hot_one_point_at_the_battery():
    for slug in ("display-lifting", "hot-when-idle"):
        symptom = CATALOGUE.symptoms[slug]
        assert any(CATALOGUE.kinds[cause].battery == "hazard" for cause in symptom.causes)
        assert {"damaged-cell", "cell-fire"} <= set(symptom.cautions)


def test_a_bundle_belongs_to_a_cause_of_damage():
    assert {bundle.cause for bundle in CATALOGUE.bundle} == {"dropped", "bent", "wet", "crushed", "worn"}


def test_every_entry_of_the_catalogue_is_used():
    cautions = {
        c for e in (*KINDS, *REPAIRS, *CHECKS, *CATALOGUE.symptom, *CATALOGUE.step) for c in e.cautions
    }
    assert set(CATALOGUE.cautions) - cautions == set()
    asked = {line for r in REPAIRS for line in r.verify} | {
        v.slug for v in CATALOGUE.verification if v.always
    }
    assert set(CATALOGUE.verifications) - asked == set()
    # These are only taken out of a wreck: no repair fits one.
    taken_out = {"main-board", "cameras", "rest"}
    assert set(CATALOGUE.parts) - {part for r in REPAIRS for part in (*r.parts, *r.moves)} == taken_out
    assert set(CATALOGUE.zones) - {zone for kind in KINDS for zone in kind.zones} == set()
    assert set(CATALOGUE.families) == {kind.family for kind in KINDS}


def test_every_repair_ends_in_a_final_check():
    assert [repair.slug for repair in REPAIRS if not repair.verify] == []


def test_closing_repeats_the_touch_camera_charge_and_radio_checks():
    repeated = {line.slug for line in CATALOGUE.verification if line.after_sealing}
    assert {
        "touch-grid",
        "cameras",
        "attended-charge",
        "cellular-signal",
        "wireless-and-contactless",
    } <= repeated
    assert "solder-look" not in repeated
